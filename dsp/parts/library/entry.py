"""One entry of the parts library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Entry:
    """A generic part to start from.

    Attributes
    ----------
    name : str
        The name after ``like:`` in a wiring file. No character of it needs quotes.
    kind : str
        The part's kind in a wiring file, or ``load`` for a cable and amplifier.
    about : str
        A description in the trade's generic words, and the source of its values.
    fields : mapping of str to object
        Field values in the form of a wiring file.
    pair : str
        For one coil of a two-coil unit, the entry of the other coil. Both in series form the unit.
    coupling : float
        Coefficient offered for the two coils of the unit; 0 without a pair.
    counts : mapping of str to object
        For a switch given as a table, the shorthand that stands for it: a part that is like it may
        name another number of poles or positions.
    keeps : str
        For a load, the half that stays as it is when the entry is chosen: ``cable`` for an input,
        ``amplifier`` for a cable; empty where the entry is both.
    outside : str
        Why the part is outside the published ranges; empty if it is inside.
    """

    name: str
    kind: str
    about: str
    fields: Mapping[str, object]
    pair: str = ""
    coupling: float = 0.0
    outside: str = ""
    keeps: str = ""
    counts: Mapping[str, object] = field(default_factory=dict)
