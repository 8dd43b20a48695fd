"""What a drawing shows of a wiring, whatever its setting."""

from __future__ import annotations

from typing import Any

from dsp.drawing.looks import switch_look, switch_poles
from dsp.drawing.networks import network_record
from dsp.parts.expression import format_expression
from dsp.parts.jack import SLEEVE
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import SwitchPart, kind_of, positioned_of, switches_of, terminals_of
from dsp.sounds.useful import find_pickups
from dsp.units import show
from dsp.wiring.drawn import places_of, runs_of
from dsp.wiring.model import Wiring

USUAL_STRINGS = 6
"""Strings that are drawn where the file names none."""


def terminal_text(terminal: Terminal) -> str:
    """Return a terminal as a wiring file writes it, such as ``volume.3``."""
    return ".".join(terminal)


def wiring_record(wiring: Wiring) -> dict[str, Any]:
    """Return parts, pickups and joints as plain values, ready for JSON.

    Returns
    -------
    dict
        ``housings`` lists the coils of each pickup, the ones nearest to the neck first. ``ground`` is
        the index of the joint with the output's sleeve, or -1. ``places`` and ``runs`` are what the
        file wishes for, without what names nothing here.
    """
    joints = [[terminal_text(one) for one in joint.terminals] for joint in wiring.joints]
    sleeve = terminal_text((wiring.jack, SLEEVE)) if wiring.jacks else ""
    strings = wiring.instrument.strings if wiring.instrument else ()
    return {
        "name": wiring.name,
        "strings": len(strings) or USUAL_STRINGS,
        "selector": wiring.selector,
        "labels": dict(wiring.labels),
        "parts": [_part(wiring, name, part) for name, part in wiring.parts.items()],
        "housings": _housings(wiring),
        "joints": joints,
        "ground": next((k for k, joint in enumerate(joints) if sleeve in joint), -1),
        "places": {name: list(place) for name, place in places_of(wiring).items()},
        "runs": [[terminal_text(first), terminal_text(last)] for first, last in runs_of(wiring)],
    }


def _part(wiring: Wiring, name: str, part: Part) -> dict[str, Any]:
    kind, switch, sketch = kind_of(part), switches_of(wiring.parts).get(name), wiring.sketches.get(name)
    coil = wiring.coils.get(name)
    at_m = coil.at_m if coil else None
    return {
        "name": name,
        "kind": kind.name,
        "look": switch_look(switch) if switch else kind.name,
        "value": show(coil.resistance_ohm, "resistance", 3) if coil else kind.value_text(part),
        "lugs": list(terminals_of(part)),
        "poles": [list(pole) for pole in switch_poles(switch.lugs)] if switch else [],
        "positions": list(_positions(wiring, name, part)),
        "contacts": _contacts(switch),
        "at_mm": None if at_m is None else round(1000.0 * at_m, 2),
        "knob": _knob(wiring, name),
        "shaft": wiring.ganged.get(name),
        "sounds": {p: format_expression(one) for p, one in sketch.positions.items()} if sketch else {},
        "networks": {p: network_record(wiring, one) for p, one in sketch.positions.items()} if sketch else {},
    }


def _contacts(switch: SwitchPart | None) -> dict[str, list[list[str]]]:
    """Return the lugs that a switch joins by position; none of another part."""
    if switch is None:
        return {}
    return {position: [list(group) for group in groups] for position, groups in switch.contacts.items()}


def _knob(wiring: Wiring, name: str) -> str | None:
    """Return the knob that turns a pot; None for another part."""
    return next((knob for knob, pots in wiring.knobs.items() if name in pots), None)


def _positions(wiring: Wiring, name: str, part: Part) -> tuple[str, ...]:
    kind = positioned_of(part)
    return kind.positions(part) if kind else wiring.stands.get(name, ())


def _housings(wiring: Wiring) -> list[list[str]]:
    """Return the coils of each pickup; a dummy coil has a housing of its own, after the others."""
    pickups = [list(pickup) for pickup in find_pickups(wiring, list(wiring.coils))]
    for pickup in pickups:
        pickup.sort(key=lambda name: -(wiring.coils[name].at_m or 0.0))
    inside = {name for pickup in pickups for name in pickup}
    return [*pickups, *([name] for name in wiring.coils if name not in inside)]
