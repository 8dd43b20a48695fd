"""Find takes in folders, with the reason for each that cannot be used."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from dsp.documents.tree import Entries
from dsp.errors import InputError
from dsp.takes.performance import Performance
from server.files.yaml_text import TAKE_FILES, load_tree, read_text
from server.takes.load import load_take

KIND_LINE = re.compile(r"^kind\s*:", re.MULTILINE)


@dataclass(frozen=True)
class FoundTake:
    """A take file and its performance, or the error that keeps it from use."""

    path: Path
    performance: Performance | None = None
    error: InputError | None = None


def find_takes(places: Iterable[Path]) -> Iterator[FoundTake]:
    """Find takes among files and in folders.

    Parameters
    ----------
    places : iterable of Path
        A file is loaded whatever it is. A folder yields every file that is, or tries to be, a take; its
        sub-folders are not searched.
    """
    for place in places:
        if place.is_dir():
            yield from _in_folder(place)
        else:
            yield _load(place)


def _in_folder(folder: Path) -> Iterator[FoundTake]:
    try:
        paths = sorted(folder.iterdir())
    except OSError as error:
        yield FoundTake(
            folder, error=InputError(str(folder), error.strerror or str(error), "a folder that can be read")
        )
        return
    for path in paths:
        if path.suffix.lower() in TAKE_FILES and path.is_file() and _tries_to_be_a_take(path):
            yield _load(path)


def _tries_to_be_a_take(path: Path) -> bool:
    """Whether a YAML file has a kind, right or wrong; a wiring has none.

    A file that cannot be parsed is judged by its lines, so that a slip does not hide a take.
    """
    try:
        tree = load_tree(path)
    except InputError:
        return _kind_line(path)
    return isinstance(tree, Entries) and tree.get("kind") is not None


def _kind_line(path: Path) -> bool:
    try:
        return KIND_LINE.search(read_text(path)) is not None
    except InputError:
        return False


def _load(path: Path) -> FoundTake:
    try:
        return FoundTake(path, load_take(path))
    except InputError as error:
        return FoundTake(path, error=error)
