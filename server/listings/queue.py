"""The listing queue: next order, progress, end. Used by the listing process alone."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from server.database.store import Store, now
from server.listings.store import CANCELLED, FAILED, end_row, note_change, reset_wirings, row_of

MOST_TRIES = 3
"""A listing is given up after so many ends of its worker without any progress: it may be the cause."""


def waiting(store: Store) -> bool:
    """Whether a listing has not ended."""
    with store.read() as db:
        query = "SELECT 1 FROM listing_jobs WHERE state IN ('queued', 'running', 'interrupted') LIMIT 1"
        return db.execute(query).fetchone() is not None


def mark_interrupted(store: Store, *, died: bool) -> None:
    """Mark what a worker left behind. Call when no worker runs.

    Parameters
    ----------
    died : bool
        Whether the worker ended by itself: then its listing may be the cause.
    """
    with store.write() as db:
        for row in db.execute("SELECT * FROM listing_jobs WHERE state = 'running'").fetchall():
            job, tries = row["id"], row["tries"] + died
            if row["wish"] == "cancel":
                end_row(db, job, CANCELLED)
            elif tries >= MOST_TRIES:
                got = f"its process ended {MOST_TRIES} times before anything was finished"
                end_row(db, job, FAILED, {"problems": [f"{got}: out of memory?"]})
            else:
                db.execute(
                    "UPDATE listing_jobs SET state = 'interrupted', tries = ? WHERE id = ?", (tries, job)
                )
                note_change(db, job)


def take_next(store: Store) -> str | None:
    """Mark the next listing as running; its id, or None if none waits."""
    with store.write() as db:
        row = db.execute(
            "SELECT id FROM listing_jobs WHERE state IN ('queued', 'interrupted')"
            " ORDER BY state = 'queued', queued, rowid LIMIT 1"
        ).fetchone()
        if row is None:
            return None
        job = str(row["id"])
        db.execute("UPDATE listing_jobs SET state = 'running', started = ? WHERE id = ?", (now(), job))
        reset_wirings(db, job)
        note_change(db, job)
        return job


def cancel_requested(store: Store, job: str) -> bool:
    """Whether somebody has cancelled a running listing."""
    with store.read() as db:
        return bool(row_of(db, job)["wish"] == "cancel")


def save_progress(store: Store, job: str, about: Mapping[str, Any], files_done: Mapping[str, int]) -> None:
    """Save how far a running listing is.

    Parameters
    ----------
    about : mapping
        As JSON.
    files_done : mapping of str to int
        Of each wiring at work, by its folder.
    """
    with store.write() as db:
        db.execute(
            "UPDATE listing_jobs SET progress = ?, tries = 0 WHERE id = ?", (json.dumps(dict(about)), job)
        )
        db.executemany(
            "UPDATE listing_wirings SET files_done = ?, state = 'running'"
            " WHERE job_id = ? AND folder = ? AND state IN ('waiting', 'running')",
            [(count, job, folder) for folder, count in files_done.items()],
        )
        note_change(db, job)


def save_wiring(store: Store, job: str, folder: str, event: Mapping[str, Any]) -> None:
    """Save the result of one wiring, an ``instrument`` event of a run."""
    texts = [json.dumps(list(event[key]), ensure_ascii=False) for key in ("problems", "warnings")]
    with store.write() as db:
        db.execute(
            "UPDATE listing_wirings SET state = ?, files_done = ?, reused = ?, problems = ?, warnings = ?"
            " WHERE job_id = ? AND folder = ?",
            (event["state"], event["files"], event["reused"], *texts, job, folder),
        )
        note_change(db, job)


def finish(store: Store, job: str, state: str, report: Mapping[str, Any]) -> None:
    """End a running listing with its report."""
    with store.write() as db:
        end_row(db, job, state, report)
