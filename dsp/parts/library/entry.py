"""What one entry of the parts library holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """A generic part to start from.

    Attributes
    ----------
    name : str
        What stands after ``like:`` in a wiring file; no sign in it needs quotes.
    kind : str
        The part's kind as in a wiring file, or ``load`` for a cable and amplifier.
    about : str
        What it is in the trade's generic words, and where its values come from.
    fields : mapping of str to object
        Field values as one would write them in a wiring file.
    pair : str
        For one coil of a two-coil unit: the entry of the other coil; both in series are the unit.
    outside : str
        Why the part leaves the published ranges; empty if it keeps them.
    """

    name: str
    kind: str
    about: str
    fields: Mapping[str, object]
    pair: str = ""
    outside: str = ""
