"""Findings about the way from one position to the next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from dsp.facts.findings.states import line_of
from dsp.facts.findings.table import Finding
from dsp.parts.kinds import SwitchPart, switches_of
from dsp.parts.switch import SHORTING
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, Network, build_network
from dsp.wiring.passage import combined_contacts, common_contacts
from dsp.wiring.reach import find_reaching_coils

SHORTED, SILENT = "shorted between positions", "silent between positions"
WORDS = {True: "makes before it breaks", False: "breaks before it makes"}


def find_passages(wiring: Wiring) -> Iterator[Finding]:
    """Yield what a switch of known timing does between positions alone."""
    for name, switch in switches_of(wiring.parts).items():
        if not switch.timing:
            continue
        places: dict[str, list[str]] = {SHORTED: [], SILENT: []}
        for move in pairwise(switch.positions):
            for before, after in ends_of_move(wiring, name, move):
                rest = [state_of(build_network(wiring, setting)) for setting in (before, after)]
                what = state_of(build_network(on_the_way(wiring, name, switch, move), before))
                said = " and ".join(move)
                if what and what not in rest and said not in places[what]:
                    places[what].append(said)
        for what, between in places.items():
            if between:
                detail = f"{WORDS[switch.timing == SHORTING]}, between {', '.join(between)}"
                yield Finding(what, (name,), (), line_of(wiring, name), detail)


def ends_of_move(wiring: Wiring, name: str, move: tuple[str, str]) -> Iterator[tuple[Setting, Setting]]:
    """Yield settings before and after a move, other switches in their first."""
    if name == wiring.selector:
        yield wiring.setting(move[0]), wiring.setting(move[1])
        return
    for position in wiring.positions:
        yield wiring.setting(position, {}, {name: move[0]}), wiring.setting(position, {}, {name: move[1]})


def on_the_way(wiring: Wiring, name: str, switch: SwitchPart, move: tuple[str, str]) -> Wiring:
    """Return the wiring with the contacts of a move in the position before."""
    way = combined_contacts if switch.timing == SHORTING else common_contacts
    between = replace(switch, contacts={move[0]: way(switch, *move)})
    return replace(wiring, parts={**wiring.parts, name: between})


def state_of(network: Network) -> str:
    """Return what is wrong with a network; empty if a coil is heard."""
    if network.output == GROUND:
        return SHORTED
    return "" if any(find_reaching_coils(network)) else SILENT
