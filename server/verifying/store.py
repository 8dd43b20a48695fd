"""Recordings of a finished guitar beside its sign-off, and the verdict, in the database."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from server.database.store import Store, now
from server.proposals.signoffs import signoff_of
from server.proposals.store import row_of
from server.refusals import Conflict, TooLarge, Unknown

MOST_RECORDINGS = 60
"""Of one guitar: more settings than anybody records."""
COLUMNS = ("setting", "name", "came", "seconds", "strums", "peak", "loudness_lufs")


@dataclass(frozen=True)
class Taken:
    """A recording as it is kept.

    Attributes
    ----------
    peak : float
        Of the file, full scale 1.
    loudness_lufs : float or None
        Of the kept sound; None for silence.
    sound : bytes
        FLAC, one channel.
    """

    seconds: float
    strums: int
    peak: float
    loudness_lufs: float | None
    sound: bytes


@dataclass(frozen=True)
class Kept:
    """Everything kept beside one sign-off.

    Attributes
    ----------
    signoff : mapping of str to Any
        As `signoff_of` returns it.
    recordings : mapping of str to mapping
        By setting, without their sound.
    fields : mapping of str to Any
        What was typed.
    verdict : mapping of str to Any, or None
        On what stands here; None before it, and after any change.
    """

    signoff: Mapping[str, Any]
    recordings: Mapping[str, Mapping[str, Any]]
    fields: Mapping[str, Any]
    verdict: Mapping[str, Any] | None


def get_kept(store: Store, proposal: str) -> Kept:
    """Return what is kept beside a sign-off.

    Raises
    ------
    Unknown
        If there is no such proposal.
    Conflict
        If it is not signed.
    """
    with store.read() as db:
        return _kept(db, proposal)


def _signed(db: sqlite3.Connection, proposal: str) -> dict[str, Any]:
    row_of(db, proposal)
    signed = signoff_of(db, proposal)
    if signed is None:
        raise Conflict("this proposal", "no sign-off yet", "recordings of what was signed and built")
    return signed


def _kept(db: sqlite3.Connection, proposal: str) -> Kept:
    signed = _signed(db, proposal)
    rows = db.execute(
        f"SELECT {', '.join(COLUMNS)} FROM guitar_recordings WHERE proposal_id = ? ORDER BY setting",
        (proposal,),
    ).fetchall()
    asked = db.execute("SELECT * FROM guitar_verdicts WHERE proposal_id = ?", (proposal,)).fetchone()
    return Kept(
        signed,
        {row["setting"]: {key: row[key] for key in COLUMNS[1:]} for row in rows},
        {} if asked is None else json.loads(asked["fields"]),
        None if asked is None or asked["verdict"] is None else json.loads(asked["verdict"]),
    )


def keep_recording(store: Store, proposal: str, setting: str, name: str, taken: Taken) -> None:
    """Keep a recording in the place of the one before; the verdict goes.

    Raises
    ------
    Unknown, Conflict
        As `get_kept`.
    TooLarge
        For more than `MOST_RECORDINGS`.
    """
    with store.write() as db:
        there = _kept(db, proposal).recordings
        if setting not in there and len(there) >= MOST_RECORDINGS:
            raise TooLarge("recordings", f"{len(there)} of this guitar", f"at most {MOST_RECORDINGS}")
        db.execute(
            "INSERT OR REPLACE INTO guitar_recordings"
            " (proposal_id, setting, name, came, seconds, strums, peak, loudness_lufs, sound)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                proposal, setting, name, now(), taken.seconds, taken.strums, taken.peak, taken.loudness_lufs,
                taken.sound,
            ),
        )  # fmt: skip
        _change(db, proposal, verdict=None)


def drop_recording(store: Store, proposal: str, setting: str) -> None:
    """Throw a recording away, and the verdict with it.

    Raises
    ------
    Unknown, Conflict
        As `get_kept`.
    """
    with store.write() as db:
        _signed(db, proposal)
        db.execute("DELETE FROM guitar_recordings WHERE proposal_id = ? AND setting = ?", (proposal, setting))
        _change(db, proposal, verdict=None)


def keep_fields(store: Store, proposal: str, fields: Mapping[str, Any]) -> None:
    """Keep what was typed; a verdict that was found without it goes.

    Raises
    ------
    Unknown, Conflict
        As `get_kept`.
    """
    with store.write() as db:
        if _kept(db, proposal).fields != fields:
            _change(db, proposal, fields=json.dumps(fields, ensure_ascii=False), verdict=None)


def keep_verdict(store: Store, proposal: str, verdict: Mapping[str, Any], of: Kept) -> None:
    """Keep a verdict, unless what it was made of has changed meanwhile.

    Raises
    ------
    Unknown, Conflict
        As `get_kept`.
    """
    with store.write() as db:
        stands = _kept(db, proposal)
        if (stands.recordings, stands.fields) == (of.recordings, of.fields):
            _change(db, proposal, verdict=json.dumps(verdict, ensure_ascii=False))


def _change(db: sqlite3.Connection, proposal: str, **columns: str | None) -> None:
    db.execute(
        "INSERT INTO guitar_verdicts (proposal_id, fields, changed) VALUES (?, '{}', ?)"
        " ON CONFLICT (proposal_id) DO UPDATE SET changed = excluded.changed",
        (proposal, now()),
    )
    for name, value in columns.items():
        db.execute(f"UPDATE guitar_verdicts SET {name} = ? WHERE proposal_id = ?", (value, proposal))


def read_sound(store: Store, proposal: str, setting: str) -> bytes:
    """Return the kept sound of a recording.

    Raises
    ------
    Unknown
        If there is none.
    """
    with store.read() as db:
        row = db.execute(
            "SELECT sound FROM guitar_recordings WHERE proposal_id = ? AND setting = ?", (proposal, setting)
        ).fetchone()
    if row is None:
        raise Unknown("recording", f"none of setting {setting}", "one that was brought")
    return bytes(row["sound"])
