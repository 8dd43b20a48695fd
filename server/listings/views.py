"""Listings as the page shows them."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from server.database.store import Store
from server.listings.store import WAITING, row_of

SHOWN = ("id", "title", "clips", "seconds", "created", "state", "started", "ended", "archived")


def listed(store: Store, *, archived: bool = False) -> list[dict[str, Any]]:
    """Every listing with its wirings, the newest first.

    Parameters
    ----------
    store : Store
    archived : bool
        Those put away instead of those in the list.
    """
    with store.read() as db:
        rows = db.execute(
            "SELECT * FROM listing_jobs WHERE (archived IS NOT NULL) = ? ORDER BY created DESC, rowid DESC",
            (archived,),
        ).fetchall()
        line = _line(db)
        return [_shown(db, row, line) for row in rows]


def one(store: Store, job: str) -> dict[str, Any]:
    """A listing with its wirings.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        return _shown(db, row_of(db, job), _line(db))


def changes(store: Store) -> int:
    """A number that is another whenever any listing has changed; never 0."""
    with store.read() as db:
        row = db.execute("SELECT 1 + coalesce(sum(changes), 0) FROM listing_jobs").fetchone()
        return int(row[0])


def _line(db: sqlite3.Connection) -> list[str]:
    """Ids of those that wait, in the order they will be taken."""
    rows = db.execute(
        "SELECT id FROM listing_jobs WHERE state IN ('queued', 'interrupted')"
        " ORDER BY state = 'queued', queued, rowid"
    )
    return [str(row["id"]) for row in rows]


def _shown(db: sqlite3.Connection, row: sqlite3.Row, line: list[str]) -> dict[str, Any]:
    job = row["id"]
    takes = db.execute("SELECT name FROM listing_takes WHERE job_id = ? ORDER BY number", (job,))
    return {
        **{key: row[key] for key in SHOWN},
        "cancelling": row["wish"] == "cancel",
        "ahead": line.index(job) if row["state"] in WAITING else 0,
        "options": json.loads(row["options"]),
        "progress": json.loads(row["progress"]),
        "report": json.loads(row["report"]),
        "takes": [take["name"] for take in takes],
        "instruments": _instruments(db, job),
    }


def _instruments(db: sqlite3.Connection, job: str) -> list[dict[str, Any]]:
    rows = db.execute(
        "SELECT number, version_id AS version, name, folder, positions, state, files, files_done, reused,"
        " problems, warnings FROM listing_wirings WHERE job_id = ? ORDER BY number",
        (job,),
    )
    lists = ("positions", "problems", "warnings")
    return [{**dict(row), **{key: json.loads(row[key]) for key in lists}} for row in rows]
