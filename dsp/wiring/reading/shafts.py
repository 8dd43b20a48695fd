"""Read which parts share a shaft, and which pots one knob turns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dsp.documents import values
from dsp.documents.tree import Entries, Node, Reading, Text
from dsp.errors import some
from dsp.parts import fields
from dsp.parts.kind import Part
from dsp.parts.kinds import variable_of


@dataclass(frozen=True)
class Shafts:
    """What shares a shaft with what.

    Attributes
    ----------
    ganged : mapping of str to str
        Part and the part whose shaft it shares.
    turned : mapping of str to str
        Pot and the pot that it turns with, whose name is that of the knob.
    """

    ganged: Mapping[str, str]
    turned: Mapping[str, str]


def read_shafts(
    reading: Reading, tree: Entries, nodes: Mapping[str, Node], parts: Mapping[str, Part]
) -> Shafts:
    """Read the shared shafts; refuse rings.

    Parameters
    ----------
    nodes : mapping of str to Node
        Every part that the file names.
    parts : mapping of str to Part
        Parts read without problems.
    """
    pairs: dict[str, str] = {}
    turns: dict[str, str] = {}
    places: dict[str, Node] = {}
    for name, node, place in _written(reading, tree):
        if isinstance(node, Text):
            given: dict[str, Any] = {"part": node}
        else:
            given = values.read_map(reading, fields.GANGED_FIELDS, node, place)
        partner = reading.text(given.get("part"), place)
        if partner is not None:
            pairs[name], places[name] = partner, node
            if given.get("turns"):
                turns[name] = given["turns"]
    for name, partner in pairs.items():
        for end in (name, partner):
            if end not in nodes:
                hint = reading.guess(end, nodes)
                reading.refuse(places[name], "ganged", some(nodes), got=f"'{end}'", hint=hint)
        if _in_ring(name, pairs):
            reading.refuse(
                places[name], "ganged", "parts on one shaft, each named once", got=f"a ring through '{name}'"
            )
        elif name in turns and any(end in parts and not _is_pot(parts[end]) for end in (name, partner)):
            reading.refuse(places[name], f"{name}.ganged", "turns between two pots only", got=turns[name])
    together = {
        name: partner
        for name, partner in pairs.items()
        if turns.get(name) != "apart"
        and all(end in parts and _is_pot(parts[end]) for end in (name, partner))
        and not _in_ring(name, pairs)
    }
    return Shafts(pairs, {name: _knob(name, together) for name in together})


def _written(reading: Reading, tree: Entries) -> list[tuple[str, Node, str]]:
    """Each part, what is written for it, and the place: at the top, then in the parts."""
    found = []
    for key, value in reading.entries(tree.get("ganged"), "ganged"):
        found.append((key.text, value, "ganged"))
    for key, value in reading.entries(tree.get("parts"), "parts"):
        node = value.get("ganged") if isinstance(value, Entries) else None
        if isinstance(node, Text):
            reading.refuse(node, f"{key.text}.ganged", "{part: NAME}")
        elif node is not None:
            found.append((key.text, node, f"{key.text}.ganged"))
    return found


def _is_pot(part: Part) -> bool:
    return variable_of(part) is not None


def _knob(name: str, together: Mapping[str, str]) -> str:
    while name in together:
        name = together[name]
    return name


def _in_ring(name: str, pairs: Mapping[str, str]) -> bool:
    seen: set[str] = set()
    at: str | None = name
    while at is not None and at not in seen:
        seen.add(at)
        at = pairs.get(at)
    return at == name
