"""Built instruments in the database: each by its serial number, every state of it an entry that stays."""

from __future__ import annotations

import datetime
import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError
from server.built.store import clear_readings
from server.commissions.versions import version_row, wiring_row
from server.database.store import Store, folded, new_id, now
from server.refusals import Conflict, Unknown

LATEST = (
    "SELECT built.id, built.wiring_id, built.archived, built_entries.*, wirings.name AS wiring,"
    " versions.number AS version_number, commission_id, title, client"
    " FROM built JOIN built_entries ON built_id = built.id"
    " JOIN wirings ON wirings.id = built.wiring_id JOIN versions ON versions.id = version_id"
    " JOIN commissions ON commissions.id = commission_id"
)
NEWEST = "built_entries.number = (SELECT max(number) FROM built_entries WHERE built_id = built.id)"


@dataclass(frozen=True)
class Entry:
    """One state of a built instrument.

    Attributes
    ----------
    version : str
        Id of the version that it is judged against.
    signed : str
        Date of that version's sign-off; empty for none.
    day : str
        Of the readings, ISO 8601.
    readings : list of mapping
        As judged: setting, what, value, source, expected, band, side, read and words.
    verdict : mapping of str to Any
        Text, how many were read, planned and outside, and whether the exciter's sides were kept.
    """

    serial: str
    version: str
    signed: str
    day: str
    notes: str
    readings: list[Mapping[str, Any]]
    verdict: Mapping[str, Any]


def add_instrument(store: Store, wiring: str, entry: Entry) -> str:
    """Keep a new instrument and empty the fields; return its id.

    Raises
    ------
    Unknown
        If there is no such wiring or version.
    Conflict
        If another instrument has the serial number.
    InputError
        As `require_entry`.
    """
    built = new_id()
    with store.write() as db:
        wiring_row(db, wiring)
        key = require_entry(db, wiring, entry)
        _require_free(db, key, entry.serial, "")
        db.execute(
            "INSERT INTO built (id, wiring_id, serial_key, created) VALUES (?, ?, ?, ?)",
            (built, wiring, key, now()),
        )
        _insert(db, built, 1, entry)
        clear_readings(db, wiring)
    return built


def change_instrument(store: Store, built: str, base: int, entry: Entry) -> None:
    """Keep a newer state of an instrument beside those before.

    Parameters
    ----------
    base : int
        Number of the entry that was changed; must be the latest.

    Raises
    ------
    Unknown
        If there is no such instrument or version.
    Conflict
        If there is a newer entry, or another instrument has the serial number.
    InputError
        As `require_entry`.
    """
    with store.write() as db:
        row = _row(db, built)
        if row["number"] != base:
            got = f"a change of entry {base}"
            raise Conflict("this instrument", got, f"entry {row['number']}, which is newer", "open it again")
        key = require_entry(db, row["wiring_id"], entry)
        _require_free(db, key, entry.serial, built)
        db.execute("UPDATE built SET serial_key = ? WHERE id = ?", (key, built))
        _insert(db, built, base + 1, entry)
        clear_readings(db, row["wiring_id"])


def set_archived(store: Store, built: str, *, archived: bool) -> None:
    """Put an instrument away, or bring it back; its serial number stays taken.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        row = _row(db, built)
        moment = (row["archived"] or now()) if archived else None
        db.execute("UPDATE built SET archived = ? WHERE id = ?", (moment, built))


def list_instruments(
    store: Store, search: str = "", *, wiring: str = "", archived: bool = False
) -> list[dict[str, Any]]:
    """Return instruments as they stand now, the last read first.

    Parameters
    ----------
    search : str
        Words that serial number, wiring, commission, client or notes must hold, in any case.
    wiring : str
        Return those of one wiring; empty for all.
    """
    with store.read() as db:
        rows = db.execute(
            f"{LATEST} WHERE {NEWEST} AND (built.archived IS NOT NULL) = ?"
            " AND (? = '' OR built.wiring_id = ?) ORDER BY day DESC, built_entries.saved DESC",
            (archived, wiring, wiring),
        ).fetchall()
    words = folded(search).split()
    searched = ("serial", "wiring", "title", "client", "notes")
    return [
        _record(row)
        for row in rows
        if all(word in folded(" ".join(str(row[key]) for key in searched)) for word in words)
    ]


def get_instrument(store: Store, built: str) -> dict[str, Any]:
    """Return an instrument with its earlier entries, the newest first.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        latest = _record(_row(db, built))
        rows = db.execute(f"{LATEST} WHERE built.id = ? ORDER BY built_entries.number DESC", (built,))
        return {**latest, "history": [_record(row) for row in rows][1:]}


