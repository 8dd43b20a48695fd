"""The states of a wiring that findings examine, and the conditions under which a finding holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np

from dsp.circuit.hum import HUM_HZ
from dsp.circuit.reduction import Complex
from dsp.circuit.response import respond
from dsp.facts.findings.structure import Structure, structure_of
from dsp.parts.kinds import positioned_of
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, Network, build_network

MOST_STATES = 256
"""Largest number of states examined. Beyond it, the other switches move one at a time."""
LOOK_HZ = np.concatenate([HUM_HZ, np.geomspace(400.0, 18_000.0, 24)])


@dataclass(frozen=True)
class State:
    """One state of the switches, with every knob at 10.

    Attributes
    ----------
    shape : tuple of int
        Node of each lead. Equal for states with the same network.
    coil : ndarray, shape (n_coils, n_freqs)
        Responses at `LOOK_HZ`.
    """

    setting: Setting
    structure: Structure
    shape: tuple[int, ...]
    coil: Complex

    @property
    def silent(self) -> bool:
        """Whether no coil reaches the output."""
        return not np.any(self.coil)


def states_of(wiring: Wiring) -> list[State]:
    """Return each position with each setting of the other switches."""
    others = {name: places for name, places in wiring.stands.items() if positioned_of(wiring.parts[name])}
    names = list(others)
    stands = [others[name] for name in names]
    if len(wiring.positions) * prod(map(len, stands)) <= MOST_STATES:
        combined = list(product(*stands))
    else:
        first = tuple(stand[0] for stand in stands)
        combined = [first]
        for i, stand in enumerate(stands):
            combined += [(*first[:i], other, *first[i + 1 :]) for other in stand[1:]]
    settings = [
        wiring.setting(position, {}, dict(zip(names, stand, strict=True)))
        for position in wiring.positions
        for stand in combined
    ]
    coil = respond(wiring, settings, LOOK_HZ).coil
    networks = [build_network(wiring, setting) for setting in settings]
    return [
        State(setting, structure_of(network), _shape(network), coil[i])
        for i, (setting, network) in enumerate(zip(settings, networks, strict=True))
    ]


def _shape(network: Network) -> tuple[int, ...]:
    """Return the node of each lead, numbered in order of appearance."""
    leads = [GROUND, network.output]
    leads += [node for branch in network.branches for node in (branch.a, branch.b)]
    leads += [node for segment in network.segments for node in (segment.a, segment.b)]
    numbers: dict[int, int] = {}
    return tuple(numbers.setdefault(node, len(numbers)) for node in leads)


def primary_states(wiring: Wiring, states: Iterable[State]) -> list[State]:
    """Return the states with every other switch in its first position."""
    first = {name: places[0] for name, places in wiring.stands.items()}
    return [state for state in states if state.setting.switches == first]


def positions_of(states: Iterable[State]) -> tuple[str, ...]:
    """Return the selector positions of some states, without duplicates."""
    return tuple(dict.fromkeys(state.setting.position for state in states))


def line_of(wiring: Wiring, part: str | None) -> int:
    """Return a part's line in its file, or 0 if it has none."""
    return wiring.lines.get(part or "", 0)


def condition_of(hit: list[State], states: list[State]) -> str:
    """Return the settings of the other switches in which a finding holds.

    Parameters
    ----------
    hit : list of State
        States in which it holds.
    states : list of State
        All states.

    Returns
    -------
    str
        Empty if it holds in all settings.
    """
    where = set(positions_of(hit))
    among = [state for state in states if state.setting.position in where]
    stands: dict[str, list[str]] = {}
    for switch in hit[0].setting.switches:
        holding = list(dict.fromkeys(state.setting.switches[switch] for state in hit))
        if len(holding) < len({state.setting.switches[switch] for state in among}):
            stands[switch] = holding
    if sum(_holds_in(state, stands) for state in among) > len(hit):  # no plain list describes the hits
        moved = [s for s in hit[0].setting.switches if len({one.setting.switches[s] for one in among}) > 1]
        return f"in some positions of {' and '.join(moved)} together"
    found = [f"{switch} at {' or '.join(holding)}" for switch, holding in stands.items()]
    return f"with {' and '.join(found)}" if found else ""


def _holds_in(state: State, stands: Mapping[str, list[str]]) -> bool:
    return all(state.setting.switches[switch] in holding for switch, holding in stands.items())


def group_by_condition(
    hit: list[State], states: list[State]
) -> Iterator[tuple[tuple[str, ...], str, list[State]]]:
    """Yield the positions that share a condition for a finding.

    Parameters
    ----------
    hit : list of State
        States in which it holds.
    states : list of State
        All states.

    Yields
    ------
    positions : tuple of str
    condition : str
        As `condition_of` returns it.
    among : list of State
        States of ``hit`` that the condition covers.
    """
    grouped: dict[str, list[State]] = {}
    for position in positions_of(hit):
        here = [state for state in hit if state.setting.position == position]
        grouped.setdefault(condition_of(here, states), []).extend(here)
    for when, among in grouped.items():
        yield positions_of(among), when, among
