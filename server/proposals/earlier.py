"""Find a proposal that was made before of the same sounds."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence

from server.database.store import Store, now
from server.proposals.queue import clips_of, readiness
from server.proposals.store import Item, OfferedTake, item_row, take_row
from server.proposals.variants import first_sounds
from server.proposals.ways import DIRECT_ALONE, way_rows
from server.proposals.wirings import OfferedWiring, wiring_row


def find_earlier(
    store: Store,
    commission: str,
    title: str,
    items: Sequence[Item],
    wirings: Sequence[OfferedWiring],
    takes: Sequence[OfferedTake],
    keys: Mapping[str, str],
    ways: Sequence[str] = DIRECT_ALONE,
) -> str | None:
    """Return the newest open proposal that offers the same, or None.

    Parameters
    ----------
    keys : mapping of str to str
        By id of a take: its key by content. Clips of a take that has changed since are other sounds.
    ways : sequence of str
        See `store.create`.
    """
    with store.read() as db:
        rows = db.execute(
            "SELECT id FROM proposals WHERE commission_id = ? AND title = ? AND revoked IS NULL"
            " AND expires > ? ORDER BY created DESC, rowid DESC",
            (commission, title, now()),
        ).fetchall()
        same = (str(row["id"]) for row in rows if _offers(db, row["id"], items, wirings, takes, keys, ways))
        return next(same, None)


def _offers(
    db: sqlite3.Connection,
    proposal: str,
    items: Sequence[Item],
    wirings: Sequence[OfferedWiring],
    takes: Sequence[OfferedTake],
    keys: Mapping[str, str],
    ways: Sequence[str],
) -> bool:
    tables = (
        ("proposal_items", "number"),
        ("proposal_wirings", "number"),
        ("proposal_takes", "place"),
        ("proposal_ways", "place"),
    )
    first = first_sounds(db, proposal)  # what answers to wishes came later
    offered = [
        [
            tuple(row)
            for row in db.execute(
                f"SELECT * FROM {table} WHERE proposal_id = ? ORDER BY {order}", (proposal,)
            )
        ]
        for table, order in tables
    ]
    wanted = [
        [item_row(proposal, number, item) for number, item in enumerate(items, 1)],
        [wiring_row(proposal, number, wiring) for number, wiring in enumerate(wirings, 1)],
        [take_row(proposal, place, take) for place, take in enumerate(takes)],
        way_rows(proposal, ways),
    ]
    offered[0] = [row for row in offered[0] if row[1] in first]
    if offered != wanted or readiness(db, proposal)[1]:
        return False
    return all(
        json.loads(clip["record"]).get("take_key") == keys[clip["take_id"]] for clip in clips_of(db, proposal)
    )
