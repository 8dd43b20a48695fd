"""Manifests: what was sent to a customer, kept for good, each with the secret that seals its answers.

A file that holds a proposal carries the digest of its manifest and the secret. An answer names the
digest. What counts is the workshop's own manifest of that digest, never what the file claims.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dsp.chain.ways import DIRECT
from server.database.store import Store, now
from server.proposals.queue import clips_of
from server.proposals.signoffs import (
    STATEMENTS,
    Choice,
    canonical,
    fingerprint,
    offered_items,
    picture_digests,
)
from server.proposals.store import count_change, row_of, takes_of
from server.proposals.variants import newest_offered
from server.proposals.ways import ways_of
from server.proposals.wirings import offered_wirings
from server.refusals import Conflict

FORMAT, HEARD_FORMAT = 2, 3
"""2 holds wirings, which are signed for; of what was sent with format 1 sounds are. Both are of sounds heard
direct; 3 has the ``way`` in which those of a file are heard otherwise."""
SECRET_BYTES = 32
NO_OFFER = ("expires", "stems", "models", "page")
"""What differs between files of the same offer."""


@dataclass(frozen=True)
class Sent:
    """A manifest as the workshop keeps it.

    Attributes
    ----------
    sha256 : str
        Of the canonical manifest: the `s` of its answers.
    secret : bytes
        Seals the answers.
    created : str
        When something with this manifest was first sent.
    """

    sha256: str
    proposal: str
    secret: bytes
    created: str
    manifest: Mapping[str, Any]

    @property
    def way(self) -> str:
        """Return the way in which the sounds that were sent are heard."""
        return str(self.manifest.get("way", DIRECT.name))

    def choice(self, number: int) -> Choice:
        """Return what the signature for a number is for."""
        return Choice(signed_for(self.manifest), number, len(self.manifest["items"]), self.way)

    def label(self, number: int) -> str:
        """Return the name of a wiring or sound that a signature is for."""
        of = "wirings" if signed_for(self.manifest) == "wiring" else "items"
        chosen = next(one for one in self.manifest[of] if one["number"] == number)
        return str(chosen["name" if of == "wirings" else "label"])


def signed_for(manifest: Mapping[str, Any]) -> str:
    """Return what signatures for a manifest are for: ``wiring`` or ``sound``."""
    return "sound" if manifest["format"] == 1 else "wiring"


def keep_manifest(
    store: Store, proposal: str, *, page: str, stems: Mapping[str, str], models: Mapping[str, str]
) -> Sent:
    """Keep what is being sent of a proposal, and return it with its secret.

    The same content again is the same manifest with the same secret.

    Parameters
    ----------
    page : str
        Digest or version of the page's own program.
    stems, models : mapping of str to str
        SHA-256 of each file of stems and each model of live knobs, by name.

    Raises
    ------
    Unknown
        If there is no such proposal.
    Conflict
        If a clip is not rendered yet.
    """
    with store.write() as db:
        manifest = _manifest(db, proposal, page, stems, models)
        text = canonical(manifest)
        sha256 = fingerprint(text)
        if (before := find_manifest(db, sha256)) is not None:
            return before
        db.execute(
            "INSERT INTO manifests VALUES (?, ?, ?, ?, ?)",
            (sha256, proposal, now(), secrets.token_bytes(SECRET_BYTES), text),
        )
        count_change(db, proposal)
        kept = find_manifest(db, sha256)
        assert kept is not None
        return kept


def _manifest(
    db: sqlite3.Connection, proposal: str, page: str, stems: Mapping[str, str], models: Mapping[str, str]
) -> dict[str, Any]:
    row = row_of(db, proposal)
    way = ways_of(db, proposal)[0]  # what is sent is heard in this one alone
    items, takes, clips = offered_items(db, proposal), takes_of(db, proposal), clips_of(db, proposal, way)
    if len(clips) < len(items) * len(takes):
        raise Conflict("this proposal", "sounds still being prepared", "a proposal with all its clips",
                       "try again soon")  # fmt: skip
    return {
        **({"format": FORMAT} if way == DIRECT.name else {"format": HEARD_FORMAT, "way": way}),
        "proposal": proposal,
        "title": row["title"],
        "created": row["created"],
        "expires": row["expires"],
        "statement": STATEMENTS["wiring"],
        "items": items,
        "wirings": offered_wirings(db, proposal),
        "takes": [
            {"take": take["take_id"], "name": take["name"], "seconds": take["seconds"],
             "coil_places": take["places_said"]}
            for take in takes
        ],
        "clips": [
            {"number": clip["number"], "take": clip["take_id"], "flac_sha256": clip["flac_sha256"],
             "mp3_sha256": clip["mp3_sha256"], "wired_gain_db": clip["wired_gain_db"]}
            for clip in clips
        ],
        "pictures": picture_digests(db, proposal),
        "stems": dict(stems),
        "models": dict(models),
        "page": page,
    }  # fmt: skip


def find_manifest(db: sqlite3.Connection, sha256: str) -> Sent | None:
    """Return a manifest that was sent, or None."""
    row = db.execute("SELECT * FROM manifests WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        return None
    return Sent(row["sha256"], row["proposal_id"], row["secret"], row["created"], json.loads(row["manifest"]))


def newer_offer(db: sqlite3.Connection, sent: Sent) -> str | None:
    """Return when something newer was put before the customer, or None.

    That is a later proposal of the commission that was not taken back, this proposal sent again with
    other sounds or pictures, or a sound that answers a wish. Other files of stems, models and program
    are the same offer.
    """
    rows = db.execute(
        "SELECT manifest, created FROM manifests WHERE proposal_id = ? AND rowid >"
        " (SELECT rowid FROM manifests WHERE sha256 = ?) ORDER BY rowid DESC",
        (sent.proposal, sent.sha256),
    )
    again = (row["created"] for row in rows if _offer(json.loads(row["manifest"])) != _offer(sent.manifest))
    later = db.execute(
        "SELECT created FROM proposals WHERE created > ? AND revoked IS NULL AND id != ? AND commission_id ="
        " (SELECT commission_id FROM proposals WHERE id = ?) ORDER BY created DESC LIMIT 1",
        (sent.created, sent.proposal, sent.proposal),
    )
    sound = newest_offered(db, sent.proposal, len(sent.manifest["items"]))
    found = [*again, *(row["created"] for row in later), *([sound] if sound else [])]
    return max(found, default=None)


def _offer(manifest: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in manifest.items() if key not in NO_OFFER}


def manifest_problem(db: sqlite3.Connection, sha256: str) -> str:
    """Return what is wrong with a kept manifest; empty if it is what was sent."""
    row = db.execute("SELECT manifest FROM manifests WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        return "what was sent is gone"
    return "" if fingerprint(row["manifest"]) == sha256 else "what was sent is another"
