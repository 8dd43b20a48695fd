"""Load wiring files with every problem at once; change them with comments kept."""

from __future__ import annotations

import functools
import io
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, NoReturn

from dsp.documents.tree import Entries, Text
from dsp.errors import InputError, nearest
from dsp.parts.library.entry import Entry
from dsp.wiring.editing.document import COMMENT, RENAMED
from dsp.wiring.editing.measured import HEARD
from dsp.wiring.editing.renaming import renamed_key, renamed_text
from dsp.wiring.load_maps import unwritten_maps
from dsp.wiring.model import Wiring
from dsp.wiring.reading.own_parts import own_likes, write_out
from dsp.wiring.reading.wiring import read_wiring
from server.files.whole import write_text
from server.files.yaml_splice import added, cut, replaced, uncommented
from server.files.yaml_text import load_tree, parse_tree, plain_resolver, read_text
from server.wirings.own_coils import own_entries_here

BLOCK = "{block}"
"""A map with a line for each entry."""
HOLD = "held"
"""Placeholder of an item until its value is written."""
MADE: Mapping[tuple[str, ...], str] = {
    ("instrument",): "{}",
    ("instrument", "strings"): "[]",
    ("couplings",): "[]",
    ("joints",): "[]",
    ("labels",): "{}",
    ("load",): "{}",
    ("parts", "*", "contacts"): "{}",
    ("parts", "*", "ganged"): "{}",
    ("drawing",): BLOCK,
    ("drawing", "places"): BLOCK,
    ("drawing", "wires"): "[]",
}
"""Lists and maps that a change creates if they are missing."""


FindOwn = Callable[[Collection[str]], Mapping[str, Entry]]
"""Returns those of some names that an own library has; asked only for what the common one lacks."""


def load_wiring(path: Path, find: FindOwn = own_entries_here) -> Wiring:
    """Read the wiring in a file.

    Parameters
    ----------
    find : callable
        Own coils that the file may name; this computer's unless given.

    Raises
    ------
    InputError
        With every problem of the file; see `read_text`, `parse_tree`, `read_wiring`.
    """
    tree = load_tree(path)
    likes = own_likes(tree).values()
    return read_wiring(write_out(tree, find(set(likes))) if likes else tree, str(path))


