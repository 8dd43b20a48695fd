"""Listings ordered from the bench: each one's order, its state, and both as the page shows them.

An order never changes: versions of wirings are permanent, and triggers protect the rest. A listing
goes from queued to running to done, failed or cancelled. If its worker ends in between, it becomes
interrupted: the next worker takes it first and continues where it stopped.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from server.database.store import Store, new_id, now
from server.refusals import Conflict, Unknown

QUEUED, RUNNING, DONE, FAILED, CANCELLED, INTERRUPTED = STATES = (
    "queued",
    "running",
    "done",
    "failed",
    "cancelled",
    "interrupted",
)
WAITING = (QUEUED, INTERRUPTED)
ENDED = (DONE, FAILED, CANCELLED)
SHOWN = ("id", "title", "clips", "seconds", "created", "state", "started", "ended", "archived")


@dataclass(frozen=True)
class OrderedWiring:
    """A wiring of an order.

    Attributes
    ----------
    version, sha256 : str
        Id of the version, and the digest of its text.
    name : str
        Name for people.
    folder : str
        Folder of its files; each wiring of the listing has its own.
    positions : tuple of str
        Empty for all.
    text : str
        Text of the version; empty in an order about to be written.
    """

    version: str
    sha256: str
    name: str
    folder: str
    positions: tuple[str, ...] = ()
    text: str = ""


@dataclass(frozen=True)
class OrderedTake:
    """A take of an order.

    Attributes
    ----------
    file : str
        Its name in file names.
    """

    id: str
    name: str
    file: str


@dataclass(frozen=True)
class Order:
    """What a listing is to hold.

    Attributes
    ----------
    options : mapping
        As JSON: ``settings``, ``formats``, ``loudness_lufs``, ``rate_hz``, ``names``, ``artist``,
        ``address``, ``through``, ``limit``, ``hum``, and ``sales`` by version.
    """

    title: str
    wirings: tuple[OrderedWiring, ...]
    takes: tuple[OrderedTake, ...]
    options: Mapping[str, Any] = field(default_factory=dict)


def create(store: Store, order: Order, *, clips: int, files: Sequence[int], seconds: float) -> str:
    """Put a listing into the queue; return its id.

    Parameters
    ----------
    clips : int
        Clips to make.
    files : sequence of int
        Files to make, per wiring.
    seconds : float
        Length of the clips together, s.
    """
    job, moment = new_id(), now()
    options = json.dumps(dict(order.options), ensure_ascii=False)
    with store.write() as db:
        db.execute(
            "INSERT INTO listing_jobs (id, title, options, clips, seconds, created, queued)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (job, order.title, options, clips, seconds, moment, moment),
        )
        db.executemany(
            "INSERT INTO listing_wirings"
            " (job_id, number, version_id, version_sha256, name, folder, positions, files)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (job, number, one.version, one.sha256, one.name, one.folder,
                 json.dumps(one.positions, ensure_ascii=False), n_files)
                for number, (one, n_files) in enumerate(zip(order.wirings, files, strict=True), 1)
            ],
        )  # fmt: skip
        db.executemany(
            "INSERT INTO listing_takes VALUES (?, ?, ?, ?, ?)",
            [(job, number, one.id, one.name, one.file) for number, one in enumerate(order.takes, 1)],
        )
    return job


def read_order(store: Store, job: str) -> Order:
    """Return the order of a listing, with the texts of its wirings.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        row = row_of(db, job)
        wirings = db.execute(
            "SELECT listing_wirings.*, versions.text FROM listing_wirings"
            " JOIN versions ON versions.id = version_id WHERE job_id = ? ORDER BY number",
            (job,),
        ).fetchall()
        takes = db.execute("SELECT * FROM listing_takes WHERE job_id = ? ORDER BY number", (job,)).fetchall()
    return Order(
        row["title"],
        tuple(
            OrderedWiring(
                one["version_id"], one["version_sha256"], one["name"], one["folder"],
                tuple(json.loads(one["positions"])), one["text"],
            )
            for one in wirings
        ),
        tuple(OrderedTake(one["take_id"], one["name"], one["file"]) for one in takes),
        json.loads(row["options"]),
    )  # fmt: skip


def row_of(db: sqlite3.Connection, job: str) -> sqlite3.Row:
    """Return the row of a listing.

    Raises
    ------
    Unknown
        If no listing has this id.
    """
    row: sqlite3.Row | None = db.execute("SELECT * FROM listing_jobs WHERE id = ?", (job,)).fetchone()
    if row is None:
        raise Unknown("listing", f"'{job}'", "the id of a listing")
    return row


