"""Commissions and what the page remembers of each; their wirings are listed with them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Any

from dsp.errors import InputError
from server.commissions.versions import _row, add_wiring, latest_of
from server.database.store import Store, folded, new_id, now
from server.refusals import TooLarge

LARGEST_STATE = 32_000
"""Bytes of JSON that the page may have remembered per commission."""


def listed(store: Store, search: str = "", *, archived: bool = False) -> list[dict[str, Any]]:
    """Commissions and their latest versions, the one changed last first.

    Parameters
    ----------
    store : Store
    search : str
        Words that title or client must all hold, whatever their case; empty for every one.
    archived : bool
        Those put away instead of those in use.
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


def one(store: Store, commission: str) -> dict[str, Any]:
    """A commission with its state and every version of its wirings.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        row = _row(db, commission)
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


def create(store: Store, title: str, client: str, wirings: Mapping[str, str], *, origin: str = "") -> str:
    """A new commission with its wirings, each a text by its name; its id.

    Parameters
    ----------
    store : Store
    title, client : str
    wirings : mapping of str to str
        Texts that are known to be wirings.
    origin : str
        Where it came from, if it is to be made only once.
    """
    with store.write() as db:
        commission = insert(db, title, client, origin=origin)
        for name, text in wirings.items():
            add_wiring(db, commission, name, text, note="first version")
    return commission


def insert(db: sqlite3.Connection, title: str, client: str, *, origin: str = "", state: str = "{}") -> str:
    """Write a new commission without wirings; its id."""
    commission, moment = new_id(), now()
    db.execute(
        "INSERT INTO commissions (id, title, client, created, changed, state, origin)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (commission, title, client, moment, moment, state, origin or None),
    )
    return commission


def from_origin(store: Store, origin: str) -> str | None:
    """The commission that came from a place, if there is one."""
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
    """Rename, put away or bring back; what is None stays.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        row = _row(db, commission)
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
    """Put a commission among those in use, first of all, if it was put away."""
    db.execute(
        "UPDATE commissions SET archived = NULL, changed = ? WHERE id = ? AND archived IS NOT NULL",
        (now(), commission),
    )


def copy(store: Store, commission: str) -> str:
    """A new commission with the latest version of every wiring; its id.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        row = _row(db, commission)
        made = insert(db, row["title"], row["client"])
        wirings = db.execute(
            "SELECT id, name FROM wirings WHERE commission_id = ? ORDER BY place", (commission,)
        ).fetchall()
        for wiring in wirings:
            latest = latest_of(db, wiring["id"])
            note = f"copied from version {latest['number']}"
            add_wiring(db, made, wiring["name"], latest["text"], note=note)
    return made


def remember(store: Store, commission: str, state: Mapping[str, Any]) -> None:
    """Keep what the page wants to find again.

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
        _row(db, commission)
        db.execute("UPDATE commissions SET state = ? WHERE id = ?", (text, commission))
