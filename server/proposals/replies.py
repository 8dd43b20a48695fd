"""What a customer says short of signing: favourites and comments."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from server.database.store import Store, now
from server.proposals.store import by_token, changed, require_number
from server.refusals import Conflict

LONGEST_COMMENT = 2000
"""Characters."""
MOST_COMMENTS = 300
"""In one proposal."""


def set_favourites(store: Store, token: str, numbers: Iterable[int]) -> list[int]:
    """Put other favourites in place of those before.

    Raises
    ------
    Unknown, Gone
        As `by_token`.
    InputError
        For a number that is not offered; then nothing changes.
    """
    wanted = sorted(set(numbers))
    with store.write() as db:
        proposal = by_token(db, token)["id"]
        for number in wanted:
            require_number(db, proposal, number)
        if favourites_of(db, proposal) != wanted:
            db.execute("DELETE FROM favourites WHERE proposal_id = ?", (proposal,))
            db.executemany("INSERT INTO favourites VALUES (?, ?)", [(proposal, number) for number in wanted])
            changed(db, proposal)
    return wanted


def favourites_of(db: sqlite3.Connection, proposal: str) -> list[int]:
    """Numbers of the favourites, ascending."""
    rows = db.execute("SELECT number FROM favourites WHERE proposal_id = ? ORDER BY number", (proposal,))
    return [int(row["number"]) for row in rows]


def add_comment(store: Store, token: str, number: int | None, text: str) -> dict[str, object]:
    """Keep a comment on an item, or on the whole; as it is then listed.

    The same words again, as when an answer was lost on the way, are kept once.

    Raises
    ------
    Unknown, Gone
        As `by_token`.
    InputError
        For a number that is not offered.
    Conflict
        Beyond so many comments that no person wrote them.
    """
    with store.write() as db:
        proposal = by_token(db, token)["id"]
        if number is not None:
            require_number(db, proposal, number)
        before = comments_of(db, proposal)
        for one in before:
            if one["number"] == number and one["text"] == text:
                return one
        if len(before) >= MOST_COMMENTS:
            allowed = f"up to {MOST_COMMENTS}"
            raise Conflict("comments", f"{len(before)} already", allowed, "call the workshop")
        moment = now()
        db.execute(
            "INSERT INTO comments (proposal_id, number, text, created) VALUES (?, ?, ?, ?)",
            (proposal, number, text, moment),
        )
        changed(db, proposal)
    return {"number": number, "text": text, "when": moment}


def comments_of(db: sqlite3.Connection, proposal: str) -> list[dict[str, object]]:
    """Comments in the order they were written."""
    rows = db.execute(
        'SELECT number, text, created AS "when" FROM comments WHERE proposal_id = ? ORDER BY id', (proposal,)
    )
    return [dict(row) for row in rows]
