"""Plucked strings of a wiring's guitar, and how sensitive its coils are by them, in the database."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from server.commissions.versions import wiring_row
from server.database.store import Store, new_id, now
from server.refusals import TooLarge, Unknown
from server.verifying.store import Taken

MOST_RECORDINGS = 72
"""Of one guitar: twelve strings in six positions."""
MOST_REMOVED = 4
"""Thrown away or replaced, that can be brought back."""
COLUMNS = ("id", "setting", "string", "name", "came", "seconds", "strums", "peak", "loudness_lufs")
_HERE = "SELECT {columns} FROM pluck_recordings WHERE wiring_id = ? AND removed IS {removed}"
_PLACE = "wiring_id = ? AND setting = ? AND string = ? AND removed IS NULL"


class Place(NamedTuple):
    """A setting, and a string by its number; 0 stands for strums of all."""

    setting: str
    string: int


@dataclass(frozen=True)
class Heard:
    """Everything kept of one wiring.

    Attributes
    ----------
    recordings : mapping of Place to mapping
        Without their sound.
    fields : mapping of str to Any
        What was typed and chosen.
    result : mapping of str to Any, or None
        Found of what stands here; None before it, and after any change.
    removed : mapping of str to Any, or None
        The recording that was thrown away or replaced last.
    """

    recordings: Mapping[Place, Mapping[str, Any]]
    fields: Mapping[str, Any]
    result: Mapping[str, Any] | None
    removed: Mapping[str, Any] | None


def get_heard(store: Store, wiring: str) -> Heard:
    """Return what is kept of a wiring.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.read() as db:
        return _heard(db, wiring)


def _heard(db: sqlite3.Connection, wiring: str) -> Heard:
    wiring_row(db, wiring)
    columns = ", ".join(COLUMNS)
    here = _HERE.format(columns=columns, removed="NULL ORDER BY setting, string DESC")
    rows = [dict(row) for row in db.execute(here, (wiring,))]
    gone = _HERE.format(columns=columns, removed="NOT NULL ORDER BY removed DESC, rowid DESC LIMIT 1")
    last = db.execute(gone, (wiring,)).fetchone()
    kept = db.execute("SELECT * FROM sensitivities WHERE wiring_id = ?", (wiring,)).fetchone()
    return Heard(
        {Place(row["setting"], row["string"]): row for row in rows},
        {} if kept is None else json.loads(kept["fields"]),
        None if kept is None or kept["result"] is None else json.loads(kept["result"]),
        None if last is None else dict(last),
    )


def keep_recording(store: Store, wiring: str, place: Place, name: str, taken: Taken) -> None:
    """Keep a recording; the one before it can come back, the result goes.

    Raises
    ------
    Unknown
        If there is no such wiring.
    TooLarge
        For more than `MOST_RECORDINGS`.
    """
    with store.write() as db:
        there = _heard(db, wiring).recordings
        if place not in there and len(there) >= MOST_RECORDINGS:
            raise TooLarge("recordings", f"{len(there)} of this guitar", f"at most {MOST_RECORDINGS}")
        _remove(db, wiring, place)
        db.execute(
            f"INSERT INTO pluck_recordings ({', '.join(COLUMNS)}, wiring_id, sound)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                new_id(), *place, name, now(), taken.seconds, taken.strums, taken.peak, taken.loudness_lufs,
                wiring, taken.sound,
            ),
        )  # fmt: skip
        _change(db, wiring, result=None)


def drop_recording(store: Store, wiring: str, place: Place) -> None:
    """Take a recording away, and the result; `restore_recording` undoes it.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        _remove(db, wiring, place)
        _change(db, wiring, result=None)


def restore_recording(store: Store, wiring: str, recording: str) -> None:
    """Bring a recording back; one that stands in its place goes instead.

    Raises
    ------
    Unknown
        If there is no such wiring, or the recording is gone for good.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        row = db.execute(
            "SELECT setting, string FROM pluck_recordings"
            " WHERE id = ? AND wiring_id = ? AND removed IS NOT NULL",
            (recording, wiring),
        ).fetchone()
        if row is None:
            raise Unknown("recording", "one that is gone for good", "one of those thrown away last")
        _remove(db, wiring, Place(row["setting"], row["string"]), keep=recording)
        db.execute("UPDATE pluck_recordings SET removed = NULL WHERE id = ?", (recording,))
        _change(db, wiring, result=None)


def _remove(db: sqlite3.Connection, wiring: str, place: Place, keep: str = "") -> None:
    """Put the recording of a place away, and throw away those put away long before.

    Parameters
    ----------
    keep : str
        Id of one that stays whatever its age.
    """
    db.execute(f"UPDATE pluck_recordings SET removed = ? WHERE {_PLACE}", (now(), wiring, *place))
    db.execute(
        "DELETE FROM pluck_recordings WHERE wiring_id = ? AND removed IS NOT NULL AND id != ? AND id NOT IN"
        " (SELECT id FROM pluck_recordings WHERE wiring_id = ? AND removed IS NOT NULL"
        " ORDER BY removed DESC, rowid DESC LIMIT ?)",
        (wiring, keep, wiring, MOST_REMOVED),
    )


def keep_fields(store: Store, wiring: str, fields: Mapping[str, Any]) -> None:
    """Keep what was typed and chosen; a result that was found without it goes.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.write() as db:
        kept = _heard(db, wiring).fields
        if kept != fields:
            same = _compared(kept) == _compared(fields)
            text = json.dumps(fields, ensure_ascii=False)
            _change(db, wiring, fields=text, **({} if same else {"result": None}))


def keep_result(store: Store, wiring: str, result: Mapping[str, Any], of: Heard) -> None:
    """Keep what was found, unless what it was found of has changed meanwhile.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.write() as db:
        stands = _heard(db, wiring)
        same = _compared(stands.fields) == _compared(of.fields)
        if same and stands.recordings == of.recordings:
            _change(db, wiring, result=json.dumps(result, ensure_ascii=False))


def _compared(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields that a comparison hangs on: the strings only say which places a page shows."""
    return {key: value for key, value in fields.items() if key != "strings"}


def _change(db: sqlite3.Connection, wiring: str, **columns: str | None) -> None:
    db.execute(
        "INSERT INTO sensitivities (wiring_id, fields, changed) VALUES (?, '{}', ?)"
        " ON CONFLICT (wiring_id) DO UPDATE SET changed = excluded.changed",
        (wiring, now()),
    )
    for name, value in columns.items():
        db.execute(f"UPDATE sensitivities SET {name} = ? WHERE wiring_id = ?", (value, wiring))


def get_with_sounds(store: Store, wiring: str) -> tuple[Heard, dict[str, bytes]]:
    """Return what is kept of a wiring, and the sounds of its recordings by id.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.read() as db:
        found = _heard(db, wiring)
        rows = db.execute(_HERE.format(columns="id, sound", removed="NULL"), (wiring,)).fetchall()
    return found, {row["id"]: bytes(row["sound"]) for row in rows}