class WiringText:
    """The text of a wiring file, changed value by value.

    Comments, order, line ends and the notation of unchanged values stay.

    Parameters
    ----------
    file : str
        Name for errors.
    """

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self._line_end = "\r\n" if text.count("\r\n") > text.count("\n") / 2 else "\n"
        tree = parse_tree(text, file)  # bounds first: the round-trip reader has none of its own
        if not isinstance(tree, Entries):
            raise InputError(f"{file}:1", tree.describe(), "a map that starts with format: 1")
        self._yaml = _round_trip()
        self._data: Any = self._yaml.load(text)

    @classmethod
    def of(cls, path: Path) -> WiringText:
        """Read the text of a file; own coils of this computer are written out."""
        text = cls(read_text(path), str(path))
        text.write_out_own(own_entries_here)
        return text

    def write_out_own(self, find: FindOwn) -> bool:
        """Write the values of own coils in place of their names.

        A comment says where they come from.

        Returns
        -------
        bool
            Whether anything changed.
        """
        tree = parse_tree(self._text(), self.file)
        likes = own_likes(tree)
        own = find(set(likes.values())) if likes else {}
        parts = tree.get("parts") if isinstance(tree, Entries) else None
        for name, like in likes.items():
            node = parts.get(name) if isinstance(parts, Entries) else None
            if like not in own or not isinstance(node, Entries):
                continue
            stated = {key.text for key, _ in node.entries}
            values = {"kind": own[like].kind, **own[like].fields}
            for field, value in values.items():
                if field not in stated:
                    self.set(("parts", name, field), written(value))
            self.change([(("parts", name, "like"), None)])
            self.comment(("parts", name), f"{like}, {own[like].about}")
        return any(like in own for like in likes.values())

    def set(self, path: Sequence[str], value: str) -> None:
        """Write a value at a place such as ``("parts", "neck", "resistance")``.

        The value is written as given. A new key goes to the end of its map; the first free number
        of a list appends an item. Missing lists and maps that a wiring file may have are created.

        Raises
        ------
        InputError
            If the holder of the place does not exist, or a list has no such item.
        """
        self._write_load(path)
        for i in range(1, len(path)):
            self._make(path[:i])
        at = self._data
        for i, name in enumerate(path[:-1]):
            key = _key(at, name)
            if key is None or not hasattr(at[key], "insert"):
                self._refuse(at, path[: i + 1])
            at = at[key]
        key = _key(at, path[-1])
        if isinstance(at, list) and key is None:
            if path[-1] != str(len(at)):
                self._refuse(at, path)
            self._append(path[:-1])
            self.set(path, value)
        else:
            new = _scalar(value)
            block = MADE.get(tuple(path)) is BLOCK and isinstance(new, Mapping)
            at[path[-1] if key is None else key] = _block_map(new) if block else new

    def change(self, edits: Sequence[tuple[Sequence[str], str | None]]) -> None:
        """Rename parts, write values, and delete places whose value is None.

        Renamings come first: all other places bear the new names. Numbers of list items are those of
        the current text, followed by new ones: deletions come last, so that no number moves. Edits
        below a deleted place are ignored. Comments come last of all.

        Raises
        ------
        InputError
            As `set`.
        """
        self.rename_parts(edits)
        edits = [edit for edit in edits if edit[0][0] != RENAMED]
        gone = {tuple(path) for path, value in edits if value is None}
        named = {tuple(path[: i + 1]) for path, _ in edits for i in range(len(path))}
        for path, value in edits:
            if path[-1] != COMMENT and value is not None and not any(_is_within(path, one) for one in gone):
                self._write_load(path)
                self._fill(path, named)
                self.set(path, value)
        if gone:
            self._splice(functools.partial(cut, paths=gone))
        for path, value in edits:
            if path[-1] == COMMENT and value is not None and self._found(path[:-1]) is not None:
                self.comment(path[:-1], value)

    def _fill(self, path: Sequence[str], named: Collection[tuple[str, ...]]) -> None:
        """Append placeholders for all new items of the lists on a path that edits name."""
        for i in range(len(path)):
            self._make(path[:i])
            at = self._found(path[:i])
            if isinstance(at, list):
                count = 0
                while (*path[:i], str(len(at) + count)) in named:
                    count += 1
                self._append(path[:i], count)

    def _found(self, path: Sequence[str]) -> Any:
        """Value at a place, or None."""
        at = self._data
        for name in path:
            key = _key(at, name) if hasattr(at, "insert") else None
            at = None if key is None else at[key]
        return at

    def _make(self, path: Sequence[str]) -> None:
        """Create a list or map if it is missing."""
        kind = next((kind for place, kind in MADE.items() if _matches(path, place)), None)
        holder = self._found(path[:-1])
        if kind is not None and hasattr(holder, "insert") and self._found(path) is None:
            holder[path[-1]] = _block_map({}) if kind is BLOCK else _scalar(kind)

    def _write_load(self, path: Sequence[str]) -> None:
        """Write what a load takes unwritten before one of its maps' values changes."""
        if path[0] != "load" or len(path) < 3 or self._found(path[:2]) is not None:
            return
        tree = parse_tree(self._text(), self.file)
        load = tree.get("load") if isinstance(tree, Entries) else None
        for one, values in unwritten_maps(load).items():
            if (load is None or one == path[1]) and self._found(("load", one)) is None:
                self.set(("load", one), written(values))

    def _append(self, path: Sequence[str], count: int = 1) -> None:
        """Append placeholders to a list."""
        at = self._found(path)
        if not at:
            at.extend([HOLD] * count)
        elif count:
            self._splice(functools.partial(added, path=path, items=[HOLD] * count))

    def _splice(self, change: Callable[[str], str]) -> None:
        text = change(self._text())
        parse_tree(text, self.file)
        self._data = self._yaml.load(text)

    def _refuse(self, at: Any, path: Sequence[str]) -> NoReturn:
        known = [str(i) for i in range(len(at))] if isinstance(at, list) else [str(key) for key in at]
        where, name = f"{self.file}: {'.'.join(path)}", path[-1]
        allowed = f"an item's number, up to {len(at)}" if isinstance(at, list) else ", ".join(known)
        raise InputError(where, f"'{name}'", allowed, nearest(name, known))

    def put(self, path: Sequence[str], values: Mapping[str, str]) -> None:
        """Replace the value at a place by a whole map.

        Parameters
        ----------
        path : sequence of str
            Such as ``("parts", "selector", "positions")``; its last key may be new.

        Raises
        ------
        InputError
            If a map on the path does not exist.
        """
        self.set(path, "{}")
        for name, value in values.items():
            self.set((*path, name), value)

    def put_list(self, path: Sequence[str], values: Sequence[str]) -> None:
        """Replace the value at a place by a list, one item per line.

        Parameters
        ----------
        path : sequence of str
            Such as ``("instrument", "strings")``.
        values : sequence of str
            Each item in the notation of the file.

        Raises
        ------
        InputError
            If a map on the path does not exist.
        """
        from ruamel.yaml.comments import CommentedSeq

        self.set(path, "[]")
        at = self._data
        for name in path[:-1]:
            at = at[_key(at, name)]
        at[_key(at, path[-1])] = CommentedSeq(_scalar(value) for value in values)

    def comment(self, path: Sequence[str], text: str) -> None:
        """Write comment lines above a place, below those that stand there.

        One that starts with `HEARD` takes the place of an older one.

        Raises
        ------
        InputError
            If the place is missing.
        """
        if any(line.startswith(HEARD) for line in text.split("\n")):
            self._splice(functools.partial(uncommented, path=path, start=HEARD))
        at = self._found(path[:-1])
        key = _key(at, path[-1]) if hasattr(at, "insert") else None
        if key is None:
            self._refuse(at, path)
        at.yaml_set_comment_before_after_key(key, before=text, indent=2 * (len(path) - 1))

    def put_labels(self, labels: Mapping[str, str]) -> None:
        """Replace all labels; without any, the file has none."""
        self.drop("labels")
        if labels:
            self.put(["labels"], labels)

    def drop(self, name: str) -> None:
        """Delete a key of the top level, if present."""
        key = _key(self._data, name)
        if key is not None:
            del self._data[key]

    def rename_parts(self, edits: Iterable[tuple[Sequence[str], str | None]]) -> None:
        """Rename parts, as some edits of a draft say, wherever they are named."""
        names = {path[-1]: value for path, value in edits if path[0] == RENAMED and value is not None}
        if names:
            self._splice(
                lambda text: replaced(
                    text,
                    lambda path, old, key: (
                        renamed_key(path, names) if key else renamed_text(path, old, names)
                    ),
                )
            )

    def dump(self) -> str:
        """Return the current text."""
        return self._text().replace("\n", self._line_end)

    def _text(self) -> str:
        stream = io.StringIO()
        self._yaml.dump(self._data, stream)
        return stream.getvalue().replace("\r\n", "\n")

    def wiring(self) -> Wiring:
        """Read the current wiring; an InputError has all its problems."""
        return read_wiring(parse_tree(self.dump(), self.file), self.file)

    def save(self, path: Path) -> None:
        """Check the wiring, then write the whole file; an error writes nothing."""
        self.wiring()
        write_text(path, self.dump())


