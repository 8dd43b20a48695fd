"""Sensitivities found of kept recordings, in a helper process: seconds of computation."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.strings.pluck import HANDS
from dsp.verifying.coil_levels import Plucks
from dsp.verifying.expected import HAND, read_frets
from dsp.wiring.editing.measured import sensed
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.processes.helper import Helper
from server.verifying.sensitivity import (
    find_in_recordings,
    read_plucks,
    sensitivity_record,
    values_to_take,
)
from server.verifying.work import FILE, Sound, restore_sound, wiring_at_input

LONGEST_S = 300.0
"""Twelve strings in six positions of four coils take a minute."""


@dataclass(frozen=True)
class Pluck:
    """One kept recording.

    Attributes
    ----------
    string : int
        By its number; 0 for strums of all.
    """

    sound: Sound
    string: int


class Finder:
    """Finds sensitivities, one guitar after another."""

    def __init__(self) -> None:
        self._helper = Helper("the sensitivities", niceness=0)

    def find(
        self, text: str, plucks: Sequence[Pluck], fields: Mapping[str, Any], day: date
    ) -> dict[str, Any]:
        """Return what recordings of a wiring's text tell.

        Raises
        ------
        InputError
            As `find_sensitivities_of`.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        found: dict[str, Any] = self._helper.call(
            find_sensitivities_of, text, plucks, fields, day, longest_s=LONGEST_S
        )
        return found

    def close(self) -> None:
        """End the process."""
        self._helper.close()


def coils_that_hear(wiring: Wiring) -> list[str]:
    """Return the names of the coils that hear strings."""
    return [name for name, coil in wiring.coils.items() if not coil.dummy]


def find_sensitivities_of(
    text: str, plucks: Sequence[Pluck], fields: Mapping[str, Any], day: date
) -> dict[str, Any]:
    """Find sensitivities, and what becomes of the wiring by them.

    A record of `sensitivity_record`, with more. It names as not compared the recordings at settings
    and of strings that the wiring has lost.

    Raises
    ------
    InputError
        If the text is no wiring, a field cannot be read, or the recordings cannot be compared.
    """
    own = read_wiring(parse_tree(text, FILE), FILE)
    wiring = wiring_at_input(own, fields)
    hearing = coils_that_hear(wiring)
    if len(hearing) < 2:
        raise InputError("coils", f"{len(hearing)} that hear strings", "two or more: they are compared")
    reference = fields.get("reference") or None
    if reference is not None and reference not in hearing:
        raise InputError("the reference coil", f"'{reference}'", ", ".join(hearing))
    hand = fields.get("hand") or HAND
    if hand not in HANDS:
        raise InputError("the hand", f"'{hand}'", ", ".join(HANDS))
    frets = read_frets(wiring, fields["frets"], "the chord") if fields.get("frets") else None
    read = [_read(wiring, one) for one in plucks]
    there = [(one.sound, place) for one, place in zip(plucks, read, strict=True) if place]
    heard, places = [restore_sound(sound) for sound, _ in there], [place for _, place in there]
    levels, strums, found = find_in_recordings(wiring, heard, places, frets, reference=reference, hand=hand)
    record = sensitivity_record(wiring, heard, places, strums, levels, found)
    return {
        **record,
        "gone": [
            {"setting": one.sound.setting, "string": one.string or None}
            for one, place in zip(plucks, read, strict=True)
            if not place
        ],
        "day": day.isoformat(),
        "take": values_to_take(record, day),
        "against": {found.reference: values_of(own)[found.reference]},
        "sensed": values_of(own),
        "basis": basis_of(own),
    }


def _read(wiring: Wiring, pluck: Pluck) -> Plucks | None:
    """Return where a recording was plucked; None where the wiring has no such place any more."""
    setting = pluck.sound.setting
    try:
        return read_plucks(wiring, f"{setting}:{pluck.string}" if pluck.string else setting, pluck.sound.name)
    except InputError:
        return None


def values_of(wiring: Wiring) -> dict[str, dict[str, Any]]:
    """Return sensitivity and balance of the coils that hear strings, by name."""
    found = {}
    for name in coils_that_hear(wiring):
        sensitivity, balance = sensed(wiring.coils[name])
        found[name] = {"sensitivity": sensitivity, "string_balance": list(balance)}
    return found


def basis_of(wiring: Wiring) -> str:
    """Return a key of what recordings are compared with, sensitivities aside."""
    parts = {
        name: replace(part, sensitivity=1.0, string_balance_db=()) if isinstance(part, Coil) else part
        for name, part in wiring.parts.items()
    }
    joints = [joint.terminals for joint in wiring.joints]
    whole = (parts, joints, wiring.couplings, wiring.load, wiring.selector, wiring.shafts, wiring.instrument)
    return hashlib.sha256(repr(whole).encode()).hexdigest()
