"""What is soldered at a wiring's switches, and whether its sounds can be charted for another one."""

from __future__ import annotations

from typing import Any

from dsp.errors import InputError
from dsp.lugs.existing import WiredSwitch, wired_switches
from dsp.parts.kinds import switches_of
from dsp.parts.library.index import LIBRARY
from dsp.wiring.model import Wiring
from server.searches.sketch import sketched_sounds
from server.wirings.switches import load_switch, switch_names


def switches_json(wiring: Wiring) -> dict[str, Any]:
    """Return the switches as soldered, and what charting them anew would wire.

    Returns
    -------
    dict
        ``switches``; ``sounds``, the expression of each position of the selector that has one, by
        position; ``why``, a sentence where there are none.
    """
    sounds, why = _sounds(wiring)
    return {
        "switches": [_json(wiring, one) for one in wired_switches(wiring)],
        "sounds": sounds,
        "why": why,
    }


def about_of(wiring: Wiring, name: str) -> str:
    """Return a switch in the library's words; empty for one of its own."""
    contacts = switches_of(wiring.parts)[name].contacts
    known = (LIBRARY[one].about for one in switch_names() if load_switch(one).contacts == contacts)
    return next(known, "")


def _sounds(wiring: Wiring) -> tuple[dict[str, str], str]:
    if wiring.sketch is not None:
        return {}, ""
    try:
        return sketched_sounds(wiring), ""
    except InputError as error:
        return {}, str(error)


def _json(wiring: Wiring, one: WiredSwitch) -> dict[str, Any]:
    return {
        "name": one.name,
        "selects": one.selects,
        "about": about_of(wiring, one.name),
        "poles": one.poles,
        "lugs": [{"lug": lug, "with": [".".join(t) for t in others]} for lug, others in one.lugs.items()],
        "positions": [
            {
                "position": row.position,
                "label": row.label,
                "contacts": [list(group) for group in row.contacts],
                "sound": row.sound,
                "reading": row.reading,
            }
            for row in one.positions
        ],
    }
