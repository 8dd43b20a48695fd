"""Import wiring files as commissions, and their changes at every later start."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from pathlib import Path

from dsp.documents.tree import Entries
from dsp.errors import InputError, Problem
from server.commissions import store as commissions
from server.commissions import versions
from server.database.store import Store
from server.files.existing import files_of, path_kind
from server.files.yaml_text import TAKE_FILES, load_tree, read_text
from server.refusals import Unknown
from server.wirings.own_coils import own_entries
from server.wirings.text import load_wiring


def import_wiring_files(store: Store, places: Iterable[Path]) -> list[Problem]:
    """Make commissions of files and folders; return the problems.

    Parameters
    ----------
    places : iterable of Path
        A file becomes a commission with one wiring, a folder a commission with all of its
        wirings. A file known already stays; if it has changed, it becomes the next version.

    Returns
    -------
    list of Problem
        Of the files that were skipped.
    """
    own = functools.partial(own_entries, store)
    problems: list[Problem] = []
    for place in places:
        try:
            files = list(_wiring_files(place)) if path_kind(place) == "folder" else [place]
        except InputError as error:
            problems += error.problems
            continue
        if not files:
            problems.append(Problem(str(place), "no wiring file", "a folder with wiring files"))
        usable = []
        for file in files:
            try:
                _check_name(file)
                usable.append((file, load_wiring(file, own).name or file.stem))
            except InputError as error:
                problems += error.problems
        if usable:
            problems += _import(store, place, usable)
    return problems


def latest_of_file(store: Store, file: Path) -> tuple[str, str]:
    """Return the commission and the latest version of an imported file.

    Raises
    ------
    Unknown
        If the file was not imported.
    """
    with store.read() as db:
        row = db.execute(
            "SELECT id, commission_id FROM wirings WHERE file = ? ORDER BY created DESC, rowid DESC",
            (str(file),),
        ).fetchone()
        if row is None:
            raise Unknown("wiring", str(file), "a wiring file that was read")
        return str(row["commission_id"]), str(versions.latest_of(db, row["id"])["id"])


def _check_name(file: Path) -> None:
    """Refuse a file whose name cannot be stored or shown as text."""
    if not str(file).isprintable():
        shown = str(file).encode("utf-8", "backslashreplace").decode()
        raise InputError(shown, "a name with signs that cannot be shown", "a readable name in UTF-8")


def _wiring_files(folder: Path) -> Iterator[Path]:
    """Return the files of a folder that may be wirings: all but those that say they are takes."""
    for path in files_of(folder):
        if path.suffix.lower() in TAKE_FILES:
            try:
                if path_kind(path) != "file":
                    continue
                tree = load_tree(path)
            except InputError:
                yield path  # its problems are reported
                continue
            if not isinstance(tree, Entries) or tree.get("kind") is None:
                yield path


def _import(store: Store, place: Path, files: list[tuple[Path, str]]) -> list[Problem]:
    """Find or make the commission of a place, and insert the wirings it lacks."""
    origin = f"file:{place}"
    problems: list[Problem] = []
    title = files[0][1] if not place.is_dir() else place.name or str(place)
    with store.write() as db:
        row = db.execute("SELECT id FROM commissions WHERE origin = ?", (origin,)).fetchone()
        commission = commissions.insert(db, title, "", origin=origin) if row is None else row["id"]
        commissions.bring_back(db, commission)
        known = {
            row["file"]: row["id"]
            for row in db.execute("SELECT id, file FROM wirings WHERE commission_id = ?", (commission,))
        }
        for file, name in files:
            if str(file) not in known:
                text = versions.whole_text(store, read_text(file), str(file))
                versions.add_wiring(db, commission, name, text, note=f"read from {file.name}", file=file)
    for file, _ in files:
        if str(file) in known:
            try:
                versions.import_file_change(store, known[str(file)])
            except InputError as error:
                problems += error.problems
    return problems
