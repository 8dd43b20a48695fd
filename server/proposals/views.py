"""A proposal as the bench sees it, and the part that the customer sees."""

from __future__ import annotations

import base64
import json
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from server.database.store import Store
from server.proposals import farthest
from server.proposals.levels import SetLevel, set_levels, take_level
from server.proposals.pictures import pictures_of
from server.proposals.queue import clips_of, readiness
from server.proposals.signoffs import STATEMENTS, signoff_of
from server.proposals.store import by_token, items_of, row_of, state_of, takes_of
from server.proposals.talk import talk_of
from server.proposals.variants import Answers
from server.proposals.ways import describe_ways, ways_of
from server.proposals.wirings import MADE_OF, TERMS, wirings_of
from server.workshop.store import Workshop, workshop_of

ITEM = ("number", "label", "words", "stands", "position", "knobs", "switches")
WIRING = ("number", *TERMS, *MADE_OF, "sounds")
Address = Callable[[str, str], str]
"""Where the customer's page finds a clip or picture, by its digest and ending."""
SIGNED = ("of", "number", "label", "name", "date", "when", "sha256")
"""What the customer sees of a sign-off."""

PASSING = ("marks", "place", "looked", "unread", "after", "making")
"""What is true for the moment alone: a file keeps none of it, and the same offer is the same file."""


def for_bench(store: Store, proposal: str) -> dict[str, Any]:
    """Return everything about a proposal but its token.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        row = row_of(db, proposal)
        ready, failed = readiness(db, proposal)
        signed = signoff_of(db, proposal)
        items = [
            {**{key: item[key] for key in ITEM}, "version": item["version_id"]}
            for item in items_of(db, proposal)
        ]
        return {
            **{key: row[key] for key in ("id", "title", "created", "expires", "revoked", "seen")},
            "state": state_of(db, row),
            "ready": ready,
            "failed": failed,
            "items": items,
            "wirings": [
                {**{key: one[key] for key in WIRING}, "version": one["version_id"]}
                for one in wirings_of(db, proposal)
            ],
            "takes": [{"id": take["take_id"], "name": take["name"]} for take in takes_of(db, proposal)],
            "ways": ways_of(db, proposal),
            "farthest": [farthest.told_at_bench(one) for one in farthest.farthest_of(db, proposal)],
            **_talk_for_bench(db, proposal),
            "signoff": signed,
            "after": row["changes"],
        }


def _talk_for_bench(db: sqlite3.Connection, proposal: str) -> dict[str, Any]:
    """Return what is said, and all that is known of the sounds that answer wishes."""
    talk, answers = talk_of(db, proposal), Answers(db, proposal)
    wishes = [{**one, **answers.find(one["number"], one["knobs"]).told_at_bench()} for one in talk["wishes"]]
    return {**talk, "wishes": wishes}


def for_customer(store: Store, token: str) -> dict[str, Any]:
    """Return what a customer sees of a proposal, with marks and comments.

    ``takes`` and ``items`` have the levels and clips of the way heard first; ``heard`` has those of each way,
    and the clips of the farthest two.

    Raises
    ------
    Unknown, Gone
        As `store.by_token`.
    """
    folder = f"/api/p/{token}/clips"

    def address(sha256: str, ending: str) -> str:
        return f"{folder}/{sha256}.{ending}"

    with store.read() as db:
        row = by_token(db, token)
        ways = ways_of(db, row["id"])
        heard = {way: _heard_json(db, row["id"], way, address) for way in ways}
        two = [farthest.told(one) for one in farthest.farthest_of(db, row["id"]) if one["found"]]
        return {**_offer_json(db, row, address, ways), "heard": heard, **({"farthest": two} if two else {})}


def for_file(store: Store, proposal: str, address: Address) -> dict[str, Any]:
    """Return what the customer sees of a proposal in a file.

    A file has the way heard first alone.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        offer = _offer_json(db, row_of(db, proposal), address, ways_of(db, proposal)[:1])
        if offer["workshop"] and (picture := workshop_of(db).picture):
            offer["workshop"]["picture"] = f"data:image/jpeg;base64,{base64.b64encode(picture).decode()}"
        offer["wishes"] = [{key: one[key] for key in one if key not in PASSING} for one in offer["wishes"]]
        return {key: value for key, value in offer.items() if key not in PASSING}


def _workshop_json(workshop: Workshop, address: Address) -> dict[str, Any] | None:
    if not workshop.is_known:
        return None
    picture = address(workshop.sha256, "jpg") if workshop.picture else None
    return {"name": workshop.name, "contact": workshop.contact, "picture": picture}


