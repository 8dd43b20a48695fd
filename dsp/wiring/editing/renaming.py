"""Rename a part everywhere a file names it."""

from __future__ import annotations

import re
from collections.abc import Mapping

from dsp.documents.tree import Entries, Items, Node, Text
from dsp.errors import InputError, nearest, some
from dsp.parts.kinds import positioned_of
from dsp.wiring.editing.document import RENAMED, Document, Edit, Edited, Path, as_flow, at, terminal_of
from dsp.wiring.editing.parts import require_new_name

_NAME = re.compile(r"[^\W\d][\w-]*")
ANY = "*"
_KEYS: tuple[Path, ...] = (("parts", ANY), ("ganged", ANY), ("drawing", "places", ANY))
"""Places whose key is the name of a part."""
_NAMES: tuple[Path, ...] = (
    ("selector",),
    ("ganged", ANY),
    ("ganged", ANY, "part"),
    ("parts", ANY, "ganged", "part"),
    ("parts", ANY, "on", ANY),
    ("couplings", ANY, "coils", ANY),
)
"""Places whose value is the name of a part."""
_TERMINALS: tuple[Path, ...] = (("joints", ANY, ANY), ("output",), ("drawing", "wires", ANY, ANY))
"""Places whose value is a terminal."""
_EXPRESSIONS: tuple[Path, ...] = (("parts", ANY, "positions", ANY),)
"""Places whose value names parts in an expression."""


def rename_part(document: Document, name: str, new: str) -> Edited:
    """Give a part another name.

    Raises
    ------
    InputError
        If there is no such part, or the new name is none, taken, or that of a part of the saved text.
    """
    if name not in document.parts:
        raise InputError("part", f"'{name}'", some(document.parts), nearest(name, document.parts))
    require_new_name(document, new)
    if at(document.base, "parts", new) is not None:
        raise InputError(
            "name", f"'{new}', which a part of the saved version has", "a new name, or save first"
        )
    names = {name: new}
    edits: list[Edit] = []
    saved = name if at(document.base, "parts", name) is not None else ""
    for edit, value in zip(document.edits, document.values, strict=True):
        if edit.path[0] == RENAMED:
            if edit.value == name:
                saved = edit.path[-1]
            else:
                edits.append(edit)
            continue
        changed = None if value is None else rename_in(edit.path, value, names)
        text = edit.value if changed is None or changed == value else as_flow(changed)
        edits.append(Edit(rename_path(edit.path, names), text))
    if saved and saved != new:
        edits.insert(0, Edit((RENAMED, saved), new))
    if name == document.selector and at(document.tree, "selector") is None:
        part = document.parts[name]
        edits += [Edit(("selector",), new)] if positioned_of(part) else []
    return Edited(tuple(edits), f"Renamed {name} to {new}", part=new)


def renamed_key(path: Path, names: Mapping[str, str]) -> str | None:
    """Return the new text of a key; None where it names no part or stays."""
    return names.get(path[-1]) if _is_one(path, _KEYS) else None


def renamed_text(path: Path, text: str, names: Mapping[str, str]) -> str | None:
    """Return the new text of a value; None where it names no part or stays."""
    if _is_one(path, _NAMES):
        return names.get(text)
    if _is_one(path, _TERMINALS):
        name, lead = terminal_of(text)
        return f"{names[name]}.{lead}" if lead and name in names else names.get(text) if not lead else None
    if _is_one(path, _EXPRESSIONS):
        new = _NAME.sub(lambda match: names.get(match[0], match[0]), text)
        return None if new == text else new
    return None


def rename_path(path: Path, names: Mapping[str, str]) -> Path:
    """Return a place with the parts' new names in its keys."""
    return tuple(renamed_key(path[: i + 1], names) or key for i, key in enumerate(path))


def rename_in(path: Path, node: Node, names: Mapping[str, str]) -> Node:
    """Return the value at a place with the parts' new names."""
    if isinstance(node, Text):
        new = renamed_text(path, node.text, names)
        return node if new is None else Text(new, node.line)
    if isinstance(node, Items):
        return Items(
            tuple(rename_in((*path, str(i)), one, names) for i, one in enumerate(node.items)), node.line
        )
    entries = []
    for key, value in node.entries:
        inner = (*path, key.text)
        new = renamed_key(inner, names)
        entries.append((key if new is None else Text(new, key.line), rename_in(inner, value, names)))
    return Entries(tuple(entries), node.line)


def _is_one(path: Path, places: tuple[Path, ...]) -> bool:
    return any(
        len(path) == len(place) and all(want in (ANY, name) for name, want in zip(path, place, strict=True))
        for place in places
    )
