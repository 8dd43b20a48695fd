"""The farthest two of ten guitars built of an offered wiring, to be heard beside its sounds.

They show what tolerances do. Nobody chooses one: a sign-off and a file name neither. A wiring's two are
rendered whole, after all clips of their proposal, and only then shown.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError
from server.database.store import Store
from server.proposals.describe import read_version
from server.proposals.queue import MOST_TRIES, Made, readiness
from server.proposals.store import count_change, row_of, state_of
from server.proposals.wirings import wirings_of
from server.refusals import Conflict, Unknown
from server.wirings.text import WiringText

WAITING = ("queued", "running")
TOO_LATE = "It was signed before the farthest two were ready: nothing was added."
CLOSED = "The link had ended before the farthest two were ready: nothing was added."
STEPS = 10
"""Of progress. Each step makes every open page of the proposal fetch its offer again."""
Two = tuple[Made, Made]
"""The clips of both, at one sound with one take in one way."""


@dataclass(frozen=True)
class FarthestJob:
    """The farthest two of one offered wiring, with every take of its proposal.

    Attributes
    ----------
    wiring : int
        Its number within the proposal.
    cable : float
        Spread of the players' cables, a share.
    """

    proposal: str
    wiring: int
    built: int
    cable: float


@dataclass(frozen=True)
class Found:
    """Which two are farthest apart.

    Attributes
    ----------
    texts : tuple of str
        Both wirings.
    cable_share : float
        The cable's share of all that differs between guitars, 0 to 1.
    apart : mapping of int to mapping
        By the number of a sound that is not silent: ``band_db`` of the band that differs most, ``level_db``
        between the two, and ``heard``, a word of `dsp.sound.audible`.
    """

    texts: tuple[str, str]
    cable_share: float
    apart: Mapping[int, Mapping[str, Any]]


def find_two(items: Sequence[Mapping[str, Any]], built: int, cable: float) -> Found:
    """Draw guitars of a wiring; find the two farthest apart over its sounds.

    Parameters
    ----------
    items : sequence of mapping
        Sounds of one wiring, as `queue.items_to_render` gives them.
    built : int
        How many guitars.
    cable : float
        Spread of the players' cables, a share.

    Raises
    ------
    InputError
        If the wiring cannot be read, or none of the sounds is heard.
    """
    # only the process that renders needs these
    from dsp.checking.directions import CABLE
    from dsp.checking.spread import find_spread
    from dsp.sound.audible import Difference
    from server.wirings.ends import end_edits

    text = str(items[0]["text"])
    wiring = read_version(text)
    settings = [wiring.setting(one["position"], one["knobs"], one["switches"]) for one in items]
    if not wiring.coils:
        raise InputError("wiring", "no coil", "a wiring that sounds")
    spread = find_spread(wiring, settings, built, cable=cable)
    rows = {id(one.setting): one for one in spread.settings}
    apart = {}
    for item, setting in zip(items, settings, strict=True):
        if row := rows.get(id(setting)):
            differ = Difference(row.farthest_db, row.farthest_band_db, row.farthest_level_db)
            apart[int(item["number"])] = {
                "band_db": round(differ.largest_db, 2),
                "level_db": round(abs(differ.level_db), 2),
                "heard": differ.heard_as_played,
            }
    share = next((one.share for one in spread.shares if one.part == CABLE), 0.0)
    ends = []
    for which in (0, 1):
        end = WiringText(text, "wiring")
        for path, value in end_edits(wiring, spread, which):
            end.set(path, value)
        ends.append(end.dump())
    return Found((ends[0], ends[1]), round(share, 3), apart)


def farthest_of(db: sqlite3.Connection, proposal: str) -> list[sqlite3.Row]:
    """Return the rows of a proposal's farthest two, by wiring."""
    return db.execute(
        "SELECT * FROM proposal_farthest WHERE proposal_id = ? ORDER BY wiring", (proposal,)
    ).fetchall()


def farthest_clips(db: sqlite3.Connection, proposal: str, way: str) -> list[sqlite3.Row]:
    """Return the clips of the two in a way, by number, take and which."""
    return db.execute(
        "SELECT * FROM proposal_farthest_clips WHERE proposal_id = ? AND way = ?"
        " ORDER BY number, take_id, which",
        (proposal, way),
    ).fetchall()


def told_at_bench(row: sqlite3.Row) -> dict[str, Any]:
    """Return what the bench shows of a wiring's farthest two."""
    return {
        "wiring": row["wiring"],
        "cables": row["cable"] > 0.0,
        "making": row["share"] if row["state"] in WAITING else None,
        "problem": row["error"],
    }


def told(row: sqlite3.Row) -> dict[str, Any]:
    """Return what the customer's page shows of the farthest two."""
    found = json.loads(row["found"])
    return {
        "wiring": row["wiring"],
        "built": row["built"],
        "cables": row["cable"] > 0.0,
        "cable_share": found["cable_share"],
        "apart": found["apart"],
    }


# --- The queue, see `queue`: they come after all clips, and after sounds that answer wishes


def waiting(store: Store) -> int:
    """How many have not ended."""
    with store.read() as db:
        row = db.execute("SELECT count(*) FROM proposal_farthest WHERE state IN ('queued', 'running')")
        return int(row.fetchone()[0])


