"""The takes in folders: what each is, and which cannot be used."""

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
class Listed:
    """A take of a list.

    Attributes
    ----------
    path : Path
    performance : Performance or None
    error : InputError or None
        Why it cannot be used.
    """

    path: Path
    performance: Performance | None = None
    error: InputError | None = None


def find_takes(places: Iterable[Path]) -> Iterator[Listed]:
    """Takes among files and in folders.

    Parameters
    ----------
    places : iterable of Path
        Of a folder, every file that is or means to be a take is found (its sub-folders are not searched); a
        file named by itself is taken whatever it is.
    """
    for place in places:
        if place.is_dir():
            yield from _in_folder(place)
        else:
            yield _listed(place)


def _in_folder(folder: Path) -> Iterator[Listed]:
    try:
        paths = sorted(folder.iterdir())
    except OSError as error:
        yield Listed(
            folder, error=InputError(str(folder), error.strerror or str(error), "a folder that can be read")
        )
        return
    for path in paths:
        if path.suffix.lower() in TAKE_FILES and path.is_file() and _means_a_take(path):
            yield _listed(path)


def _means_a_take(path: Path) -> bool:
    """Whether a YAML file has a kind, right or wrong, which a wiring has not.

    One that cannot be parsed is judged by its lines: a slip must not make a take vanish.
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


def _listed(path: Path) -> Listed:
    try:
        return Listed(path, load_take(path))
    except InputError as error:
        return Listed(path, error=error)
