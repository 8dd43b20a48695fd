"""The takes in folders: what each is, and which cannot be used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from dsp.document.tree import Entries, Text
from dsp.errors import InputError
from dsp.takes.reader import KINDS
from server.storage.performance import Performance
from server.storage.take_file import TAKE_FILES, load_take
from server.storage.yaml_text import load_tree


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
        Of a folder, every file that is a take is found (its sub-folders are not searched); a
        file named by itself is taken whatever it is.
    """
    for place in places:
        if place.is_dir():
            for path in sorted(place.iterdir()):
                if path.suffix.lower() in TAKE_FILES and path.is_file() and _is_take(path):
                    yield _listed(path)
        else:
            yield _listed(place)


def _is_take(path: Path) -> bool:
    """Whether a YAML file says that it is a take; a wiring has no kind of its own."""
    try:
        tree = load_tree(path)
    except InputError:
        return False
    kind = tree.get("kind") if isinstance(tree, Entries) else None
    return isinstance(kind, Text) and kind.text in KINDS


def _listed(path: Path) -> Listed:
    try:
        return Listed(path, load_take(path))
    except InputError as error:
        return Listed(path, error=error)