def requeue_interrupted(store: Store) -> None:
    """Queue again what a worker left behind. Call as the only worker."""
    with store.write() as db:
        for row in db.execute("SELECT * FROM proposal_farthest WHERE state = 'running'").fetchall():
            given_up = row["tries"] >= MOST_TRIES
            error = f"stopped {MOST_TRIES} times without an end" if given_up else ""
            _set(db, _job(row), "failed" if given_up else "queued", error=error)


def take_next(store: Store) -> FarthestJob | None:
    """Mark the oldest that waits as running; that one, or None.

    Once a proposal is closed nobody hears its two: they end, and say so.
    """
    with store.write() as db:
        rows = db.execute(
            "SELECT proposal_farthest.* FROM proposal_farthest JOIN proposals ON proposals.id = proposal_id"
            " WHERE state = 'queued' ORDER BY created, wiring"
        ).fetchall()
        for row in rows:
            job = _job(row)
            state = state_of(db, row_of(db, job.proposal))
            if state == "open":
                break
            _set(db, job, "failed", error=TOO_LATE if state == "signed" else CLOSED)
        else:
            return None
        db.execute(
            "UPDATE proposal_farthest SET tries = tries + 1 WHERE proposal_id = ? AND wiring = ?",
            (job.proposal, job.wiring),
        )
        _set(db, job, "running")
        return job


def save_progress(store: Store, job: FarthestJob, share: float) -> None:
    """Save the share of a running one that is done, 0 to 1."""
    with store.write() as db:
        query = "SELECT share FROM proposal_farthest WHERE proposal_id = ? AND wiring = ?"
        before = db.execute(query, (job.proposal, job.wiring)).fetchone()["share"]
        if int(STEPS * share) != int(STEPS * before):
            _set(db, job, "running", share=share)


def fail(store: Store, job: FarthestJob, error: str) -> None:
    """End one that cannot be made, and say why."""
    with store.write() as db:
        _set(db, job, "failed", error=error)


def make_again(store: Store, proposal: str, wiring: int) -> None:
    """Queue those that were not made; nothing if they wait or are there.

    Raises
    ------
    Unknown
        If none of such a wiring were offered.
    Conflict
        If the proposal is no longer open.
    """
    with store.write() as db:
        state = state_of(db, row_of(db, proposal))
        row = next((one for one in farthest_of(db, proposal) if one["wiring"] == wiring), None)
        if row is None:
            raise Unknown("wiring", str(wiring), "one whose farthest two were offered")
        if state != "open":
            hint = "make a new link first" if state != "signed" else ""
            raise Conflict("this proposal", f"one that is {state}", "one that is open", hint)
        if row["state"] == "failed":
            own = (proposal, wiring)
            db.execute("UPDATE proposal_farthest SET tries = 0 WHERE proposal_id = ? AND wiring = ?", own)
            _set(db, _job(row), "queued")


def sounds_of(store: Store, job: FarthestJob) -> list[int]:
    """Return the numbers of the sounds at which the two are heard.

    Raises
    ------
    InputError
        If clips of the proposal could not be rendered: there is nothing to set them beside.
    """
    with store.read() as db:
        if failed := readiness(db, job.proposal)[1]:
            raise InputError("sounds", failed[0], "a proposal with all its clips")
        wirings = wirings_of(db, job.proposal)
    return next(list(one["sounds"]) for one in wirings if one["number"] == job.wiring)


def show_two(store: Store, job: FarthestJob, found: Found, clips: Mapping[str, Sequence[Two]]) -> None:
    """Show the farthest two of a wiring, at once.

    If somebody signed meanwhile, nothing is added.

    Parameters
    ----------
    clips : mapping of str to sequence of tuple
        By take.
    """
    with store.write() as db:
        if state_of(db, row_of(db, job.proposal)) == "signed":
            _set(db, job, "failed", error=TOO_LATE)
            return
        db.executemany(
            "INSERT INTO proposal_farthest_clips VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (job.proposal, one.number, take, one.way, which, one.flac_sha256, one.mp3_sha256,
                 one.frames, one.rate_hz, one.loudness_lufs, one.wired_gain_db,
                 json.dumps(one.record, ensure_ascii=False))
                for take, pairs in clips.items() for two in pairs for which, one in enumerate(two)
            ],
        )  # fmt: skip
        text = json.dumps(
            {"cable_share": found.cable_share, "apart": dict(found.apart), "wirings": found.texts},
            ensure_ascii=False,
        )
        db.execute(
            "UPDATE proposal_farthest SET state = 'done', share = 1, error = '', found = ?"
            " WHERE proposal_id = ? AND wiring = ?",
            (text, job.proposal, job.wiring),
        )
        count_change(db, job.proposal)


def _job(row: sqlite3.Row) -> FarthestJob:
    return FarthestJob(row["proposal_id"], row["wiring"], row["built"], row["cable"])


def _set(
    db: sqlite3.Connection, job: FarthestJob, state: str, *, share: float = 0.0, error: str = ""
) -> None:
    db.execute(
        "UPDATE proposal_farthest SET state = ?, share = ?, error = ? WHERE proposal_id = ? AND wiring = ?",
        (state, share, error, job.proposal, job.wiring),
    )
    count_change(db, job.proposal)
