"""Read one part of a wiring file by the table of its kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from dsp.documents import values
from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Reading, Text
from dsp.parts.fields import COMMON
from dsp.parts.kind import Part, PartKind, Refuse
from dsp.parts.kinds import KINDS, kind_of
from dsp.parts.library.index import LIBRARY

_COMMON_NAMES = ("kind", *(field.name for field in COMMON))
_PLAIN: Mapping[str, Callable[[Reading, Field, Node, str], object]] = {
    "quantity": values.read_quantity,
    "choice": values.read_choice,
    "count": values.read_count,
    "levels": values.read_levels,
    "words": values.read_words,
}
"""Readers of the forms that any table may have."""
KNOWN_PARTS = "a part that `presolder parts` lists, or a coil of your own that `presolder coils` lists"
ELSEWHERE = (
    "for a coil measured on another computer: there `presolder coils NAME` prints its values, to be "
    "written here"
)


def tree_of(raw: object, line: int) -> Node:
    """Build a tree of the library's plain values, all on one line of the file."""
    if isinstance(raw, Mapping):
        return Entries(tuple((Text(str(k), line), tree_of(v, line)) for k, v in raw.items()), line)
    if isinstance(raw, list | tuple):
        return Items(tuple(tree_of(item, line) for item in raw), line)
    return Text(str(raw), line)


def with_library(reading: Reading, node: Entries, what: str) -> Entries:
    """Fill in the fields of the library's part that a part refers to."""
    like = node.get("like")
    if like is None:
        return node
    name = reading.text(like, f"{what}.like")
    entry = LIBRARY.get(name) if name else None
    if entry is None:
        if name:
            reading.refuse(like, f"{what}.like", KNOWN_PARTS, hint=reading.guess(name, LIBRARY) or ELSEWHERE)
        return node
    own = {key.text for key, _ in node.entries}
    kind = node.get("kind")
    if isinstance(kind, Text) and kind.text != entry.kind:
        reading.refuse(kind, f"{what}.kind", f"{entry.kind}, as the part it is like")
        return node
    base = {"kind": entry.kind, **entry.fields}
    table, short = {"lugs", "contacts"}, {"poles", "positions", "function"}
    if own & table:  # a table of one's own replaces the library's shorthand
        base = {key: value for key, value in base.items() if key not in short}
    elif {"poles", "positions"} <= own:  # and the other way round
        base = {key: value for key, value in base.items() if key not in table}
    elif own & short and entry.counts:  # another number of poles of the same kind
        base = {"kind": entry.kind, **entry.counts}
    elif own & short and table & set(base):
        got = f"{', '.join(own & short)} alone"
        allowed = f"poles and positions both: {name} is a table of contacts, not a count"
        reading.refuse(like, what, allowed, got=got)
        return node
    extra = tuple((Text(k, like.line), tree_of(v, like.line)) for k, v in base.items() if k not in own)
    return Entries(node.entries + extra, node.line)


def assumptions_of(node: Node, part: Part) -> tuple[str, ...]:
    """Fields that a part's node leaves to defaults that a check names.

    Parameters
    ----------
    node : Node
        The part's map.
    part : Part
        What was read from it.
    """
    assert isinstance(node, Entries)  # else no part was read
    like = node.get("like")
    entry = LIBRARY[like.text] if isinstance(like, Text) else None
    written = {key.text for key, _ in node.entries} | set(entry.fields if entry else ())
    return tuple(field for field in kind_of(part).assumptions if field not in written)


def read_part(reading: Reading, node: Node, what: str) -> Part | None:
    """Read one part; None after a problem.

    Parameters
    ----------
    reading : Reading
        Collects the problems.
    node : Node
        The part's map.
    what : str
        Its name in problems.
    """
    if not isinstance(node, Entries):
        reading.refuse(node, what, "a map with its kind and fields")
        return None
    before = len(reading.problems)
    node = with_library(reading, node, what)
    liked = len(reading.problems) == before
    kind_node = node.get("kind")
    kind = reading.text(kind_node, f"{what}.kind")
    if kind_node is None and liked:
        reading.refuse(
            node, what, f"kind: {', '.join(KINDS)} (or like: a part of the library)", got="no kind"
        )
    if kind is None or kind_node is None:
        return None
    if kind not in KINDS:
        reading.refuse(kind_node, f"{what}.kind", ", ".join(KINDS), hint=reading.guess(kind, KINDS))
        return None
    found = _fields(reading, KINDS[kind], node, what)
    if liked:  # else what is missing may be what the library's part would have said
        values.require_fields(reading, KINDS[kind].fields, found, node, what)
    if len(reading.problems) > before:
        return None
    part: Part | None = KINDS[kind].build(found, _refusing(reading, node, what))
    return part if len(reading.problems) == before else None


def _fields(reading: Reading, kind: PartKind[Any], node: Entries, what: str) -> dict[str, Any]:
    """Read every field of the part's kind that the file gives."""
    table = {field.name: field for field in kind.fields}
    found: dict[str, Any] = {}
    for key, value in node.entries:
        if key.text in _COMMON_NAMES:
            continue
        field = table.get(key.text)
        place = f"{what}.{key.text}"
        if field is None:
            known = (*table, *_COMMON_NAMES)
            reading.refuse(key, what, ", ".join(known), hint=reading.guess(key.text, known))
        elif field.form in _PLAIN:
            found[field.name] = _PLAIN[field.form](reading, field, value, place)
        else:
            found[field.name] = kind.forms[field.form].read(reading, value, place)
    return found


def _refusing(reading: Reading, node: Entries, what: str) -> Refuse:
    """Return the function by which a kind notes problems of this part."""

    def refuse(
        allowed: str, *, got: str = "", hint: str = "", place: str = "", path: tuple[str, ...] = ()
    ) -> None:
        reading.refuse(_at(node, path), f"{what}{place}", allowed, got=got, hint=hint)

    return refuse


def _at(node: Node, path: tuple[str, ...]) -> Node:
    """The node at a path as far as it exists: a field's value, or the key of an entry within it."""
    if not path or not isinstance(node, Entries):
        return node
    value = node.get(path[0]) or node
    inner = path[1:]
    if inner and isinstance(value, Entries):
        return next((key for key, _ in value.entries if key.text == inner[0]), value)
    return value