def _offer_json(
    db: sqlite3.Connection, row: sqlite3.Row, address: Address, ways: list[str]
) -> dict[str, Any]:
    """Return what is offered, with the clips of the first of some ways."""
    proposal = row["id"]
    ready, failed = readiness(db, proposal)
    clips = clips_of(db, proposal, ways[0])
    levels = set_levels(clips)
    pictures = {row["number"]: row for row in pictures_of(db, proposal)}
    signed = signoff_of(db, proposal)
    return {
        **{key: row[key] for key in ("title", "created", "expires")},
        "ways": describe_ways(ways),
        "takes": [_take_json(take, clips) for take in takes_of(db, proposal)],
        "items": [
            _item_json(item, clips, levels, pictures.get(item["number"]), address)
            for item in items_of(db, proposal)
        ],
        "wirings": [{key: one[key] for key in WIRING} for one in wirings_of(db, proposal)],
        **talk_of(db, proposal),
        "workshop": _workshop_json(workshop_of(db), address),
        "statement": STATEMENTS["wiring"],
        "signoff": signed and {key: signed[key] for key in SIGNED},
        "ready": ready,
        "failed": len(failed),
        "after": row["changes"],
    }


def _heard_json(db: sqlite3.Connection, proposal: str, way: str, address: Address) -> dict[str, Any]:
    """Return the levels of all takes and the clips of all sounds in a way."""
    clips = clips_of(db, proposal, way)
    levels = set_levels(clips)
    of = {(one["number"], one["take_id"]): one for one in clips}
    two: dict[int, dict[str, list[dict[str, Any]]]] = {}
    peaks: dict[str, list[float]] = {}
    for one in farthest.farthest_clips(db, proposal, way):
        number, take = one["number"], one["take_id"]
        gains = levels[take].gains_beside(of[number, take], one)
        two.setdefault(number, {}).setdefault(take, []).append(_clip_json(one, gains, address))
        if (peak := json.loads(one["record"])["true_peak_dbtp"]) is not None:
            peaks.setdefault(take, []).append(peak + max(gains.values()))
    return {
        "takes": {
            take["take_id"]: _level_json(take, clips, peaks.get(take["take_id"], []))
            for take in takes_of(db, proposal)
        },
        **({"farthest": two} if two else {}),
        "clips": {
            item["number"]: _clips_json(item["number"], clips, levels, address)
            for item in items_of(db, proposal)
        },
    }


def _take_json(take: sqlite3.Row, clips: list[sqlite3.Row]) -> dict[str, Any]:
    return {
        "id": take["take_id"],
        "name": take["name"],
        "seconds": take["seconds"],
        "coil_places": take["places_said"],
        **_level_json(take, clips),
    }


def _level_json(
    take: sqlite3.Row, clips: list[sqlite3.Row], beside: Sequence[float] = ()
) -> dict[str, float]:
    level = take_level((clip for clip in clips if clip["take_id"] == take["take_id"]), beside)
    return {"gain_db": level.gain_db, "room_db": level.room_db}


def _item_json(
    item: dict[str, Any],
    clips: list[sqlite3.Row],
    levels: Mapping[str, SetLevel],
    picture: sqlite3.Row | None,
    address: Address,
) -> dict[str, Any]:
    return {
        **{key: item[key] for key in ("number", "label", "words", "stands", "brightness")},
        "picture": picture and {"file": address(picture["sha256"], "svg"), "words": picture["words"]},
        "clips": _clips_json(item["number"], clips, levels, address),
    }


def _clips_json(
    number: int, clips: list[sqlite3.Row], levels: Mapping[str, SetLevel], address: Address
) -> dict[str, Any]:
    """Return the clips of a sound by take; all clips are those of one way, as the levels by take are."""
    return {
        clip["take_id"]: _clip_json(clip, levels[clip["take_id"]].gains(clip), address)
        for clip in clips
        if clip["number"] == number
    }


def _clip_json(clip: sqlite3.Row, gains: Mapping[str, float], address: Address) -> dict[str, Any]:
    return {
        "flac": address(clip["flac_sha256"], "flac"),
        "mp3": address(clip["mp3_sha256"], "mp3"),
        "seconds": clip["frames"] / clip["rate_hz"],
        **gains,
        "silent": clip["loudness_lufs"] is None,
    }


def is_offered(store: Store, token: str, sha256: str) -> bool:
    """Whether a clip or picture belongs to the proposal of an open link.

    Raises
    ------
    Unknown, Gone
        As `store.by_token`.
    """
    with store.read() as db:
        proposal = by_token(db, token)["id"]
        row = db.execute(
            "SELECT 1 FROM proposal_clips WHERE proposal_id = ?1 AND ?2 IN (flac_sha256, mp3_sha256)"
            " UNION ALL SELECT 1 FROM proposal_farthest_clips"
            " WHERE proposal_id = ?1 AND ?2 IN (flac_sha256, mp3_sha256)"
            " UNION ALL SELECT 1 FROM proposal_pictures WHERE proposal_id = ?1 AND sha256 = ?2",
            (proposal, sha256),
        ).fetchone()
        return row is not None


def clip_records(store: Store, proposal: str) -> list[dict[str, Any]]:
    """Return the record of each clip: level, peak, error, warnings.

    Raises
    ------
    Unknown
    """
    with store.read() as db:
        row_of(db, proposal)
        return [{**json.loads(one["record"]), "number": one["number"]} for one in clips_of(db, proposal)]
