"""What of a proposal can be played live: the sounds it offers, on the takes it offers, and nothing else."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass

from server.database.store import Store
from server.proposals.store import by_token, require_number, takes_of
from server.refusals import Conflict, Unknown


@dataclass(frozen=True)
class LiveItem:
    """An offered sound whose knobs can be turned.

    Attributes
    ----------
    version : str
    position : str
    knobs : mapping of str to float
        As offered, every one.
    switches : mapping of str to str
    strings : int
        The lowest number with the same version: it has the same stems.
    """

    version: str
    position: str
    knobs: Mapping[str, float]
    switches: Mapping[str, str]
    strings: int


def live_item(store: Store, token: str, number: int) -> LiveItem:
    """An item of the proposal of an open link.

    Parameters
    ----------
    store : Store
    token : str
    number : int

    Returns
    -------
    LiveItem

    Raises
    ------
    Unknown, Gone
        As `proposals.by_token`.
    InputError
        If there is no such item.
    """
    with store.read() as db:
        proposal = str(by_token(db, token)["id"])
        row = require_number(db, proposal, number)
        first = db.execute(
            "SELECT min(number) FROM proposal_items WHERE proposal_id = ? AND version_id = ?",
            (proposal, row["version_id"]),
        ).fetchone()
        return LiveItem(
            version=row["version_id"],
            position=row["position"],
            knobs=json.loads(row["knobs"]),
            switches=json.loads(row["switches"]),
            strings=int(first[0]),
        )


def require_take(store: Store, token: str, take: str) -> None:
    """Refuse a take that the proposal does not offer.

    Raises
    ------
    Unknown
        If it is none of this proposal's, or as `proposals.by_token`.
    Gone
        As `proposals.by_token`.
    """
    with store.read() as db:
        _require_take(db, str(by_token(db, token)["id"]), take)


def clip_gain_db(store: Store, token: str, number: int, take: str) -> float:
    """Gain from volts to the finished clip of an item, dB.

    Parameters
    ----------
    store : Store
    token : str
    number : int
    take : str

    Returns
    -------
    float
        A live sound with this gain is as loud as the clip.

    Raises
    ------
    Unknown
        If the take is none of this proposal's, or as `proposals.by_token`.
    Gone
        As `proposals.by_token`.
    Conflict
        If the clip has not been rendered yet.
    """
    with store.read() as db:
        proposal = str(by_token(db, token)["id"])
        _require_take(db, proposal, take)
        row = db.execute(
            "SELECT record FROM proposal_clips WHERE proposal_id = ? AND number = ? AND take_id = ?",
            (proposal, number, take),
        ).fetchone()
    if row is None:
        raise Conflict("the sound", "one that is still being prepared", "a sound whose clip is ready")
    return float(json.loads(row["record"])["gain_db"])


def _require_take(db: sqlite3.Connection, proposal: str, take: str) -> None:
    if take not in [row["take_id"] for row in takes_of(db, proposal)]:
        raise Unknown("take", "none of this proposal's", "a take that the proposal names")
