"""What sounds at a setting, as plain values."""

from __future__ import annotations

from typing import Any

from dsp.circuit.meter import jack_reading_ohm
from dsp.drawing.sounding import find_sounding
from dsp.drawing.wiring_record import terminal_text
from dsp.facts.record import finite
from dsp.wiring.model import Setting, Wiring


def state_record(wiring: Wiring, setting: Setting) -> dict[str, Any]:
    """Return what carries, loads and rests at a setting, ready for JSON.

    Returns
    -------
    dict
        Levels are 2 (carries the sound), 1 (loads it) and 0. ``contacts`` leaves out what a sketch
        joins. ``meter_ohm`` is None for an open circuit.
    """
    found = find_sounding(wiring, setting)
    selector = {wiring.selector: setting.position} if wiring.selector else {}
    return {
        "position": setting.position,
        "stands": {**setting.switches, **selector},
        "parts": dict(found.parts),
        "terminals": {terminal_text(one): level for one, level in found.terminals.items()},
        "joints": list(found.joints),
        "contacts": [
            {
                "part": contact.first[0],
                "a": terminal_text(contact.first),
                "b": terminal_text(contact.second),
                "level": contact.level,
            }
            for contact in found.contacts
            if contact.first[0] == contact.second[0]
        ],
        "coils": dict(found.coils),
        "meter_ohm": finite(jack_reading_ohm(wiring, setting)),
    }
