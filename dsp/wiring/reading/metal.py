"""Check what a file says of pieces of metal."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from dsp.documents.tree import Entries, Reading
from dsp.errors import some
from dsp.parts.kind import Part
from dsp.parts.kinds import parts_of
from dsp.parts.metal import Metal


def check_metal(reading: Reading, tree: Entries, parts: Mapping[str, Part], unread: Collection[str]) -> None:
    """Refuse pieces of metal that belong to parts the file lacks.

    Parameters
    ----------
    parts : mapping of str to Part
        Parts read without problems.
    unread : collection of str
        Parts with problems of their own; naming one is no further problem.
    """
    for name, metal in parts_of(parts, Metal).items():
        known = [other for other in parts if other != name]
        for other in metal.on:
            if other not in known and other not in unread:
                where = tree.get("parts")
                part = where.get(name) if isinstance(where, Entries) else None
                node = (part.get("on") if isinstance(part, Entries) else None) or tree
                hint = reading.guess(other, known)
                reading.refuse(node, f"{name}.on", some(known), got=f"'{other}'", hint=hint)
