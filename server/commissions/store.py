"""Commissions in the database, with their wirings and the state that the page saves."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Any

from dsp.errors import InputError
from server.commissions.versions import add_wiring, latest_of, require_commission
from server.database.store import Store, folded, new_id, now
from server.refusals import TooLarge

LARGEST_STATE = 32_000
"""Bytes of JSON that the page may save per commission."""


def list_commissions(store: Store, search: str = "", *, archived: bool = False) -> list[dict[str, Any]]:
    """Return commissions with their latest versions, the last changed first.

    Parameters
    ----------
    search : str
        Words that title and client must hold, in any case; empty for all commissions.
    archived : bool
        Return those put away instead of those in use.
    """
    with store.read() as db:
        rows = db.execute(
            "SELECT id, title, client, created, changed, archived FROM commissions"
            " WHERE (archived IS NOT NULL) = ? ORDER BY changed DESC, rowid DESC",
            (archived,),
        ).fetchall()
        words = folded(search).split()
        found = [
            row for row in rows if all(word in folded(f"{row['title']} {row['client']}") for word in words)
        ]
        return [{**dict(row), "wirings": _latest_wirings(db, row["id"])} for row in found]


def _latest_wirings(db: sqlite3.Connection, commission: str) -> list[dict[str, Any]]:
    rows = db.execute(
        "SELECT id, name FROM wirings WHERE commission_id = ? ORDER BY place", (commission,)
    ).fetchall()
    return [{"id": row["id"], "name": row["name"], "version": latest_of(db, row["id"])["id"]} for row in rows]


def get_commission(store: Store, commission: str) -> dict[str, Any]:
    """Return a commission with its state and every version of its wirings.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        row = require_commission(db, commission)
        wirings = db.execute(
            "SELECT id, name, file FROM wirings WHERE commission_id = ? ORDER BY place", (commission,)
        ).fetchall()
        whole = {key: row[key] for key in ("id", "title", "client", "created", "changed", "archived")}
        return {
            **whole,
            "state": json.loads(row["state"]),
            "wirings": [{**dict(wiring), "versions": _versions(db, wiring["id"])} for wiring in wirings],
        }


def _versions(db: sqlite3.Connection, wiring: str) -> list[dict[str, Any]]:
    rows = db.execute(
        "SELECT id, number, note, created FROM versions WHERE wiring_id = ? ORDER BY number", (wiring,)
    )
    return [dict(row) for row in rows]


def create(
    store: Store,
    title: str,
    client: str,
    wirings: Mapping[str, str],
    *,
    origin: str = "",
    state: Mapping[str, str] | None = None,
) -> str:
    """Insert a new commission with its wirings, and return its id.

    Parameters
    ----------
    wirings : mapping of str to str
        Texts by name; they must be wirings.
    origin : str
        Its source, for a commission that is made only once.
    state : mapping of str to str, optional
        What the page finds when it opens it first.
    """
    with store.write() as db:
        commission = insert(db, title, client, origin=origin, state=json.dumps(state or {}))
        for name, text in wirings.items():
            add_wiring(db, commission, name, text, note="first version")
    return commission


def insert(db: sqlite3.Connection, title: str, client: str, *, origin: str = "", state: str = "{}") -> str:
    """Insert a new commission without wirings, and return its id."""
    commission, moment = new_id(), now()
    db.execute(
        "INSERT INTO commissions (id, title, client, created, changed, state, origin)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (commission, title, client, moment, moment, state, origin or None),
    )
    return commission


def find_by_origin(store: Store, origin: str) -> str | None:
    """Return the commission of an origin, or None."""
    with store.read() as db:
        row = db.execute("SELECT id FROM commissions WHERE origin = ?", (origin,)).fetchone()
        return None if row is None else str(row["id"])


def change(
    store: Store,
    commission: str,
    *,
    title: str | None = None,
    client: str | None = None,
    archived: bool | None = None,
) -> None:
    """Rename a commission, put it away or bring it back; None changes nothing.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        row = require_commission(db, commission)
        put_away = row["archived"] if archived is None else (row["archived"] or now()) if archived else None
        db.execute(
            "UPDATE commissions SET title = ?, client = ?, archived = ?, changed = ? WHERE id = ?",
            (
                row["title"] if title is None else title,
                row["client"] if client is None else client,
                put_away,
                now(),
                commission,
            ),
        )


def bring_back(db: sqlite3.Connection, commission: str) -> None:
    """List a commission that was put away among those in use again, first."""
    db.execute(
        "UPDATE commissions SET archived = NULL, changed = ? WHERE id = ? AND archived IS NOT NULL",
        (now(), commission),
    )


def copy(store: Store, commission: str) -> str:
    """Copy a commission with its latest wirings, and return the new id.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        row = require_commission(db, commission)
        made = insert(db, row["title"], row["client"])
        wirings = db.execute(
            "SELECT id, name FROM wirings WHERE commission_id = ? ORDER BY place", (commission,)
        ).fetchall()
        for wiring in wirings:
            latest = latest_of(db, wiring["id"])
            note = f"copied from version {latest['number']}"
            add_wiring(db, made, wiring["name"], latest["text"], note=note)
    return made


def save_state(store: Store, commission: str, state: Mapping[str, Any]) -> None:
    """Save what the page wants to find again.

    Raises
    ------
    Unknown
    TooLarge
        Beyond 32 kB of JSON.
    InputError
        For numbers and characters that JSON does not have.
    """
    try:
        text = json.dumps(state, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        size = len(text.encode())
    except ValueError as error:
        raise InputError("state", str(error), "numbers and characters that JSON has") from error
    if size > LARGEST_STATE:
        raise TooLarge("state", f"{size} bytes", f"up to {LARGEST_STATE} bytes")
    with store.write() as db:
        require_commission(db, commission)
        db.execute("UPDATE commissions SET state = ? WHERE id = ?", (text, commission))
