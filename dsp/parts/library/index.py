"""The parts library: generic parts that a wiring file starts from with ``like: NAME``."""

from __future__ import annotations

from collections.abc import Mapping

from dsp.parts.library.coils import COILS
from dsp.parts.library.entry import Entry
from dsp.parts.library.inputs import INPUTS
from dsp.parts.library.jacks import JACKS
from dsp.parts.library.small_parts import PARTS
from dsp.parts.library.switches import SWITCHES

__all__ = ["LIBRARY", "Entry"]

LIBRARY: Mapping[str, Entry] = {entry.name: entry for entry in COILS + PARTS + INPUTS + SWITCHES + JACKS}
"""Every entry by name: coils, pots, capacitors, resistors, chokes, cables, inputs, switches and jacks."""


def fields_left_out(entry: Entry) -> tuple[str, ...]:
    """Return the fields that only other entries of the kind state.

    A part that had other values and takes this entry's must lose them.
    """
    stated = dict.fromkeys(
        field for other in LIBRARY.values() if other.kind == entry.kind for field in other.fields
    )
    return tuple(field for field in stated if field not in entry.fields)
