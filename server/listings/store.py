"""Listings made from the bench: what each was asked to hold, and its place in the queue.

What was asked for stays as it was: versions of wirings never change, and triggers keep the rest. A
listing goes from queued to running to done, failed or cancelled; one whose worker went away in between
is interrupted, comes first when there is a worker again, and goes on where it stood.
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


@dataclass(frozen=True)
class ListedWiring:
    """A wiring of a listing.

    Attributes
    ----------
    version, sha256 : str
        Id of the version, and the digest of its text.
    name : str
        For people.
    folder : str
        Of its files; no other wiring of the listing has it.
    positions : tuple of str
        Empty for all.
    text : str
        Of the version; empty in what is to be written.
    """

    version: str
    sha256: str
    name: str
    folder: str
    positions: tuple[str, ...] = ()
    text: str = ""


@dataclass(frozen=True)
class ListedTake:
    """A take of a listing.

    Attributes
    ----------
    id, name : str
    file : str
        What it is called in file names.
    """

    id: str
    name: str
    file: str


@dataclass(frozen=True)
class Asked:
    """What a listing is to hold.

    Attributes
    ----------
    title : str
    wirings : tuple of ListedWiring
    takes : tuple of ListedTake
    options : mapping
        As JSON: ``settings``, ``formats``, ``loudness_lufs``, ``rate_hz``, ``names``.
    """

    title: str
    wirings: tuple[ListedWiring, ...]
    takes: tuple[ListedTake, ...]
    options: Mapping[str, Any] = field(default_factory=dict)


def create(store: Store, asked: Asked, *, clips: int, files: Sequence[int], seconds: float) -> str:
    """Put a listing into the queue; its id.

    Parameters
    ----------
    store : Store
    asked : Asked
    clips : int
        There are to be.
    files : sequence of int
        There are to be, per wiring.
    seconds : float
        Length of the clips together.
    """
    job, moment = new_id(), now()
    options = json.dumps(dict(asked.options), ensure_ascii=False)
    with store.write() as db:
        db.execute(
            "INSERT INTO listing_jobs (id, title, options, clips, seconds, created, queued)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (job, asked.title, options, clips, seconds, moment, moment),
        )
        db.executemany(
            "INSERT INTO listing_wirings"
            " (job_id, number, version_id, version_sha256, name, folder, positions, files)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (job, number, one.version, one.sha256, one.name, one.folder,
                 json.dumps(one.positions, ensure_ascii=False), n_files)
                for number, (one, n_files) in enumerate(zip(asked.wirings, files, strict=True), 1)
            ],
        )  # fmt: skip
        db.executemany(
            "INSERT INTO listing_takes VALUES (?, ?, ?, ?, ?)",
            [(job, number, one.id, one.name, one.file) for number, one in enumerate(asked.takes, 1)],
        )
    return job


def asked_of(store: Store, job: str) -> Asked:
    """What a listing was asked to hold, with the texts of its wirings.

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
    return Asked(
        row["title"],
        tuple(
            ListedWiring(
                one["version_id"], one["version_sha256"], one["name"], one["folder"],
                tuple(json.loads(one["positions"])), one["text"],
            )
            for one in wirings
        ),
        tuple(ListedTake(one["take_id"], one["name"], one["file"]) for one in takes),
        json.loads(row["options"]),
    )  # fmt: skip


def row_of(db: sqlite3.Connection, job: str) -> sqlite3.Row:
    """The row of a listing, or Unknown.

    Raises
    ------
    Unknown
        If there is none.
    """
    row: sqlite3.Row | None = db.execute("SELECT * FROM listing_jobs WHERE id = ?", (job,)).fetchone()
    if row is None:
        raise Unknown("listing", f"'{job}'", "the id of a listing")
    return row


def state_of(store: Store, job: str) -> str:
    """How a listing stands; Unknown if there is none."""
    with store.read() as db:
        return str(row_of(db, job)["state"])


def cancel(store: Store, job: str) -> None:
    """Have a listing ended; what is finished stays.

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
            changed(db, job)
        else:
            end_row(db, job, CANCELLED)


def resume(store: Store, job: str) -> None:
    """Put a listing that has ended into the queue again.

    Raises
    ------
    Unknown
    Conflict
        If it waits or runs, or is put away.
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
        rows_wait(db, job)
        changed(db, job)


def archive(store: Store, job: str, *, away: bool) -> None:
    """Put a listing that has ended away, or bring it back; its files stay.

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
        changed(db, job)


def end_row(db: sqlite3.Connection, job: str, state: str, report: Mapping[str, Any] | None = None) -> None:
    """End a listing within a transaction."""
    text = json.dumps(dict(report or {}), ensure_ascii=False)
    db.execute(
        "UPDATE listing_jobs SET state = ?, wish = '', ended = ?, report = ? WHERE id = ?",
        (state, now(), text, job),
    )
    db.execute("UPDATE listing_wirings SET state = 'waiting' WHERE job_id = ? AND state = 'running'", (job,))
    changed(db, job)


def rows_wait(db: sqlite3.Connection, job: str) -> None:
    """Forget what came of the wirings of a listing within a transaction."""
    db.execute(
        "UPDATE listing_wirings SET state = 'waiting', files_done = 0, reused = 0, problems = '[]',"
        " warnings = '[]' WHERE job_id = ?",
        (job,),
    )


def changed(db: sqlite3.Connection, job: str) -> None:
    """Count one more change of a listing."""
    db.execute("UPDATE listing_jobs SET changes = changes + 1 WHERE id = ?", (job,))
