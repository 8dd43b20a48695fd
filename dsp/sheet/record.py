"""A build sheet as plain values: one schema for the command, the printed sheet and the page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.record import finite
from dsp.parts.kinds import switches_of
from dsp.parts.spreads import COPPER_PER_K
from dsp.sheet.between import find_events
from dsp.sheet.parts_list import list_parts
from dsp.sheet.readings import ROOM_C, Reading, assumed_kinds, find_readings
from dsp.sheet.steps import BEYOND_BRIDGE_MM, STAGES, Step, Wire, order_steps
from dsp.sheet.unknown import unknown_texts
from dsp.units import show
from dsp.wiring.model import Wiring

LENGTHS_TEXT = (
    "Lengths are to cut, in mm. Those of pickup leads marked * follow from the coil's place and "
    f"{BEYOND_BRIDGE_MM} mm beyond the bridge; all others are defaults: measure your cavity first."
)
CONTINUITY_TEXT = (
    "Before fitting: in each position a meter shows less than 1 Ω between the lugs listed together, and "
    "open between all others. If not, the lugs of your switch have other places: find them now."
)
POLARITY_TEXT = (
    "Polarity: meter on its smallest direct voltage, tip to red. Lay a steel blade on one coil's poles and "
    "pull it off; note which way the needle kicks. Coils heard together kick the same way, but those listed "
    "as against the others kick the other way. No kick: that coil is not heard."
)
HUM_TEXT = (
    "Hum: plug in, start quiet, hold the guitar near a mains transformer and go through the positions. Hum "
    "that rises when you let go of the strings means that they are not grounded."
)
UNPLUGGED_TEXT = "Measure with the guitar unplugged from everything."
HUM_WORDS = {
    "none": "hum cancels", "little": "hum mostly cancels", "hums": "hum is heard", "silent": "silent",
}  # fmt: skip


def sheet_record(wiring: Wiring, wires: Iterable[Wire]) -> dict[str, Any]:
    """Return everything a build sheet says, ready for JSON.

    Parameters
    ----------
    wires : iterable of Wire
        From lug to lug; together they are the joints.

    Returns
    -------
    dict
        ``wires`` alone rebuild the joints of two terminals and more. ``steps`` have a ``key`` that
        stays when others come or go; ``unknown`` says what the file does not. ``meter_ohm`` and its
        band are None for an open circuit.
    """
    steps = order_steps(wiring, wires)
    readings = find_readings(wiring)
    facts = position_facts(wiring, [reading.setting for reading in readings])
    return {
        "name": wiring.name or wiring.file,
        "wires": [_wire(step, step.wire) for step in steps if step.wire is not None],
        "steps": [_step(step) for step in steps],
        "stages": dict(STAGES),
        "contacts": _contacts(wiring),
        "parts": [
            {"name": row.name, "kind": row.kind, "value": row.value, "about": list(row.about)}
            for row in list_parts(wiring)
        ],
        "unknown": list(unknown_texts(wiring)),
        "readings": [_reading(wiring, one, fact) for one, fact in zip(readings, facts, strict=True)],
        "between": [{"kind": event.kind, "text": event.text()} for event in find_events(wiring)],
        "notes": {
            "lengths": LENGTHS_TEXT,
            "continuity": CONTINUITY_TEXT,
            "meter": meter_text(wiring),
            "polarity": POLARITY_TEXT,
            "hum": HUM_TEXT,
            "unplugged": UNPLUGGED_TEXT,
        },
    }


def meter_text(wiring: Wiring) -> str:
    """Return how the band of the readings was found."""
    assumed = assumed_kinds(wiring)
    usual = ", ".join(f"{kind} {show(share, 'share', 3)}" for kind, share in assumed.items())
    source = (
        f"the file's tolerances; where it states none: {usual} (common practice)"
        if usual
        else ("the file's tolerances")
    )
    low, high = ROOM_C
    return (
        "Cable out, every knob at 10, tip to sleeve; below it what may pass. The band follows from "
        f"{source}; windings at {low:g} to {high:g} °C, {100 * COPPER_PER_K:.2g} % per kelvin. Outside of it "
        "look for a wrong or missing wire."
    )


def _wire(step: Step, wire: Wire) -> dict[str, Any]:
    return {
        "from": ".".join(wire.first),
        "to": ".".join(wire.last),
        "step": step.number,
        "run": wire.run,
        "length_mm": step.length_mm,
        "length_from": "place" if step.from_place else "default",
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "step": step.number,
        "key": step.key,
        "stage": step.stage,
        "text": step.text,
        "length_mm": step.length_mm,
        "length_from": "place" if step.from_place else "default",
        "in_file": step.wire is not None,
    }


def _contacts(wiring: Wiring) -> dict[str, dict[str, list[list[str]]]]:
    return {
        name: {position: [list(group) for group in groups] for position, groups in switch.contacts.items()}
        for name, switch in switches_of(wiring.parts).items()
    }


def _reading(wiring: Wiring, reading: Reading, fact: PositionFacts) -> dict[str, Any]:
    setting = reading.setting
    switches = {name: setting.switches[name] for name in wiring.switches}
    moved = any(place != wiring.stands[name][0] for name, place in switches.items())
    return {
        "position": setting.position,
        "label": "" if moved else fact.label,
        "switches": switches,
        "coils": list(fact.coils),
        "against": list(fact.against),
        "sound": fact.joined,
        "hum": fact.hum,
        "hum_text": HUM_WORDS[fact.hum],
        "meter_ohm": finite(reading.ohm),
        "low_ohm": finite(reading.low_ohm),
        "high_ohm": finite(reading.high_ohm),
        "meter": reading.text(),
        "band": reading.band_text(),
    }
