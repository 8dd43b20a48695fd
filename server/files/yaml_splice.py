"""Remove or add items and entries of a YAML text; every comment stays.

The text is cut at the positions that the parser reports, so that everything else stays as it was
written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from server.files.yaml_text import composed

EMPTY = {"sequence": "[]", "mapping": "{}"}


def cut(text: str, path: Sequence[str]) -> str:
    """Return a text without one item or entry; unchanged if there is none.

    Parameters
    ----------
    text : str
        Valid YAML with plain line ends.
    path : sequence of str
        Keys, and for lists numbers from 0, such as ``("joints", "3")``.
    """
    holder = _at(composed(text, "text"), path[:-1])
    spans = _spans(holder) if holder is not None else []
    k = _number(holder, path[-1]) if holder is not None else None
    if holder is None or k is None:
        return text
    if len(spans) == 1:
        return _emptied(text, holder, _colon(text, path))
    start, end = spans[k]
    if not holder.flow_style:
        line = text.rfind("\n", 0, start) + 1
        lead = text[line:start]
        if not lead.strip(" -") and (holder.id == "sequence") == lead.strip().startswith("-"):
            stop = text.find("\n", end)
            return text[:line] + (text[stop + 1 :] if stop >= 0 else "")
    if k + 1 < len(spans):
        return text[:start] + text[spans[k + 1][0] :]
    return text[: spans[k - 1][1]] + text[end:]


def added(text: str, path: Sequence[str], item: str) -> str:
    """Return a text with one more item at the end of a list.

    Parameters
    ----------
    text : str
        Valid YAML with plain line ends.
    path : sequence of str
        Path of the list, which exists and has an item.
    item : str
        A word without characters that YAML gives a meaning.
    """
    holder = _at(composed(text, "text"), path)
    start, end = _spans(holder)[-1]
    if holder.flow_style:
        return f"{text[:end]}, {item}{text[end:]}"
    dash = text.rfind("-", 0, start)
    indent = text[text.rfind("\n", 0, dash) + 1 : dash]
    stop = text.find("\n", end)
    stop = len(text) if stop < 0 else stop
    return f"{text[:stop]}\n{re.sub('[^ ]', ' ', indent)}- {item}{text[stop:]}"


def _at(node: Any, path: Sequence[str]) -> Any:
    """Return the node at a path, or None."""
    for name in path:
        k = _number(node, name)
        if k is None:
            return None
        node = node.value[k] if node.id == "sequence" else node.value[k][1]
    return node


def _number(node: Any, name: str) -> int | None:
    """Return the index of the item or entry with a name, or None."""
    if node.id == "sequence":
        return int(name) if name.isdecimal() and int(name) < len(node.value) else None
    if node.id == "mapping":
        return next((k for k, (key, _) in enumerate(node.value) if str(key.value) == name), None)
    return None


def _spans(node: Any) -> list[tuple[int, int]]:
    """Return start and end of every item or entry in the text."""
    if node.id == "sequence":
        return [(item.start_mark.index, _end(item)) for item in node.value]
    return [(key.start_mark.index, _end(value)) for key, value in node.value]


def _end(node: Any) -> int:
    """Return the end of a node; a block's own mark lies after the comments that follow it."""
    if node.id != "scalar" and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(last if node.id == "sequence" else last[1])
    return int(node.end_mark.index)


def _colon(text: str, path: Sequence[str]) -> int:
    """Return the position after the colon of the key above a path; -1 if there is no such key."""
    above = _at(composed(text, "text"), path[:-2]) if len(path) > 1 else None
    if above is None or above.id != "mapping":
        return -1
    k = _number(above, path[-2])
    return -1 if k is None else text.index(":", above.value[k][0].end_mark.index) + 1


def _emptied(text: str, holder: Any, colon: int) -> str:
    """Empty a list or map of one item: brackets after its key, comments left below."""
    (start, end), empty = _spans(holder)[0], EMPTY[holder.id]
    if holder.flow_style:
        return text[: holder.start_mark.index] + empty + text[holder.end_mark.index :]
    if holder.id == "sequence":
        start = text.rfind("-", 0, start)
    line = text.rfind("\n", 0, start) + 1
    if colon < 0 or text[line:start].strip() or line < colon:
        return f"{text[:start]} {empty}{text[end:]}"
    stop = text.find("\n", end)
    rest = text[stop + 1 :] if stop >= 0 else ""
    return f"{text[:colon]} {empty}{text[colon:line]}{rest}"
