"""Wiring files on disk: read with every problem at once, changed with comments kept."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from dsp.document.tree import Entries, Text
from dsp.errors import InputError, nearest
from dsp.wiring.model import Wiring
from dsp.wiring.reader import read_wiring
from server.storage.whole_files import write_text
from server.storage.yaml_text import load_tree, parse_tree, plain_resolver, read_text


def load_wiring(path: Path) -> Wiring:
    """The wiring in a file.

    Raises
    ------
    InputError
        With every problem of the file; see `read_text`, `parse_tree`, `read_wiring`.
    """
    return read_wiring(load_tree(path), str(path))


class WiringText:
    """The text of a wiring file, to be changed value by value.

    Comments, order, line ends and the writing of everything not changed are kept.

    Parameters
    ----------
    text : str
    file : str
        Name for errors.
    """

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self._line_end = "\r\n" if text.count("\r\n") > text.count("\n") / 2 else "\n"
        tree = parse_tree(text, file)  # bounds first: the round-trip reader has none of its own
        if not isinstance(tree, Entries):
            raise InputError(f"{file}:1", tree.shown(), "a map that starts with format: 1")
        self._yaml = _round_trip()
        self._data: Any = self._yaml.load(text)

    @classmethod
    def of(cls, path: Path) -> WiringText:
        """The text of a file."""
        return cls(read_text(path), str(path))

    def set(self, path: Sequence[str], value: str) -> None:
        """Write a value at a place such as ``("parts", "neck", "resistance")``.

        The value is written as given; a key that is new is added at the end of its map.

        Raises
        ------
        InputError
            If a map on the way does not exist.
        """
        at = self._data
        for i, name in enumerate(path[:-1]):
            key = _key(at, name)
            if key is None or not hasattr(at[key], "keys"):
                known = [str(k) for k in at]
                where = f"{self.file}: {'.'.join(path[: i + 1])}"
                raise InputError(where, f"'{name}'", ", ".join(known), nearest(name, known))
            at = at[key]
        key = _key(at, path[-1])
        at[path[-1] if key is None else key] = _scalar(value)

    def put(self, path: Sequence[str], values: Mapping[str, str]) -> None:
        """Write a whole map at a place, in place of what stands there.

        Parameters
        ----------
        path : sequence of str
            Such as ``("parts", "selector", "positions")``; its last key may be new.
        values : mapping of str to str

        Raises
        ------
        InputError
            If a map on the way does not exist.
        """
        self.set(path, "{}")
        for name, value in values.items():
            self.set((*path, name), value)

    def put_list(self, path: Sequence[str], values: Sequence[str]) -> None:
        """Write a whole list at a place, an item a line.

        Parameters
        ----------
        path : sequence of str
            Such as ``("instrument", "strings")``.
        values : sequence of str
            Each item as a file writes it.

        Raises
        ------
        InputError
            If a map on the way does not exist.
        """
        from ruamel.yaml.comments import CommentedSeq

        self.set(path, "[]")
        at = self._data
        for name in path[:-1]:
            at = at[_key(at, name)]
        at[_key(at, path[-1])] = CommentedSeq(_scalar(value) for value in values)

    def drop(self, name: str) -> None:
        """Take a key of the top level out, where it is there."""
        key = _key(self._data, name)
        if key is not None:
            del self._data[key]

    def dump(self) -> str:
        """The text as it now stands."""
        stream = io.StringIO()
        self._yaml.dump(self._data, stream)
        return stream.getvalue().replace("\r\n", "\n").replace("\n", self._line_end)

    def wiring(self) -> Wiring:
        """The wiring as it now stands, or an InputError with all its problems."""
        return read_wiring(parse_tree(self.dump(), self.file), self.file)

    def save(self, path: Path) -> None:
        """Check the wiring and write the file whole, or raise and write nothing."""
        self.wiring()
        write_text(path, self.dump())


def written(value: object) -> str:
    """A part's value in one line, as a wiring file writes it."""
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{key}: {written(one)}' for key, one in value.items())}}}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(map(written, value))}]"
    return str(value)


def _round_trip() -> Any:
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.Resolver = plain_resolver()
    yaml.width = 4096  # never fold a line that the writer did not fold
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml


def _key(data: Any, name: str) -> Any:
    """The key that reads as the name: positions may be numbers to YAML."""
    return next((key for key in data if str(key) == name), None)


def _scalar(value: str) -> Any:
    """A value as YAML may write it without quotes where that reads the same."""
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    try:
        tree = parse_tree(f"x: {value}\n", "value")
    except InputError:
        return DoubleQuotedScalarString(value)
    found = tree.get("x") if isinstance(tree, Entries) else None
    if isinstance(found, Text) and found.text != value:
        return DoubleQuotedScalarString(value)  # '7 # loud' would lose its end
    return _round_trip().load(f"x: {value}\n")["x"]
