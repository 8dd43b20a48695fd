"""The workshop's own coils: what was measured, by name, in the data folder."""

from __future__ import annotations

import contextlib
import json
import re
import sqlite3
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError, nearest, some
from dsp.parts.library.entry import Entry
from dsp.parts.library.index import LIBRARY
from server.database.store import FILE, Store, new_id, now
from server.refusals import Conflict, Unknown
from server.settings import data_folder

NAME = re.compile(r"[^\W\d][\w-]{0,59}")
"""As a part's: no character of it needs quotes in a wiring file."""


@dataclass(frozen=True)
class OwnCoil:
    """A coil that was measured.

    Attributes
    ----------
    name : str
        What a wiring file writes after ``like:``.
    day : str
        Of the reading, ISO 8601.
    method : str
        How it was read, in words.
    fields : mapping of str to object
        The part's values in the form of a wiring file.
    record : mapping of str to Any
        Values in plain units, intervals, order and notes, as `presolder coil --json` prints them.
    curve : mapping of str to list of float, or None
        ``frequencies_hz``, ``real`` and ``imag`` in ohms; None if no curve was read.
    id : str
        Of the database; empty before it is kept.
    """

    name: str
    day: str
    method: str
    fields: Mapping[str, object]
    record: Mapping[str, Any]
    curve: Mapping[str, list[float]] | None = None
    id: str = ""

    @property
    def told(self) -> str:
        """Where the values come from, as a comment in a wiring says it."""
        return f"read {self.day}: {self.method}"

    def entry(self) -> Entry:
        """Return the coil as an entry of a library."""
        return Entry(self.name, "coil", self.told, self.fields)

    def as_json(self) -> dict[str, Any]:
        """Return all of it, the curve too, as it leaves for other programs."""
        return {
            "name": self.name, "day": self.day, "method": self.method, "fields": dict(self.fields),
            "record": dict(self.record), "curve": None if self.curve is None else dict(self.curve),
        }  # fmt: skip


def keep_coils(store: Store, coils: Sequence[OwnCoil]) -> None:
    """Keep coils under their names, all or none.

    Raises
    ------
    InputError
        If a name is none that a wiring file can have after ``like:``.
    Conflict
        If another coil has the name.
    """
    with store.write() as db:
        for coil in coils:
            _check_name(coil.name)
            _require_free(db, coil.name)
            texts = [json.dumps(one, ensure_ascii=False) for one in (coil.fields, coil.record)]
            curve = None if coil.curve is None else json.dumps(coil.curve)
            db.execute(
                "INSERT INTO own_coils (id, name, day, method, fields, record, curve, created)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (new_id(), coil.name, coil.day, coil.method, *texts, curve, now()),
            )


def list_coils(store: Store) -> list[OwnCoil]:
    """Return the coils, by name."""
    with store.read() as db:
        return _kept(db)


def get_coil(store: Store, name: str) -> OwnCoil:
    """Return a coil by its name.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        return _find(db, name)


def rename_coil(store: Store, name: str, to: str) -> None:
    """Give a coil another name; wirings hold its values and stay as they are.

    Raises
    ------
    InputError, Unknown, Conflict
        As `keep_coils` and `get_coil`.
    """
    _check_name(to)
    with store.write() as db:
        coil = _find(db, name)
        if name != to:
            _require_free(db, to)
        db.execute("UPDATE own_coils SET name = ? WHERE id = ?", (to, coil.id))


def remove_coil(store: Store, name: str) -> str:
    """Take a coil out of the list; return the id that brings it back.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        coil = _find(db, name)
        db.execute("UPDATE own_coils SET removed = ? WHERE id = ?", (now(), coil.id))
    return coil.id


def restore_coil(store: Store, name_or_id: str) -> OwnCoil:
    """Bring back a coil by its id, or the last one removed of a name.

    Raises
    ------
    Unknown
    Conflict
        If another coil has its name by now.
    """
    with store.write() as db:
        row = db.execute(
            "SELECT * FROM own_coils WHERE removed IS NOT NULL AND (id = ? OR name = ?)"
            " ORDER BY removed DESC LIMIT 1",
            (name_or_id, name_or_id),
        ).fetchone()
        if row is None:
            raise Unknown("coil", f"'{name_or_id}'", "a coil that was removed")
        _require_free(db, row["name"])
        db.execute("UPDATE own_coils SET removed = NULL WHERE id = ?", (row["id"],))
    return _coil(row)


def own_entries(store: Store, names: Collection[str]) -> dict[str, Entry]:
    """Return those of some names that are kept, as entries of a library."""
    return {coil.name: coil.entry() for coil in list_coils(store) if coil.name in names} if names else {}


def own_entries_here(names: Iterable[str]) -> dict[str, Entry]:
    """Return the same of this computer's data folder, if there is one."""
    wanted = set(names)
    folder = data_folder()
    if not wanted or not (folder / FILE).is_file():
        return {}
    with contextlib.closing(Store(folder)) as store:
        return own_entries(store, wanted)


def _kept(db: sqlite3.Connection) -> list[OwnCoil]:
    rows = db.execute("SELECT * FROM own_coils WHERE removed IS NULL ORDER BY name").fetchall()
    return [_coil(row) for row in rows]


def _find(db: sqlite3.Connection, name: str) -> OwnCoil:
    known = {coil.name: coil for coil in _kept(db)}
    if name not in known:
        raise Unknown("coil", f"'{name}'", some(known) or "a coil that was kept", nearest(name, known))
    return known[name]


def _coil(row: sqlite3.Row) -> OwnCoil:
    curve = None if row["curve"] is None else json.loads(row["curve"])
    return OwnCoil(
        row["name"], row["day"], row["method"], json.loads(row["fields"]), json.loads(row["record"]), curve,
        row["id"],
    )  # fmt: skip


def _check_name(name: str) -> None:
    if not NAME.fullmatch(name):
        allowed = "letters, digits, _ and -, starting with a letter or _, at most 60"
        raise InputError("name of the coil", f"'{name[:80]}'", allowed)
    if name in LIBRARY:
        raise InputError("name of the coil", f"'{name}', which the library has", "another name")


def _require_free(db: sqlite3.Connection, name: str) -> None:
    row = db.execute(
        "SELECT day, method FROM own_coils WHERE name = ? AND removed IS NULL", (name,)
    ).fetchone()
    if row is not None:
        got = f"'{name}', which a coil read {row['day']} has"
        raise Conflict("name of the coil", got, "another name", "or rename or remove that one first")
