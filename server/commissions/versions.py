"""Wirings and their versions: rows that never change, each made from the one before.

The other rooms know commissions by this module alone.
"""

from __future__ import annotations

import functools
import hashlib
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from dsp.errors import InputError
from dsp.wiring.editing.document import Edit
from dsp.wiring.reading.own_parts import own_likes
from server.database.store import Store, new_id, now
from server.files.whole import read_bytes, write_bytes
from server.files.yaml_text import parse_tree, read_text
from server.refusals import Conflict, Unknown
from server.wirings.edit_names import difference_names
from server.wirings.own_coils import own_entries
from server.wirings.text import WiringText


@dataclass(frozen=True)
class Saved:
    """A version in the database.

    Attributes
    ----------
    number : int
        Counts from 1 within its wiring.
    file : str or None
        The wiring file that was written too.
    """

    id: str
    number: int
    file: str | None = None


def sha256(content: bytes) -> str:
    """Return the SHA-256 in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def edit_text(text: str, edits: Sequence[Edit], name: str) -> str:
    """Return a wiring's text with values changed and comments kept.

    Parameters
    ----------
    name : str
        What errors call the text.

    Raises
    ------
    InputError
        With every problem, if the result is not a wiring.
    """
    wiring = WiringText(text, name)
    wiring.change(edits)
    wiring.wiring()
    return wiring.dump() if edits else text


def whole_text(store: Store, text: str, name: str) -> str:
    """Return a text with values in place of the names of own coils.

    Other computers can read it.

    Parameters
    ----------
    name : str
        What errors call the text.

    Raises
    ------
    InputError
        If the text cannot be parsed.
    """
    if not own_likes(parse_tree(text, name)):
        return text
    wiring = WiringText(text, name)
    changed = wiring.write_out_own(functools.partial(own_entries, store))
    return wiring.dump() if changed else text


def get_version(store: Store, version_id: str) -> dict[str, Any]:
    """Return a version with its text.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        return dict(version_row(db, version_id))


def with_the_one_before(store: Store, version_id: str) -> tuple[str, str]:
    """Return the texts of the version before and of a version.

    Raises
    ------
    Unknown
        If there is no such version, or it is the first of its wiring.
    """
    with store.read() as db:
        row = version_row(db, version_id)
        before = db.execute(
            "SELECT text FROM versions WHERE wiring_id = ? AND number < ? ORDER BY number DESC LIMIT 1",
            (row["wiring_id"], row["number"]),
        ).fetchone()
        if before is None:
            raise Unknown("version", f"number {row['number']}, the first", "a version with one before it")
        return str(before["text"]), str(row["text"])


def version_row(db: sqlite3.Connection, version_id: str) -> sqlite3.Row:
    """Return the row of a version.

    Raises
    ------
    Unknown
        If there is none.
    """
    row: sqlite3.Row | None = db.execute("SELECT * FROM versions WHERE id = ?", (version_id,)).fetchone()
    if row is None:
        raise Unknown("version", f"'{version_id}'", "the id of a version")
    return row


def latest_of(db: sqlite3.Connection, wiring: str) -> sqlite3.Row:
    """Return the row of a wiring's latest version.

    Raises
    ------
    Unknown
        If there is none.
    """
    row: sqlite3.Row | None = db.execute(
        "SELECT * FROM versions WHERE wiring_id = ? ORDER BY number DESC LIMIT 1", (wiring,)
    ).fetchone()
    if row is None:
        raise Unknown("wiring", f"'{wiring}'", "the id of a wiring")
    return row


