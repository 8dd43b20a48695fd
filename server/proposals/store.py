"""Proposals in the database: sounds for a customer, behind an unguessable link.

The link's token has 192 random bits; the database stores its SHA-256 alone. Every change of a
proposal increments `changes`, which the bench's page polls.
"""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import hmac
import json
import secrets
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError
from server.commissions import versions
from server.database.store import Store, new_id, now
from server.proposals.ways import DIRECT_ALONE, insert_ways
from server.proposals.wirings import OfferedWiring, insert_wirings
from server.refusals import Gone, Unavailable, Unknown

TOKEN_BYTES = 24
MOST_DAYS = 365
MOST_ITEMS = 24
"""Of one proposal: more than anybody can tell apart by ear."""
OPEN_LINK, ASK = "a link that is still open", "nothing you wrote is lost: ask the workshop for a new link"
JSON_COLUMNS = ("knobs", "switches", "words", "stands")


@dataclass(frozen=True)
class Item:
    """A sound of a proposal: a version at a setting, in plain words.

    Attributes
    ----------
    version, version_sha256 : str
        Id of the version, and the digest of its text.
    knobs : mapping of str to float
        Every knob.
    switches : mapping of str to str
        Every switch but the selector.
    words : tuple of str
        How it sounds.
    stands : tuple of str
        Knobs and switches that are not at rest, in words.
    brightness : float
        0 for the roundest that has a word, 1 for the brightest.
    """

    version: str
    version_sha256: str
    position: str
    knobs: Mapping[str, float]
    switches: Mapping[str, str]
    label: str
    words: tuple[str, ...]
    stands: tuple[str, ...]
    brightness: float


@dataclass(frozen=True)
class OfferedTake:
    """A take of a proposal.

    Attributes
    ----------
    coil_places : str
        Whether the coils' places are in the sound.
    """

    id: str
    name: str
    seconds: float
    coil_places: str


def create(
    store: Store,
    commission: str,
    title: str,
    items: Sequence[Item],
    wirings: Sequence[OfferedWiring],
    takes: Sequence[OfferedTake],
    *,
    days: int,
    ways: Sequence[str] = DIRECT_ALONE,
) -> tuple[str, str]:
    """Insert a proposal and queue its clips.

    Parameters
    ----------
    wirings : sequence of OfferedWiring
        Those of the items, each once.
    days : int
        Until the link expires.
    ways : sequence of str
        In which its sounds may be heard, the one heard first at the start.

    Returns
    -------
    tuple of str
        The proposal's id, and the token, which is stored nowhere.

    Raises
    ------
    Unknown
        If there is no such commission.
    """
    proposal, token = new_id(), secrets.token_urlsafe(TOKEN_BYTES)
    with store.write() as db:
        versions.require_commission(db, commission)
        db.execute(
            "INSERT INTO proposals (id, commission_id, token_sha256, title, created, expires)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (proposal, commission, digest(token), title, now(), _in_days(days)),
        )
        for number, item in enumerate(items, 1):
            insert_item(db, proposal, number, item)
        insert_wirings(db, proposal, wirings)
        insert_ways(db, proposal, ways)
        for place, take in enumerate(takes):
            db.execute(
                "INSERT INTO proposal_takes VALUES (?, ?, ?, ?, ?, ?)", take_row(proposal, place, take)
            )
            db.execute("INSERT INTO clip_jobs (proposal_id, take_id) VALUES (?, ?)", (proposal, take.id))
    return proposal, token


def insert_item(db: sqlite3.Connection, proposal: str, number: int, item: Item) -> None:
    """Insert a sound of a proposal."""
    db.execute(
        "INSERT INTO proposal_items VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        item_row(proposal, number, item),
    )


def item_row(proposal: str, number: int, item: Item) -> tuple[Any, ...]:
    """Return the row of a sound, as the database stores it."""
    return (
        proposal,
        number,
        item.version,
        item.version_sha256,
        item.position,
        json.dumps(dict(item.knobs)),
        json.dumps(dict(item.switches), ensure_ascii=False),
        item.label,
        json.dumps(item.words, ensure_ascii=False),
        json.dumps(item.stands, ensure_ascii=False),
        item.brightness,
    )


def take_row(proposal: str, place: int, take: OfferedTake) -> tuple[Any, ...]:
    """Return the row of a take, as the database stores it."""
    return (proposal, place, take.id, take.name, take.seconds, take.coil_places)


def digest(token: str) -> str:
    """Return the SHA-256 of a token, as the database stores it."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _in_days(days: int) -> str:
    moment = datetime.datetime.now(datetime.UTC) + datetime.timedelta(days=days)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def renew_link(store: Store, proposal: str, *, days: int) -> str:
    """Replace the token by a new one; this revives a link that has ended.

    Raises
    ------
    Unknown
    """
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with store.write() as db:
        row_of(db, proposal)
        db.execute(
            "UPDATE proposals SET token_sha256 = ?, expires = ?, revoked = NULL WHERE id = ?",
            (digest(token), _in_days(days), proposal),
        )
        count_change(db, proposal)
    return token


def revoke(store: Store, proposal: str) -> None:
    """End a link; comments and sign-off stay.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        row_of(db, proposal)
        db.execute("UPDATE proposals SET revoked = coalesce(revoked, ?) WHERE id = ?", (now(), proposal))
        count_change(db, proposal)


