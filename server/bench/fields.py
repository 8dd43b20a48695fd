"""A field of the table as the page edits it: as written, its place, its neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Text
from server.bench.steps import steps_of

LISTS = ("contacts", "lugs", "pair", "terminals")
"""Forms that are lists: shown without the brackets round them, which the page puts back."""


def field_json(
    field: Field, written: Node | None, path: list[str], *, name: str = "", remove: Sequence[list[str]] = ()
) -> dict[str, Any]:
    """A field of a part or item, its value as the file writes it.

    Parameters
    ----------
    field : Field
    written : Node or None
        The value itself.
    path : list of str
        Where it stands.
    name : str
        What it is called, where that is not the field's own name.
    remove : sequence of list of str
        Places to take out with it; empty where it is not for itself to be taken out.
    """
    value, bare = as_written(written), field.form in LISTS and isinstance(written, Items | None)
    return {
        "name": name or field.name,
        "value": value[1:-1] if bare else value,
        "form": field.form,
        "dimension": field.dimension,
        "choices": list(field.choices),
        "about": field.about,
        "default": field.default,
        "required": field.required,
        "brackets": bare,
        "path": path,
        "remove": list(remove),
        "steps": steps_of(field, value or field.default),
    }


def as_written(node: Node | None) -> str:
    """A value as its file writes it, in one line; nothing for None."""
    if node is None:
        return ""
    if isinstance(node, Text):
        return node.text
    if isinstance(node, Items):
        return f"[{', '.join(map(as_written, node.items))}]"
    return f"{{{', '.join(f'{key.text}: {as_written(value)}' for key, value in node.entries)}}}"


def at(node: Node | None, *names: str) -> Node | None:
    """What stands at a place of a tree, or None."""
    for name in names:
        node = node.get(name) if isinstance(node, Entries) else None
    return node
