"""Ticks of build sheets in the database: a step's key, and what it said when it was done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.commissions.versions import wiring_row
from server.database.store import Store, now
from server.refusals import TooLarge

MOST_TICKS = 4000
"""Of one wiring: far more than a sheet has steps, so that old ones do not crowd out new ones."""


@dataclass(frozen=True)
class Ticks:
    """What a sheet's ticks say of it.

    Attributes
    ----------
    done : tuple of str
        Keys of steps that were done as the sheet has them.
    changed : mapping of str to str
        What was done, by the keys of steps that say another thing now: they are not done.
    gone : mapping of str to str
        What was done, by keys that the sheet no longer has.
    """

    done: tuple[str, ...]
    changed: Mapping[str, str]
    gone: Mapping[str, str]


def tick(store: Store, wiring: str, step: str, text: str, *, done: bool) -> None:
    """Store that a step is done, or that it is not.

    Parameters
    ----------
    text : str
        What was done, as the sheet says it.

    Raises
    ------
    Unknown
        If there is no such wiring.
    TooLarge
        Beyond `MOST_TICKS`.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        db.execute("DELETE FROM sheet_ticks WHERE wiring_id = ? AND step = ?", (wiring, step))
        if not done:
            return
        count = db.execute("SELECT count(*) FROM sheet_ticks WHERE wiring_id = ?", (wiring,)).fetchone()[0]
        if count >= MOST_TICKS:
            raise TooLarge("ticks", f"{count} of this wiring", f"up to {MOST_TICKS}: take some out")
        db.execute("INSERT INTO sheet_ticks VALUES (?, ?, ?, ?)", (wiring, step, text, now()))


def clear_ticks(store: Store, wiring: str) -> None:
    """Forget every tick of a wiring, as for another instrument.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        db.execute("DELETE FROM sheet_ticks WHERE wiring_id = ?", (wiring,))


def judge_ticks(store: Store, wiring: str, steps: Mapping[str, str]) -> Ticks:
    """Return which ticks of a wiring hold for a sheet.

    Parameters
    ----------
    steps : mapping of str to str
        What is to be done, by key.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.read() as db:
        wiring_row(db, wiring)
        rows = db.execute(
            "SELECT step, text FROM sheet_ticks WHERE wiring_id = ? ORDER BY ticked, rowid", (wiring,)
        )
        kept = {str(row["step"]): str(row["text"]) for row in rows}
    return Ticks(
        tuple(step for step, text in kept.items() if steps.get(step) == text),
        {step: text for step, text in kept.items() if step in steps and steps[step] != text},
        {step: text for step, text in kept.items() if step not in steps},
    )