def count_change(db: sqlite3.Connection, proposal: str) -> None:
    """Count one more change of a proposal."""
    db.execute("UPDATE proposals SET changes = changes + 1 WHERE id = ?", (proposal,))


def changes(store: Store, proposal: str) -> int:
    """Return how often a proposal has changed; Unknown if there is none."""
    with store.read() as db:
        return int(row_of(db, proposal)["changes"])


def changes_of_each(store: Store, proposals: Iterable[str]) -> dict[str, int]:
    """Return how often each of several proposals has changed, by id."""
    sought = list(proposals)
    with store.read() as db:
        marks = ", ".join("?" * len(sought))
        rows = db.execute(f"SELECT id, changes FROM proposals WHERE id IN ({marks})", sought)
        return {str(row["id"]): int(row["changes"]) for row in rows}


def of_commission(store: Store, commission: str) -> list[str]:
    """Return the ids of a commission's proposals, newest first."""
    with store.read() as db:
        versions.require_commission(db, commission)
        rows = db.execute(
            "SELECT id FROM proposals WHERE commission_id = ? ORDER BY created DESC, rowid DESC",
            (commission,),
        )
        return [str(row["id"]) for row in rows]


def all_proposals(store: Store) -> list[sqlite3.Row]:
    """Return the rows of all proposals, newest first."""
    with store.read() as db:
        return db.execute("SELECT * FROM proposals ORDER BY created DESC, rowid DESC").fetchall()


def row_of(db: sqlite3.Connection, proposal: str) -> sqlite3.Row:
    """Return the row of a proposal.

    Raises
    ------
    Unknown
        If there is none.
    """
    row: sqlite3.Row | None = db.execute("SELECT * FROM proposals WHERE id = ?", (proposal,)).fetchone()
    if row is None:
        raise Unknown("proposal", f"'{proposal}'", "the id of a proposal")
    return row


def state_of(db: sqlite3.Connection, row: sqlite3.Row) -> str:
    """Return how a proposal stands: signed, revoked, expired or open.

    Signed comes first: a link that has ended can get a new one, but nothing undoes a sign-off.
    """
    if db.execute("SELECT 1 FROM signoffs WHERE proposal_id = ?", (row["id"],)).fetchone() is not None:
        return "signed"
    if row["revoked"] is not None:
        return "revoked"
    return "expired" if row["expires"] <= now() else "open"


def by_token(db: sqlite3.Connection, token: str) -> sqlite3.Row:
    """Return the proposal of an open link.

    A signed link stays readable after it expires, for the sake of the record.

    Raises
    ------
    Unknown
        If no proposal has the token.
    Gone
        If it was revoked, or has expired unsigned.
    """
    sought = digest(token)
    row: sqlite3.Row | None = db.execute(
        "SELECT proposals.*, signoffs.place AS signed_place FROM proposals"
        " LEFT JOIN signoffs ON signoffs.proposal_id = proposals.id WHERE token_sha256 = ?",
        (sought,),
    ).fetchone()
    if row is None or not hmac.compare_digest(sought, str(row["token_sha256"])):
        raise Unknown("this link", "no proposal", "the whole link as the workshop sent it")
    if row["revoked"] is not None:
        raise Gone("this link", "a proposal the workshop has taken back", OPEN_LINK, ASK)
    if row["expires"] <= now() and row["signed_place"] is None:
        raise Gone("this link", f"a proposal that was open until {row['expires'][:10]}", OPEN_LINK, ASK)
    return row


def open_proposal(store: Store, token: str) -> str:
    """Return the id of an open link's proposal.

    Raises
    ------
    Unknown, Gone
        As `by_token`.
    """
    with store.read() as db:
        return str(by_token(db, token)["id"])


def note_opening(store: Store, token: str) -> str:
    """Return the id of a link's proposal; store when it was first opened.

    A customer can read while nothing can be written. A later opening counts as the first then.
    """
    with store.read() as db:
        row = by_token(db, token)
    if row["seen"] is None:
        with contextlib.suppress(Unavailable), store.write() as db:
            db.execute("UPDATE proposals SET seen = ? WHERE id = ? AND seen IS NULL", (now(), row["id"]))
            count_change(db, row["id"])
    return str(row["id"])


def items_of(db: sqlite3.Connection, proposal: str) -> list[dict[str, Any]]:
    """Return the items of a proposal, in order."""
    rows = db.execute("SELECT * FROM proposal_items WHERE proposal_id = ? ORDER BY number", (proposal,))
    return [{**dict(row), **{key: json.loads(row[key]) for key in JSON_COLUMNS}} for row in rows]


def takes_of(db: sqlite3.Connection, proposal: str) -> list[sqlite3.Row]:
    """Return the takes of a proposal, in order."""
    return db.execute(
        "SELECT * FROM proposal_takes WHERE proposal_id = ? ORDER BY place", (proposal,)
    ).fetchall()


def require_number(db: sqlite3.Connection, proposal: str, number: int) -> sqlite3.Row:
    """Return the row of an item.

    Raises
    ------
    InputError
        If there is no such item; it names the numbers there are.
    """
    row: sqlite3.Row | None = db.execute(
        "SELECT * FROM proposal_items WHERE proposal_id = ? AND number = ?", (proposal, number)
    ).fetchone()
    if row is None:
        raise InputError("number", str(number), f"1 to {len(items_of(db, proposal))}")
    return row
