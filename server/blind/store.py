"""Blind tests in the database: the plan of a test, X of every trial, and the answers.

The system's own random source draws X when a trial opens. X leaves this module in two ways
only: by `present_trial`, for making the trial's clips, and by `Test.correct`, which is empty
until the last answer.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.chain.ways import DIRECT
from server.commissions import versions
from server.database.store import Store, new_id, now
from server.refusals import Conflict, Unknown

MAKING, OPEN, DONE, GIVEN_UP, FAILED = "making", "open", "done", "given up", "failed"


@dataclass(frozen=True)
class TestPlan:
    """What a test compares.

    Attributes
    ----------
    from_s, to_s : float
        The stretch of the take.
    sounds : sequence of dict
        Two, with version, edits, position, knobs and switches.
    way : str
        How both are heard, by name.
    """

    take: str
    take_name: str
    from_s: float
    to_s: float
    trials: int
    sounds: Sequence[Mapping[str, Any]]
    way: str = DIRECT.name


@dataclass(frozen=True)
class Test:
    """A test without what must stay secret.

    Attributes
    ----------
    answers : tuple of int
        So far: 0 for the first sound, 1 for the second.
    correct : tuple of int
        What X was; empty before the last answer.
    """

    id: str
    commission: str
    state: str
    problem: str
    created: str
    ended: str | None
    plan: TestPlan
    answers: tuple[int, ...]
    correct: tuple[int, ...]


@dataclass(frozen=True)
class Trial:
    """The present trial, X included: for making its clips.

    Attributes
    ----------
    number : int
        Counts from 1.
    clips : dict of str to str
        Names of its files by A, B and X; empty before they are made.
    """

    number: int
    x: int
    clips: dict[str, str]


def begin(store: Store, commission: str, plan: TestPlan) -> str:
    """Insert a new test, whose sounds are still to be made, and return its id.

    Raises
    ------
    Unknown
        If there is no such commission.
    """
    test = new_id()
    with store.write() as db:
        versions.require_commission(db, commission)
        sounds = json.dumps([dict(sound) for sound in plan.sounds], ensure_ascii=False)
        db.execute(
            "INSERT INTO blind_tests (id, commission_id, take_id, take_name, from_s, to_s, trials, sounds,"
            " way, state, created) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (test, commission, plan.take, plan.take_name, plan.from_s, plan.to_s,
             plan.trials, sounds, plan.way, MAKING, now()),
        )  # fmt: skip
    return test


def open_first_trial(store: Store, test: str) -> None:
    """Open the first trial of a test whose sounds are made."""
    with store.write() as db:
        if _row(db, test)["state"] == MAKING:
            db.execute("UPDATE blind_tests SET state = ? WHERE id = ?", (OPEN, test))
            _draw(db, test, 1)


def fail(store: Store, test: str, problem: str) -> None:
    """End a test whose sounds cannot be made, and store why."""
    with store.write() as db:
        if _row(db, test)["state"] == MAKING:
            _end(db, test, FAILED, problem)


def answer(store: Store, test: str, number: int, choice: int) -> None:
    """Store the answer to the present trial; open the next or end the test.

    The same answer again to the same trial changes nothing.

    Raises
    ------
    Unknown
    Conflict
        If it is not the present trial, or the test is not open.
    """
    with store.write() as db:
        row, trials = _row(db, test), _trials(db, test)
        if 1 <= number <= len(trials) and trials[number - 1]["said"] == choice:
            return
        if row["state"] != OPEN:
            raise Conflict("answer", f"a test that is {row['state']}", "a test that is open")
        if number != len(trials) or trials[-1]["said"] is not None:
            allowed = f"trial {len(trials)}: each is answered once, in their order"
            raise Conflict("answer", f"trial {number}", allowed)
        db.execute(
            "UPDATE blind_trials SET said = ?, answered = ?, clips = '{}' WHERE test_id = ? AND number = ?",
            (choice, now(), test, number),
        )
        if number < row["trials"]:
            _draw(db, test, number + 1)
        else:
            _end(db, test, DONE)


def give_up(store: Store, test: str) -> None:
    """End a test before its last trial; X then stays secret.

    Raises
    ------
    Unknown
    Conflict
        If it has ended in another way.
    """
    with store.write() as db:
        state = _row(db, test)["state"]
        if state in (MAKING, OPEN):
            _end(db, test, GIVEN_UP)
        elif state != GIVEN_UP:
            raise Conflict("test", f"one that is {state}", "a test that is not over")


def present_trial(store: Store, test: str) -> Trial | None:
    """Return the trial to be answered, or None if the test is not open."""
    with store.read() as db:
        if _row(db, test)["state"] != OPEN:
            return None
        last = _trials(db, test)[-1]
        return Trial(last["number"], last["x"], json.loads(last["clips"]))


def set_clips(store: Store, test: str, number: int, clips: Mapping[str, str]) -> None:
    """Store the names of a trial's files, if it is still the present one."""
    with store.write() as db:
        db.execute(
            "UPDATE blind_trials SET clips = ? WHERE test_id = ? AND number = ? AND said IS NULL",
            (json.dumps(dict(clips)), test, number),
        )


def get(store: Store, test: str) -> Test:
    """Return a test.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        return _test(db, _row(db, test))


def of_commission(store: Store, commission: str) -> list[Test]:
    """Return every test of a commission, newest first.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        versions.require_commission(db, commission)
        rows = db.execute(
            "SELECT * FROM blind_tests WHERE commission_id = ? ORDER BY created DESC, rowid DESC",
            (commission,),
        ).fetchall()
        return [_test(db, row) for row in rows]


def unfinished(store: Store) -> set[str]:
    """Return the ids of the tests whose files are still needed."""
    with store.read() as db:
        return {row["id"] for row in db.execute("SELECT id FROM blind_tests WHERE ended IS NULL")}


def _draw(db: sqlite3.Connection, test: str, number: int) -> None:
    values = (test, number, secrets.randbelow(2))
    db.execute("INSERT INTO blind_trials (test_id, number, x) VALUES (?, ?, ?)", values)


def _end(db: sqlite3.Connection, test: str, state: str, problem: str = "") -> None:
    db.execute(
        "UPDATE blind_tests SET state = ?, problem = ?, ended = ? WHERE id = ?", (state, problem, now(), test)
    )


def _row(db: sqlite3.Connection, test: str) -> sqlite3.Row:
    row: sqlite3.Row | None = db.execute("SELECT * FROM blind_tests WHERE id = ?", (test,)).fetchone()
    if row is None:
        raise Unknown("blind test", f"'{test}'", "the id of a blind test")
    return row


def _trials(db: sqlite3.Connection, test: str) -> list[sqlite3.Row]:
    return db.execute("SELECT * FROM blind_trials WHERE test_id = ? ORDER BY number", (test,)).fetchall()


def _test(db: sqlite3.Connection, row: sqlite3.Row) -> Test:
    trials = _trials(db, row["id"])
    plan = TestPlan(
        row["take_id"], row["take_name"], row["from_s"], row["to_s"], row["trials"],
        json.loads(row["sounds"]), row["way"],
    )  # fmt: skip
    answers = tuple(trial["said"] for trial in trials if trial["said"] is not None)
    correct = tuple(trial["x"] for trial in trials) if row["state"] == DONE else ()
    return Test(
        row["id"], row["commission_id"], row["state"], row["problem"], row["created"], row["ended"],
        plan, answers, correct,
    )  # fmt: skip
