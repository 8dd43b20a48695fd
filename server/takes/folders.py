"""Find takes in folders, with the reason for each that cannot be used."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from dsp.documents.tree import Entries, Node, Text
from dsp.errors import InputError
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.files.existing import files_of, path_kind
from server.files.yaml_text import TAKE_FILES, load_tree, read_text
from server.takes.load import demo_listener, load_take

KIND_LINE = re.compile(r"^kind\s*:", re.MULTILINE)
LONGEST_NAME = 200


@dataclass(frozen=True)
class FoundTake:
    """A take file and its performance, or the error that keeps it from use.

    Attributes
    ----------
    coil_places : str
        Whether the sound contains the coils' places, on the demo's wiring.
    verdict : tuple of str
        Of a single line, what each stretch of it is.
    notes : tuple of str
        What a listener should know on the instrument that was asked about.
    """

    path: Path
    performance: Performance | None = None
    coil_places: str = ""
    error: InputError | None = None
    verdict: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class TakeFile:
    """A take file by name; its recording has not been looked at.

    Attributes
    ----------
    name, kind : str
        As written, right or wrong; the file's own name if it has none.
    error : InputError or None
        Why it cannot be a take at all.
    """

    path: Path
    name: str
    kind: str = ""
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
        try:
            listed = list_take_files(place) if path_kind(place) == "folder" else [TakeFile(place, place.stem)]
        except InputError as error:
            listed = [TakeFile(place, place.stem, error=error)]
        for file in listed:
            yield FoundTake(file.path, error=file.error) if file.error else _load(file.path)


def play_on(found: FoundTake, wiring: Wiring) -> FoundTake:
    """Return a take with its notes or its problems on an instrument."""
    if found.performance is None:
        return found
    try:
        return replace(found, notes=found.performance.notes(wiring))
    except InputError as error:
        return FoundTake(found.path, error=error)


def list_take_files(folder: Path) -> Iterator[TakeFile]:
    """List the files of a folder that are, or try to be, takes.

    No recording is opened. A folder that cannot be listed is one entry with its problem.
    """
    try:
        paths = files_of(folder)
    except InputError as error:
        yield TakeFile(folder, _shown(folder.name), error=error)
        return
    for path in paths:
        if path.suffix.lower() not in TAKE_FILES:
            continue
        found = _take_file(path)
        if found is not None:
            yield found


def _take_file(path: Path) -> TakeFile | None:
    """Return a YAML file that has a kind, right or wrong; a wiring has none.

    A file that cannot be parsed is judged by its lines, so that a slip does not hide a take.
    """
    stem = _shown(path.stem)
    try:
        if path_kind(path) != "file":
            return None
    except InputError as error:
        return TakeFile(path, stem, error=error)
    try:
        tree = load_tree(path)
    except InputError as error:
        return TakeFile(path, stem, error=error) if _has_kind_line(path) else None
    if not isinstance(tree, Entries) or tree.get("kind") is None:
        return None
    name = _text(tree.get("name")) or stem
    return TakeFile(path, name[:LONGEST_NAME], _text(tree.get("kind")))


def _shown(name: str) -> str:
    """Return a file's name as text; bytes that are not UTF-8 become escapes."""
    return name.encode("utf-8", "backslashreplace").decode()


def _text(node: Node | None) -> str:
    return node.text if isinstance(node, Text) else ""


def _has_kind_line(path: Path) -> bool:
    try:
        return KIND_LINE.search(read_text(path)) is not None
    except InputError:
        return False


def _load(path: Path) -> FoundTake:
    try:
        performance = load_take(path)
        listener = demo_listener()
        return FoundTake(
            path, performance, performance.coil_places(listener), verdict=performance.verdict(listener)
        )
    except InputError as error:
        return FoundTake(path, error=error)