def serial_key(serial: str) -> str:
    """Return a serial number as two are compared: no case, no spaces."""
    return "".join(folded(serial).split())


def require_entry(db: sqlite3.Connection, wiring: str, entry: Entry) -> str:
    """Return the key of an entry's serial number, if the entry can be kept.

    Raises
    ------
    Unknown
        If its version is not one of the wiring's.
    InputError
        If it lacks a serial number, a day, or a reading that was understood.
    """
    if version_row(db, entry.version)["wiring_id"] != wiring:
        raise Unknown("version", f"'{entry.version}'", "a version of this wiring")
    key = serial_key(entry.serial)
    if not key:
        allowed = "what the workshop calls this instrument, such as 26-014"
        raise InputError("serial number", "nothing", allowed)
    try:
        day = datetime.date.fromisoformat(entry.day)
    except ValueError as error:
        raise InputError("date", entry.day, "a day such as 2026-03-12") from error
    tomorrow = datetime.datetime.now(datetime.UTC).date() + datetime.timedelta(days=1)
    if day.isoformat() != entry.day or day > tomorrow:  # somewhere it is tomorrow already
        raise InputError("date", entry.day, "a day such as 2026-03-12, no later than today")
    if bad := [one for one in entry.readings if one["side"] == "problem"]:
        got = f"'{bad[0]['value']}' at {bad[0]['setting']}"
        raise InputError("readings", got, "values that can be read, such as 8.1 kΩ, 0 or open")
    if not entry.verdict["read"]:
        raise InputError("readings", "none that is judged", "one reading at least")
    return key


def _require_free(db: sqlite3.Connection, key: str, serial: str, own: str) -> None:
    """Refuse a serial number that another instrument has."""
    taken = db.execute("SELECT id FROM built WHERE serial_key = ? AND id != ?", (key, own)).fetchone()
    if taken is None:
        return
    row = _row(db, taken["id"])
    where = f"{row['serial']}, {row['wiring']}, {row['day']}" + (", archived" if row["archived"] else "")
    hint = "open that one to read it again, or give this instrument another number"
    got = f"'{serial}', which an instrument has already ({where})"
    raise Conflict("serial number", got, "a number of its own", hint)


def _insert(db: sqlite3.Connection, built: str, number: int, entry: Entry) -> None:
    readings, verdict = (json.dumps(one, ensure_ascii=False) for one in (entry.readings, entry.verdict))
    row = (built, number, entry.serial.strip(), entry.version, entry.signed, entry.day, entry.notes.strip())
    columns = ", ".join("?" * 10)
    db.execute(f"INSERT INTO built_entries VALUES ({columns})", (*row, readings, verdict, now()))


def _row(db: sqlite3.Connection, built: str) -> sqlite3.Row:
    row: sqlite3.Row | None = db.execute(f"{LATEST} WHERE {NEWEST} AND built.id = ?", (built,)).fetchone()
    if row is None:
        raise Unknown("instrument", f"'{built}'", "the id of a built instrument")
    return row


def _record(row: sqlite3.Row) -> dict[str, Any]:
    plain = (
        "id", "wiring_id", "wiring", "commission_id", "title", "client", "version_id", "version_number",
        "signed", "serial", "number", "day", "notes", "saved", "archived",
    )  # fmt: skip
    said = {key: row[key] for key in plain}
    return {**said, "readings": json.loads(row["readings"]), "verdict": json.loads(row["verdict"])}
