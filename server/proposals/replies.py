"""The favourites and comments of a customer."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from server.database.store import Store, now
from server.proposals.store import by_token, count_change, require_number
from server.refusals import Conflict

LONGEST_COMMENT = 2000
"""Characters."""
MOST_COMMENTS = 300
"""In one proposal."""


def set_favourites(store: Store, token: str, numbers: Iterable[int]) -> list[int]:
    """Replace the favourites.

    Raises
    ------
    Unknown, Gone
        As `by_token`.
    InputError
        For a number that is not offered; nothing changes then.
    """
    favourites = sorted(set(numbers))
    with store.write() as db:
        proposal = by_token(db, token)["id"]
        for number in favourites:
            require_number(db, proposal, number)
        if favourites_of(db, proposal) != favourites:
            db.execute("DELETE FROM favourites WHERE proposal_id = ?", (proposal,))
            db.executemany(
                "INSERT INTO favourites VALUES (?, ?)", [(proposal, number) for number in favourites]
            )
            count_change(db, proposal)
    return favourites


def favourites_of(db: sqlite3.Connection, proposal: str) -> list[int]:
    """Return the numbers of the favourites, ascending."""
    rows = db.execute("SELECT number FROM favourites WHERE proposal_id = ? ORDER BY number", (proposal,))
    return [int(row["number"]) for row in rows]


def add_comment(store: Store, token: str, number: int | None, text: str) -> dict[str, object]:
    """Store a comment on an item, or on the whole, and return it as listed.

    The same text again, as after a lost answer, is stored once.

    Raises
    ------
    Unknown, Gone
        As `by_token`.
    InputError
        For a number that is not offered.
    Conflict
        Beyond 300 comments: no person writes so many.
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
        count_change(db, proposal)
    return {"number": number, "text": text, "when": moment}


def comments_of(db: sqlite3.Connection, proposal: str) -> list[dict[str, object]]:
    """Return the comments in the order they were written."""
    rows = db.execute(
        'SELECT number, text, created AS "when" FROM comments WHERE proposal_id = ? ORDER BY id', (proposal,)
    )
    return [dict(row) for row in rows]