def state_of(store: Store, job: str) -> str:
    """Return the state of a listing, one of `STATES`.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        return str(row_of(db, job)["state"])


def cancel(store: Store, job: str) -> None:
    """End a listing, or ask its worker to; finished files stay.

    Raises
    ------
    Unknown
    Conflict
        If it has ended already.
    """
    with store.write() as db:
        row = row_of(db, job)
        if row["state"] in ENDED:
            raise Conflict("listing", f"one that is {row['state']}", "one that waits or runs")
        if row["state"] == RUNNING:
            db.execute("UPDATE listing_jobs SET wish = 'cancel' WHERE id = ?", (job,))
            note_change(db, job)
        else:
            end_row(db, job, CANCELLED)


def resume(store: Store, job: str) -> None:
    """Put an ended listing into the queue again.

    Raises
    ------
    Unknown
    Conflict
        If it waits or runs, or is archived.
    """
    with store.write() as db:
        row = row_of(db, job)
        if row["state"] not in ENDED:
            raise Conflict("listing", f"one that is {row['state']}", "one that has ended")
        if row["archived"] is not None:
            raise Conflict("listing", "one that is archived", "one in the list", "bring it back first")
        db.execute(
            "UPDATE listing_jobs SET state = 'queued', wish = '', tries = 0, queued = ?, ended = NULL,"
            " progress = '{}', report = '{}' WHERE id = ?",
            (now(), job),
        )
        reset_wirings(db, job)
        note_change(db, job)


def archive(store: Store, job: str, *, away: bool) -> None:
    """Archive an ended listing, or bring it back; its files stay.

    Raises
    ------
    Unknown
    Conflict
        If it waits or runs.
    """
    with store.write() as db:
        row = row_of(db, job)
        if away and row["state"] not in ENDED:
            raise Conflict("listing", f"one that is {row['state']}", "one that has ended", "cancel it first")
        put_away = (row["archived"] or now()) if away else None
        db.execute("UPDATE listing_jobs SET archived = ? WHERE id = ?", (put_away, job))
        note_change(db, job)


def end_row(db: sqlite3.Connection, job: str, state: str, report: Mapping[str, Any] | None = None) -> None:
    """End a listing, within a transaction."""
    text = json.dumps(dict(report or {}), ensure_ascii=False)
    db.execute(
        "UPDATE listing_jobs SET state = ?, wish = '', ended = ?, report = ? WHERE id = ?",
        (state, now(), text, job),
    )
    db.execute("UPDATE listing_wirings SET state = 'waiting' WHERE job_id = ? AND state = 'running'", (job,))
    note_change(db, job)


def reset_wirings(db: sqlite3.Connection, job: str) -> None:
    """Clear the results of a listing's wirings, within a transaction."""
    db.execute(
        "UPDATE listing_wirings SET state = 'waiting', files_done = 0, reused = 0, problems = '[]',"
        " warnings = '[]' WHERE job_id = ?",
        (job,),
    )


def note_change(db: sqlite3.Connection, job: str) -> None:
    """Count one more change of a listing, within a transaction."""
    db.execute("UPDATE listing_jobs SET changes = changes + 1 WHERE id = ?", (job,))


def list_orders(store: Store, *, archived: bool = False) -> list[dict[str, Any]]:
    """Return the listings, or the archived ones, newest first."""
    with store.read() as db:
        rows = db.execute(
            "SELECT * FROM listing_jobs WHERE (archived IS NOT NULL) = ? ORDER BY created DESC, rowid DESC",
            (archived,),
        ).fetchall()
        line = _waiting_line(db)
        return [_as_shown(db, row, line) for row in rows]


def get_order(store: Store, job: str) -> dict[str, Any]:
    """Return a listing with its wirings.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        return _as_shown(db, row_of(db, job), _waiting_line(db))


def count_changes(store: Store) -> int:
    """Return a number that grows with every change of a listing; never 0."""
    with store.read() as db:
        row = db.execute("SELECT 1 + coalesce(sum(changes), 0) FROM listing_jobs").fetchone()
        return int(row[0])


def _waiting_line(db: sqlite3.Connection) -> list[str]:
    """Return the ids of the listings that wait, the next one first."""
    rows = db.execute(
        "SELECT id FROM listing_jobs WHERE state IN ('queued', 'interrupted')"
        " ORDER BY state = 'queued', queued, rowid"
    )
    return [str(row["id"]) for row in rows]


def _as_shown(db: sqlite3.Connection, row: sqlite3.Row, line: list[str]) -> dict[str, Any]:
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
