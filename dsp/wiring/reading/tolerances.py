"""Read how far the values of parts may be off."""

from __future__ import annotations

from collections.abc import Mapping

from dsp.documents import values
from dsp.documents.tree import Entries, Node, Reading
from dsp.parts import fields
from dsp.parts.kind import Part
from dsp.parts.kinds import kind_of


def read_tolerances(
    reading: Reading, tree: Entries, parts: Mapping[str, Part]
) -> dict[str, dict[str, float]]:
    """Read the tolerance of every value that has one.

    Parameters
    ----------
    parts : mapping of str to Part
        Parts read without problems.

    Returns
    -------
    dict of str to dict of str to float
        By part and field, as a share of the value.
    """
    found: dict[str, dict[str, float]] = {}
    for key, value in reading.entries(tree.get("parts"), "parts"):
        node = value.get("tolerance") if isinstance(value, Entries) else None
        if node is None or key.text not in parts:
            continue
        own = _of_part(reading, node, f"{key.text}.tolerance", parts[key.text])
        if own:
            found[key.text] = own
    return found


def _of_part(reading: Reading, node: Node, what: str, part: Part) -> dict[str, float]:
    """One share for every value that the part must have, or a share per field."""
    kind = kind_of(part)
    known = [field.name for field in kind.fields if field.form == "quantity"]
    if not known:
        reading.refuse(node, what, f"nothing: a {kind.name} has no value")
        return {}
    if not isinstance(node, Entries):
        share = values.read_quantity(reading, fields.TOLERANCE, node, what)
        names = [field.name for field in kind.fields if field.form == "quantity" and field.required]
        return {} if share is None else dict.fromkeys(names, share)
    found: dict[str, float] = {}
    for key, value in reading.entries(node, what):
        if key.text not in known:
            reading.refuse(key, what, ", ".join(known), hint=reading.guess(key.text, known))
            continue
        share = values.read_quantity(reading, fields.TOLERANCE, value, f"{what}.{key.text}")
        if share is not None:
            found[key.text] = share
    return found