def add_wiring(
    db: sqlite3.Connection, commission: str, name: str, text: str, *, note: str, file: Path | None = None
) -> tuple[str, str]:
    """Insert a wiring and its first version into a commission.

    Returns
    -------
    tuple of str
        Ids of the wiring and the version.
    """
    wiring, moment = new_id(), now()
    row = db.execute("SELECT coalesce(max(place), 0) + 1 FROM wirings WHERE commission_id = ?", (commission,))
    content = None if file is None else sha256(read_bytes(file))
    db.execute(
        "INSERT INTO wirings (id, commission_id, place, name, created, file, file_sha256)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (wiring, commission, row.fetchone()[0], name, moment, None if file is None else str(file), content),
    )
    db.execute("UPDATE commissions SET changed = ? WHERE id = ?", (moment, commission))
    return wiring, add_version(db, wiring, text, note).id


def add_version(db: sqlite3.Connection, wiring: str, text: str, note: str) -> Saved:
    """Insert the next version of a wiring."""
    made, moment = new_id(), now()
    row = db.execute("SELECT coalesce(max(number), 0) + 1 FROM versions WHERE wiring_id = ?", (wiring,))
    number = int(row.fetchone()[0])
    db.execute(
        "INSERT INTO versions (id, wiring_id, number, text, sha256, note, created)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (made, wiring, number, text, sha256(text.encode()), note, moment),
    )
    db.execute(
        "UPDATE commissions SET changed = ? WHERE id = (SELECT commission_id FROM wirings WHERE id = ?)",
        (moment, wiring),
    )
    return Saved(made, number)


def create_wiring(store: Store, commission: str, name: str, text: str) -> tuple[str, str]:
    """Insert a new wiring and return its id and that of its first version.

    Raises
    ------
    Unknown
    InputError
        With every problem, if the text is not a wiring.
    """
    text = edit_text(whole_text(store, text, name), (), name)
    with store.write() as db:
        require_commission(db, commission)
        return add_wiring(db, commission, name, text, note="first version")


MOST_COMPARED = 50
"""Newest versions of a wiring that are compared with those before them."""


