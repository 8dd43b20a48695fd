"""Remove or add items and entries of a YAML text; every comment stays.

The text is cut at the positions that the parser reports, so that everything else stays as it was
written.
"""

from __future__ import annotations

import bisect
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from server.files.yaml_text import composed

EMPTY = {"sequence": "[]", "mapping": "{}"}
Splice = tuple[int, int, str]
"""Start and end in the text, and what stands there instead."""


def cut(text: str, paths: Iterable[Sequence[str]]) -> str:
    """Return a text without some items and entries.

    The text is parsed once, however many they are. One that does not exist is ignored.

    Parameters
    ----------
    text : str
        Valid YAML with plain line ends.
    paths : iterable of sequence of str
        Keys, and for lists numbers from 0, such as ``("joints", "3")``. Numbers are those of the
        text as given.
    """
    gone = {tuple(path) for path in paths}
    inside: dict[tuple[str, ...], set[str]] = {}
    for path in gone:
        if not any(path[:i] in gone for i in range(1, len(path))):
            inside.setdefault(path[:-1], set()).add(path[-1])
    root = composed(text, "text")
    splices = [one for above, names in inside.items() for one in _splices(text, root, above, names)]
    parts, at = [], 0
    for start, end, new in sorted(splices):
        parts += [text[at:start], new]
        at = max(at, end)
    return "".join([*parts, text[at:]])


def replaced(text: str, new: Callable[[tuple[str, ...], str, bool], str | None]) -> str:
    """Return a text with some of its keys and values replaced.

    Parameters
    ----------
    text : str
        Valid YAML with plain line ends.
    new : callable
        Takes the path of a scalar, its text, and whether it is a key, whose path ends with itself.
        Returns the text to stand there instead, without characters that YAML gives a meaning except
        within the quotes of the old one; None to leave it.
    """
    parts, end = [], 0
    for path, node, is_key in _scalars(composed(text, "text"), ()):
        start, stop = node.start_mark.index, node.end_mark.index
        word = new(path, str(node.value), is_key)
        if word is not None and start >= end:  # an alias stands once in the text
            quote = node.style if node.style in ("'", '"') else ""
            line = "\n" if node.style in ("|", ">") else ""  # such a scalar ends with its last line
            parts += [text[end:start], f"{quote}{word}{quote}{line}"]
            end = stop
    return "".join([*parts, text[end:]])


def uncommented(text: str, path: Sequence[str], start: str) -> str:
    """Return a text without some comment lines right above an entry.

    Parameters
    ----------
    text : str
        Valid YAML with plain line ends.
    path : sequence of str
        Of the entry; one that does not exist is ignored.
    start : str
        How the comments start that go, behind their sign.
    """
    for at, node, is_key in _scalars(composed(text, "text"), ()):
        if is_key and at == tuple(path):
            lines = text.split("\n")
            first = node.start_mark.line
            while first and lines[first - 1].lstrip().startswith("#"):
                first -= 1
            above = lines[first : node.start_mark.line]
            stay = [line for line in above if not line.lstrip("# \t").startswith(start)]
            return "\n".join([*lines[:first], *stay, *lines[node.start_mark.line :]])
    return text


def _scalars(node: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any, bool]]:
    """Yield every scalar of a document in the order of the text: path, node, whether it is a key."""
    if node.id == "scalar":
        yield path, node, False
    elif node.id == "sequence":
        for i, item in enumerate(node.value):
            yield from _scalars(item, (*path, str(i)))
    else:
        for key, value in node.value:
            inner = (*path, str(key.value))
            yield inner, key, True
            yield from _scalars(value, inner)


def added(text: str, path: Sequence[str], items: Iterable[str]) -> str:
    """Return a text with more items at the end of a list.

    Parameters
    ----------
    text : str
        Valid YAML with plain line ends.
    path : sequence of str
        Path of the list, which exists and has an item.
    items : iterable of str
        Words without characters that YAML gives a meaning.
    """
    holder = _at(composed(text, "text"), path)
    start, end = _spans(holder)[-1]
    if holder.flow_style:
        return "".join([text[:end], *(f", {item}" for item in items), text[end:]])
    dash = text.rfind("-", 0, start)
    indent = re.sub("[^ ]", " ", text[text.rfind("\n", 0, dash) + 1 : dash])
    stop = text.find("\n", end)
    stop = len(text) if stop < 0 else stop
    return "".join([text[:stop], *(f"\n{indent}- {item}" for item in items), text[stop:]])


def _splices(text: str, root: Any, above: Sequence[str], names: Iterable[str]) -> Iterator[Splice]:
    """Yield the splices that cut items or entries out of one list or map; some may overlap."""
    holder = _at(root, above)
    if holder is None:
        return
    spans = _spans(holder)
    gone = {k for name in names if (k := _number(holder, name)) is not None}
    if spans and len(gone) == len(spans):
        yield from _emptied(text, holder, _colon(text, root, above))
        if holder.flow_style:
            return
        gone.discard(0)
    left = [k for k in range(len(spans)) if k not in gone]
    for k in sorted(gone):
        start, end = spans[k]
        line = text.rfind("\n", 0, start) + 1
        following = bisect.bisect(left, k)
        if _stands_alone(holder, text[line:start]):
            stop = text.find("\n", end)
            yield line, len(text) if stop < 0 else stop + 1, ""
        elif following < len(left):
            yield start, spans[left[following]][0], ""
        else:
            yield spans[left[-1]][1], end, ""


def _stands_alone(holder: Any, lead: str) -> bool:
    """Whether an item or entry starts its line.

    Parameters
    ----------
    lead : str
        What stands before it in the line.
    """
    if holder.flow_style or lead.strip(" -"):
        return False
    return bool((holder.id == "sequence") == lead.strip().startswith("-"))


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


def _colon(text: str, root: Any, above: Sequence[str]) -> int:
    """Return the position after the colon of a key; -1 if the place is not a map's."""
    holder = _at(root, above[:-1]) if above else None
    if holder is None or holder.id != "mapping":
        return -1
    k = _number(holder, above[-1])
    return -1 if k is None else text.index(":", holder.value[k][0].end_mark.index) + 1


def _emptied(text: str, holder: Any, colon: int) -> Iterator[Splice]:
    """Yield the splices for the first item of a list or map that is emptied.

    Brackets follow its key; comments stay below.
    """
    (start, end), empty = _spans(holder)[0], EMPTY[holder.id]
    if holder.flow_style:
        yield holder.start_mark.index, holder.end_mark.index, empty
        return
    if holder.id == "sequence":
        start = text.rfind("-", 0, start)
    line = text.rfind("\n", 0, start) + 1
    if colon < 0 or text[line:start].strip() or line < colon:
        yield start, end, f" {empty}"
        return
    stop = text.find("\n", end)
    yield colon, colon, f" {empty}"
    yield line, len(text) if stop < 0 else stop + 1, ""
