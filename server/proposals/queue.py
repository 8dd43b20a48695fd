"""The queue of clips to be rendered; in the database, to survive restarts."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.chain.ways import DIRECT
from server.database.store import Store
from server.proposals.store import count_change, items_of, takes_of
from server.proposals.ways import ways_of

MOST_TRIES = 3
"""A job is given up after so many starts without an end: it may be what ends the worker."""


@dataclass(frozen=True)
class Job:
    """The clips of one proposal with one take."""

    proposal: str
    take: str


@dataclass(frozen=True)
class Made:
    """A clip that was rendered and stored; see table ``proposal_clips``.

    Attributes
    ----------
    way : str
        In which it is heard.
    """

    number: int
    flac_sha256: str
    mp3_sha256: str
    frames: int
    rate_hz: int
    loudness_lufs: float | None
    wired_gain_db: float
    record: Mapping[str, Any]
    way: str = DIRECT.name


@dataclass(frozen=True)
class Before:
    """The clips of a take in a way that a proposal has, for one more to match.

    Attributes
    ----------
    loudness_lufs : float or None
        Of the loudest file; None if all are silent.
    wired_at_db : float or None
        What undoes the matching of a clip whose gain to the true differences is 0 dB.
    lowered_db : float
        What the drive of the set gives way by.
    """

    loudness_lufs: float | None
    wired_at_db: float | None
    lowered_db: float = 0.0


def waiting(store: Store) -> int:
    """How many jobs have not ended."""
    with store.read() as db:
        row = db.execute("SELECT count(*) FROM clip_jobs WHERE state IN ('queued', 'running')").fetchone()
        return int(row[0])


def requeue_interrupted(store: Store) -> None:
    """Queue again what a worker left behind. Call as the only worker."""
    with store.write() as db:
        rows = db.execute("SELECT * FROM clip_jobs WHERE state = 'running'").fetchall()
        for row in rows:
            given_up = row["tries"] >= MOST_TRIES
            _set(db, Job(row["proposal_id"], row["take_id"]), "failed" if given_up else "queued",
                 error=f"stopped {MOST_TRIES} times without an end" if given_up else "")  # fmt: skip


def take_next(store: Store) -> Job | None:
    """Mark the oldest waiting job as running; that job, or None."""
    with store.write() as db:
        row = db.execute(
            "SELECT clip_jobs.* FROM clip_jobs JOIN proposals ON proposals.id = proposal_id"
            " JOIN proposal_takes USING (proposal_id, take_id)"
            " WHERE state = 'queued' ORDER BY created, place LIMIT 1"
        ).fetchone()
        if row is None:
            return None
        job = Job(row["proposal_id"], row["take_id"])
        db.execute(
            "UPDATE clip_jobs SET tries = tries + 1 WHERE proposal_id = ? AND take_id = ?",
            (job.proposal, job.take),
        )
        _set(db, job, "running")
        return job


def save_progress(store: Store, job: Job, share: float) -> None:
    """Save the share of a running job that is done, 0 to 1."""
    with store.write() as db:
        _set(db, job, "running", share=share)


def finish(store: Store, job: Job, made: Sequence[Made]) -> None:
    """Save the clips of a job and end it, in one transaction."""
    with store.write() as db:
        insert_clips(db, job.proposal, job.take, made)
        _set(db, job, "done", share=1.0)


def insert_clips(db: sqlite3.Connection, proposal: str, take: str, made: Sequence[Made]) -> None:
    """Insert rendered clips of a take; one that is there stays."""
    db.executemany(
        "INSERT OR IGNORE INTO proposal_clips VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (proposal, one.number, take, one.way, one.flac_sha256, one.mp3_sha256, one.frames, one.rate_hz,
             one.loudness_lufs, one.wired_gain_db, json.dumps(one.record, ensure_ascii=False))
            for one in made
        ],
    )  # fmt: skip


def fail(store: Store, job: Job, error: str) -> None:
    """End a job that cannot be done, and say why."""
    with store.write() as db:
        _set(db, job, "failed", error=error)


def _set(db: sqlite3.Connection, job: Job, state: str, *, share: float = 0.0, error: str = "") -> None:
    db.execute(
        "UPDATE clip_jobs SET state = ?, share = ?, error = ? WHERE proposal_id = ? AND take_id = ?",
        (state, share, error, job.proposal, job.take),
    )
    count_change(db, job.proposal)


def ways_to_render(store: Store, proposal: str) -> list[str]:
    """Return the ways in which each sound of a proposal is rendered."""
    with store.read() as db:
        return ways_of(db, proposal)


def items_to_render(store: Store, proposal: str) -> list[dict[str, Any]]:
    """The items of a proposal with the text of each one's wiring."""
    with store.read() as db:
        texts = {
            row["id"]: row["text"]
            for row in db.execute(
                "SELECT id, text FROM versions WHERE id IN"
                " (SELECT version_id FROM proposal_items WHERE proposal_id = ?)",
                (proposal,),
            )
        }
        return [{**item, "text": texts[item["version_id"]]} for item in items_of(db, proposal)]


def clips_of(db: sqlite3.Connection, proposal: str, way: str | None = None) -> list[sqlite3.Row]:
    """Return the finished clips of a proposal, by number, take and way.

    Parameters
    ----------
    way : str or None
        In which they are heard; None for every way.
    """
    return db.execute(
        "SELECT proposal_clips.* FROM proposal_clips"
        " JOIN proposal_takes AS takes USING (proposal_id, take_id)"
        " JOIN proposal_ways AS ways USING (proposal_id, way)"
        " WHERE proposal_id = ?1 AND (?2 IS NULL OR way = ?2) ORDER BY number, takes.place, ways.place",
        (proposal, way),
    ).fetchall()


def clips_before(store: Store, proposal: str) -> dict[str, dict[str, Before]]:
    """Return what one more clip is to match, by take, then by way."""
    with store.read() as db:
        takes, ways = takes_of(db, proposal), ways_of(db, proposal)
        clips = {way: clips_of(db, proposal, way) for way in ways}
        return {row["take_id"]: {way: _before(clips[way], row["take_id"]) for way in ways} for row in takes}


def _before(clips: Sequence[sqlite3.Row], take: str) -> Before:
    loud = [one for one in clips if one["take_id"] == take and one["loudness_lufs"] is not None]
    if not loud:
        return Before(None, None)
    first, record = loud[0], json.loads(loud[0]["record"])
    return Before(
        max(one["loudness_lufs"] for one in loud),
        -record["gain_db"] - first["wired_gain_db"],
        record.get("drive_lowered_db", 0.0),
    )


def readiness(db: sqlite3.Connection, proposal: str) -> tuple[float, list[str]]:
    """Share of the clips rendered, 0 to 1, and what went wrong."""
    rows = db.execute("SELECT * FROM clip_jobs WHERE proposal_id = ?", (proposal,)).fetchall()
    share = sum(row["share"] for row in rows) / max(len(rows), 1)
    return round(share, 4), [row["error"] for row in rows if row["state"] == "failed"]
