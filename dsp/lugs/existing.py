"""The chart of switches that are soldered already: what is on each lug, what each position joins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from dsp.circuit.meter import jack_reading_ohm
from dsp.facts.position import position_facts
from dsp.lugs.chart import poles_of
from dsp.parts.kind import Terminal
from dsp.parts.kinds import switches_of
from dsp.parts.switch import Switch
from dsp.units import show
from dsp.wiring.model import Wiring


@dataclass(frozen=True)
class WiredPosition:
    """A position of a switch.

    Attributes
    ----------
    contacts : tuple of tuple of str
        The lugs that it joins, of those that are soldered to something.
    label, sound, reading : str
        Of the selector, with every other switch at rest and every knob at 10; else empty.
    """

    position: str
    contacts: tuple[tuple[str, ...], ...]
    label: str = ""
    sound: str = ""
    reading: str = ""


@dataclass(frozen=True)
class WiredSwitch:
    """A switch as it is soldered.

    Attributes
    ----------
    lugs : mapping of str to tuple of Terminal
        Per lug with solder, the terminals in its joint besides the switch's own name for it.
    poles : int
        Poles with a soldered lug.
    """

    name: str
    selects: bool
    lugs: Mapping[str, tuple[Terminal, ...]]
    poles: int
    positions: tuple[WiredPosition, ...]


def wired_switches(wiring: Wiring) -> tuple[WiredSwitch, ...]:
    """Return every switch of a wiring as it is soldered, the selector first."""
    found = sorted(switches_of(wiring.parts).items(), key=lambda one: one[0] != wiring.selector)
    return tuple(_wired(wiring, name, switch) for name, switch in found)


def _wired(wiring: Wiring, name: str, switch: Switch) -> WiredSwitch:
    lugs = {
        lug: tuple(other for other in joint.terminals if other != (name, lug))
        for lug in switch.lugs
        for joint in wiring.joints
        if (name, lug) in joint.terminals and len(joint.terminals) > 1
    }
    poles = sum(any(lug in lugs for lug in pole) for pole in poles_of(switch))
    selects = name == wiring.selector
    rows = _selected(wiring, switch, lugs) if selects else _resting(switch, lugs)
    return WiredSwitch(name, selects, lugs, poles, tuple(rows))


def _resting(switch: Switch, lugs: Mapping[str, object]) -> Iterator[WiredPosition]:
    for position, groups in switch.contacts.items():
        joined = (tuple(lug for lug in group if lug in lugs) for group in groups)
        yield WiredPosition(position, tuple(group for group in joined if len(group) > 1))


def _selected(wiring: Wiring, switch: Switch, lugs: Mapping[str, object]) -> Iterator[WiredPosition]:
    rows = {row.position: row for row in _resting(switch, lugs)}
    settings = [wiring.setting(position) for position in rows]
    facts = position_facts(wiring, settings) if wiring.coils else ()
    for row, setting, fact in zip(rows.values(), settings, facts, strict=bool(facts)):
        ohm = jack_reading_ohm(wiring, setting)
        yield WiredPosition(
            row.position,
            row.contacts,
            wiring.labels.get(row.position, ""),
            fact.joined or "no coil",
            "open" if ohm == float("inf") else show(ohm, "resistance"),
        )