def changes(store: Store, wiring: str) -> dict[str, list[str]]:
    """Return in a few words what each version changed of the one before.

    Returns
    -------
    dict of str to list of str
        By version; the first version of a wiring is left out.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        wiring_row(db, wiring)
        rows = db.execute(
            "SELECT id, text FROM versions WHERE wiring_id = ? ORDER BY number DESC LIMIT ?",
            (wiring, MOST_COMPARED + 1),
        ).fetchall()
    return {new["id"]: list(_differences(old["text"], new["text"])) for new, old in pairwise(rows)}


@functools.lru_cache(maxsize=256)
def _differences(before: str, after: str) -> tuple[str, ...]:
    return tuple(difference_names(before, after))


def save(
    store: Store, wiring: str, base: str, edits: Sequence[Edit], *, text: str | None = None, note: str = ""
) -> Saved:
    """Save the next version of a wiring, and its file if it came from one.

    Parameters
    ----------
    base : str
        The version that was changed; must be the latest.
    text : str or None
        A whole text in place of the base's, before the edits.

    Returns
    -------
    Saved
        The latest version if nothing differs from it.

    Raises
    ------
    Unknown
    Conflict
        If there is a newer version, or another program changed the wiring file: its content is
        then a version of its own, so both sides keep what they wrote.
    InputError
        With every problem, if the result is not a wiring. Nothing is saved then.
    """
    with store.read() as db:
        name = wiring_row(db, wiring)["name"]
        before = version_row(db, base)
        if before["wiring_id"] != wiring:
            raise Unknown("base", f"'{base}'", "a version of this wiring")
    after = edit_text(before["text"] if text is None else whole_text(store, text, name), edits, name)
    import_file_change(store, wiring)
    with store.write() as db:
        latest = latest_of(db, wiring)
        if latest["id"] != base:
            got = f"version {before['number']}"
            newer = f"version {latest['number']}, which is newer ({latest['note'] or 'no note'})"
            error = Conflict("base", got, newer, "look at the newer version, then save again")
            error.newer = {key: latest[key] for key in ("id", "number", "note", "created")}
            raise error
        if after == latest["text"]:
            return Saved(latest["id"], latest["number"])
        saved = add_version(db, wiring, after, note)
        return Saved(saved.id, saved.number, _write_file(db, wiring, after))


def wiring_row(db: sqlite3.Connection, wiring: str) -> sqlite3.Row:
    """Return the row of a wiring.

    Raises
    ------
    Unknown
        If there is none.
    """
    row: sqlite3.Row | None = db.execute("SELECT * FROM wirings WHERE id = ?", (wiring,)).fetchone()
    if row is None:
        raise Unknown("wiring", f"'{wiring}'", "the id of a wiring")
    return row


def _write_file(db: sqlite3.Connection, wiring: str, text: str) -> str | None:
    """Write the wiring file, within the transaction that saves the version.

    A crash between the two leaves a file that is ahead; the next look imports it.
    """
    row = wiring_row(db, wiring)
    if row["file"] is None:
        return None
    content = text.encode()
    file = Path(row["file"])
    if file.is_file() and sha256(read_bytes(file)) != row["file_sha256"]:
        raise Conflict(str(file), "a file changed a moment ago", "a file as it was read", "save again")
    write_bytes(file, content)
    db.execute("UPDATE wirings SET file_sha256 = ? WHERE id = ?", (sha256(content), wiring))
    return str(file)


def import_file_change(store: Store, wiring: str) -> Saved | None:
    """Save the next version from a wiring file that another program changed.

    Returns
    -------
    Saved or None
        None if the file is unchanged or missing, or the wiring has none.

    Raises
    ------
    Conflict
        With the problems of the file, if it is no longer a wiring.
    """
    with store.write() as db:
        row = wiring_row(db, wiring)
        file = None if row["file"] is None else Path(row["file"])
        if file is None or not file.is_file():
            return None
        content = read_bytes(file)
        if sha256(content) == row["file_sha256"]:
            return None
        try:
            text = edit_text(whole_text(store, read_text(file), str(file)), (), str(file))
        except InputError as error:
            raise Conflict.of(error.problems) from error
        db.execute("UPDATE wirings SET file_sha256 = ? WHERE id = ?", (sha256(content), wiring))
        if text == latest_of(db, wiring)["text"]:
            return None
        return add_version(db, wiring, text, f"read from {file.name}, which was changed")


def require_commission(db: sqlite3.Connection, commission: str) -> sqlite3.Row:
    """Return the row of a commission.

    Raises
    ------
    Unknown
        If there is none.
    """
    row: sqlite3.Row | None = db.execute("SELECT * FROM commissions WHERE id = ?", (commission,)).fetchone()
    if row is None:
        raise Unknown("commission", f"'{commission}'", "the id of a commission")
    return row


def homes_of(db: sqlite3.Connection, versions: Iterable[str]) -> dict[str, tuple[str, str]]:
    """Return the names of wiring and commission by version."""
    query = (
        "SELECT wirings.name, commissions.title FROM versions JOIN wirings ON wirings.id = wiring_id"
        " JOIN commissions ON commissions.id = commission_id WHERE versions.id = ?"
    )
    found = {version: db.execute(query, (version,)).fetchone() for version in versions}
    return {version: (row["name"], row["title"]) for version, row in found.items() if row is not None}


def newest(store: Store, count: int) -> list[str]:
    """Return the latest texts of the wirings changed last, at most ``count``.

    Commissions that were put away are left out.
    """
    with store.read() as db:
        rows = db.execute(
            "SELECT text FROM versions JOIN wirings ON wirings.id = wiring_id"
            " JOIN commissions ON commissions.id = commission_id"
            " WHERE archived IS NULL AND number ="
            " (SELECT max(number) FROM versions WHERE wiring_id = wirings.id)"
            " ORDER BY changed DESC, commissions.rowid DESC, place LIMIT ?",
            (count,),
        )
        return [str(row["text"]) for row in rows]