def written(value: object) -> str:
    """Write a part's value on one line, in the notation of a wiring file."""
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{key}: {written(one)}' for key, one in value.items())}}}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(map(written, value))}]"
    return str(value)


def flow_list(items: Iterable[Any]) -> Any:
    """Make a YAML list that is written on one line."""
    from ruamel.yaml.comments import CommentedSeq

    found = CommentedSeq(items)
    found.fa.set_flow_style()
    return found


def _block_map(entries: Mapping[Any, Any]) -> Any:
    """Make a YAML map with a line for each entry."""
    from ruamel.yaml.comments import CommentedMap

    return CommentedMap(entries)


def _round_trip() -> Any:
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.Resolver = plain_resolver()
    yaml.width = 4096  # never fold a line that the writer did not fold
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml


def _matches(path: Sequence[str], place: Sequence[str]) -> bool:
    """Whether a path matches a place; a star matches any name."""
    return len(path) == len(place) and all(
        want in ("*", name) for name, want in zip(path, place, strict=True)
    )


def _is_within(path: Sequence[str], place: tuple[str, ...]) -> bool:
    """Whether a path is a place or below it."""
    return tuple(path[: len(place)]) == place


def _key(data: Any, name: str) -> Any:
    """Key that reads as the name (YAML reads positions as numbers), or the number of a list's item."""
    if isinstance(data, list):
        return int(name) if name.isdecimal() and len(name) < 5 and int(name) < len(data) else None
    return next((key for key in data if str(key) == name), None)


def _scalar(value: str) -> Any:
    """Value for YAML, with quotes only if it would read differently without."""
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    try:
        tree = parse_tree(f"x: {value}\n", "value")
    except InputError:
        return DoubleQuotedScalarString(value)
    found = tree.get("x") if isinstance(tree, Entries) else None
    if isinstance(found, Text) and found.text != value:
        return DoubleQuotedScalarString(value)  # '7 # loud' would lose its end
    return _round_trip().load(f"x: {value}\n")["x"]
