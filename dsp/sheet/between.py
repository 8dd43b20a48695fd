"""What happens between two positions of a switch: one line for each kind of event, the worst first.

A switch of unknown timing is tried both ways: its contacts open first, or close first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isinf

from dsp.circuit.meter import jack_reading_ohm
from dsp.facts.findings.passage import SHORTED, SILENT, ends_of_move, on_the_way, state_of
from dsp.parts.kinds import SwitchPart, switches_of
from dsp.parts.switch import NON_SHORTING, SHORTING
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import build_network

OPEN = "input left open"
EVENTS: dict[str, str] = {
    OPEN: "nothing holds the output to ground: a loud pop. Fit a resistor of some megohms from tip to sleeve",
    SILENT: "no coil is heard: a moment of silence, perhaps a click",
    SHORTED: "tip and sleeve are joined: a moment of silence, perhaps a click",
}
"""Kinds of event, the worst first."""
TIMINGS: dict[str, str] = {NON_SHORTING: "opens before it closes", SHORTING: "closes before it opens"}


@dataclass(frozen=True)
class Event:
    """What one kind of event does, and where.

    Attributes
    ----------
    kind : str
        Key of `EVENTS`.
    moves : tuple of (str, str, str)
        Switch, and the positions before and after.
    timings : tuple of str
        Keys of `TIMINGS` for which it happens, and an empty text if the file states a switch's timing.
    """

    kind: str
    moves: tuple[tuple[str, str, str], ...]
    timings: tuple[str, ...]

    def text(self) -> str:
        """Return the event as a sentence."""
        only = TIMINGS.get(self.timings[0], "") if len(self.timings) == 1 else ""
        condition = f"if the switch {only}, " if only else ""
        names = dict.fromkeys(name for name, _, _ in self.moves)
        where = "; ".join(
            f"{name} {', '.join(f'{a}–{b}' for one, a, b in self.moves if one == name)}" for name in names
        )
        return f"Between {where}: {condition}{EVENTS[self.kind]}."


def find_events(wiring: Wiring) -> tuple[Event, ...]:
    """Return what happens between neighbouring positions, the worst first."""
    found: dict[str, dict[tuple[str, str, str], None]] = {kind: {} for kind in EVENTS}
    timings: dict[str, dict[str, None]] = {kind: {} for kind in EVENTS}
    for name, switch in switches_of(wiring.parts).items():
        for timing in (switch.timing,) if switch.timing else TIMINGS:
            tried = replace(switch, timing=timing)
            for a, b in pairwise(switch.positions):
                for kind in _kinds_of(wiring, name, tried, (a, b)):
                    found[kind][name, a, b] = None
                    timings[kind][timing if not switch.timing else ""] = None
    return tuple(Event(kind, tuple(moves), tuple(timings[kind])) for kind, moves in found.items() if moves)


def _kinds_of(wiring: Wiring, name: str, switch: SwitchPart, move: tuple[str, str]) -> Iterator[str]:
    between = on_the_way(wiring, name, switch, move)
    for before, after in ends_of_move(wiring, name, move):
        rest = [state_of(build_network(wiring, setting)) for setting in (before, after)]
        what = state_of(build_network(between, before))
        if what and what not in rest:
            yield _silence(between, before) if what == SILENT else what


def _silence(wiring: Wiring, setting: Setting) -> str:
    """Return why nothing is heard; a knob at 10 may short the output, too."""
    ohm = jack_reading_ohm(wiring, setting)
    if isinf(ohm):
        return OPEN
    return SILENT if ohm else SHORTED
