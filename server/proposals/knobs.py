"""The knobs of an offered sound, live: what a link may play, and as loud as its clip."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass

from server.bench.hearing import Draft, Hearing
from server.database.store import Store
from server.proposals.levels import take_level
from server.proposals.queue import clips_of
from server.proposals.store import by_token, items_of, require_number, takes_of
from server.proposals.ways import require_way, ways_of
from server.refusals import Conflict, Unknown


@dataclass(frozen=True)
class TurnableSound:
    """An offered sound whose knobs can be turned.

    Attributes
    ----------
    hearing : Hearing
        As offered, with every knob.
    same_stems_as : int
        The lowest number with the same version: it has the same stems.
    """

    hearing: Hearing
    same_stems_as: int


def get_sound(store: Store, token: str, number: int) -> TurnableSound:
    """Return a sound of the proposal of an open link.

    Raises
    ------
    Unknown, Gone
        As `store.by_token`.
    InputError
        If there is no such item.
    """
    with store.read() as db:
        proposal = str(by_token(db, token)["id"])
        require_number(db, proposal, number)
        return _sounds(db, proposal)[number]


def offered_sounds(store: Store, proposal: str) -> dict[int, TurnableSound]:
    """Return every sound of a proposal by its number."""
    with store.read() as db:
        return _sounds(db, proposal)


def _sounds(db: sqlite3.Connection, proposal: str) -> dict[int, TurnableSound]:
    found: dict[int, TurnableSound] = {}
    first: dict[str, int] = {}
    for item in items_of(db, proposal):
        number, version = int(item["number"]), str(item["version_id"])
        hearing = Hearing(Draft(version), item["position"], item["knobs"], item["switches"])
        found[number] = TurnableSound(hearing, first.setdefault(version, number))
    return found


def require_take(store: Store, token: str, take: str) -> None:
    """Refuse a take that the proposal does not offer.

    Raises
    ------
    Unknown
        If the proposal does not offer it, or as `store.by_token`.
    Gone
        As `store.by_token`.
    """
    with store.read() as db:
        _require_take(db, str(by_token(db, token)["id"]), take)


@dataclass(frozen=True)
class ClipLevel:
    """How an item's clip comes from the volts of its wiring.

    Attributes
    ----------
    way : str
        In which it is heard.
    gain_db : float
        From what is heard, in volts, to the clip as the page plays it: a live sound with this gain is as
        loud as the clip.
    loudness_lufs : float or None
        Of the clip as the page plays it; None for silence.
    lowered_db : float
        What the drive of the set gives way by.
    """

    way: str
    gain_db: float
    loudness_lufs: float | None
    lowered_db: float


def clip_level(store: Store, token: str, number: int, take: str, way: str | None = None) -> ClipLevel:
    """Return the level of an item's clip.

    Parameters
    ----------
    way : str or None
        None for the one heard first.

    Raises
    ------
    Unknown
        If the proposal does not offer the take, or as `store.by_token`.
    Gone
        As `store.by_token`.
    InputError
        If the proposal is not heard in the way.
    Conflict
        If the clip has not been rendered yet.
    """
    with store.read() as db:
        proposal = str(by_token(db, token)["id"])
        _require_take(db, proposal, take)
        found = _clip_levels(db, proposal, take, require_way(db, proposal, way))
    if number not in found:
        raise Conflict("the sound", "one that is still being prepared", "a sound whose clip is ready")
    return found[number]


def clip_levels(store: Store, proposal: str, take: str) -> dict[int, ClipLevel]:
    """Return the level of every finished clip in the way heard first."""
    with store.read() as db:
        return _clip_levels(db, proposal, take, ways_of(db, proposal)[0])


def _clip_levels(db: sqlite3.Connection, proposal: str, take: str, way: str) -> dict[int, ClipLevel]:
    clips = [row for row in clips_of(db, proposal, way) if row["take_id"] == take]
    common_db = take_level(clips).gain_db
    levels = {}
    for row in clips:
        record, lufs = json.loads(row["record"]), row["loudness_lufs"]
        levels[row["number"]] = ClipLevel(
            way,
            float(record["gain_db"]) + common_db,
            None if lufs is None else lufs + common_db,
            float(record.get("drive_lowered_db", 0.0)),
        )
    return levels


def _require_take(db: sqlite3.Connection, proposal: str, take: str) -> None:
    if take not in [row["take_id"] for row in takes_of(db, proposal)]:
        raise Unknown("take", "none of this proposal's", "a take that the proposal names")
