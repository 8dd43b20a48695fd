"""Short names of a draft's edits, and of what differs between two versions."""

from __future__ import annotations

import functools
from collections.abc import Sequence

from dsp.documents.tree import Entries, Node, Text
from dsp.errors import InputError
from dsp.wiring.edit_words import changed_places, edit_words
from dsp.wiring.editing.document import Edit
from server.files.yaml_text import parse_tree

MOST_NAMED = 12
"""Differences of two versions that are named; more are counted."""


def edit_names(text: str, edits: Sequence[Edit]) -> tuple[str, ...]:
    """Return a short name for each edit of a wiring's text.

    Returns
    -------
    tuple of str
        Empty for an edit that goes with another.
    """
    return edit_words(parse_tree(text, "wiring"), [(edit.path, node_of(edit.value)) for edit in edits])


def difference_names(before: str, after: str) -> list[str]:
    """Return in short names what differs between two texts of a wiring."""
    old = parse_tree(before, "wiring")
    names = edit_words(old, changed_places(old, parse_tree(after, "wiring")))
    found = list(dict.fromkeys(name for name in names if name))
    more = len(found) - MOST_NAMED
    return found if more <= 0 else [*found[:MOST_NAMED], f"{more} more"]


@functools.lru_cache(maxsize=1024)
def node_of(value: str | None) -> Node | None:
    """Return a value as its file would be read; what is no YAML is a text."""
    if value is None:
        return None
    try:
        tree = parse_tree(f"x: {value}\n", "value")
    except InputError:
        return Text(value, 1)
    return (tree.get("x") if isinstance(tree, Entries) else None) or Text(value, 1)
