"""Answers for tests, sealed here by the standards, not by the page or the server."""

from __future__ import annotations

import base64
import datetime
import hashlib
import hmac
import json
import zlib
from typing import Any

from proposal_case import TAKE, Made

from server.answers.manifests import Sent, find_manifest, keep_manifest
from server.proposals.signoffs import STATEMENTS, canonical, fingerprint

NOW = datetime.datetime.now(datetime.UTC)


def to_base64(content: bytes) -> str:
    """Return RFC 4648's base 64 for addresses, without padding."""
    return base64.urlsafe_b64encode(content).decode().rstrip("=")


def seal_text(text: str, secret: bytes) -> str:
    """Return the sealed text of an answer (RFC 1951, RFC 2104)."""
    packing = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    body = f"presolder1.{to_base64(packing.compress(text.encode()) + packing.flush())}"
    return f"{body}.{to_base64(hmac.new(secret, body.encode(), hashlib.sha256).digest()[:16])}"


def send(one: Made, page: str = "1") -> Sent:
    """Send a proposal in a file, as far as the workshop keeps it."""
    return keep_manifest(one.store, one.id, page=page, stems={}, models={})


def send_before_wirings(one: Made) -> Sent:
    """Send a proposal as files of format 1 were: their signatures are for a sound."""
    now = send(one)
    manifest = {key: value for key, value in now.manifest.items() if key != "wirings"}
    text = canonical({**manifest, "format": 1, "statement": STATEMENTS["sound"]})
    with one.store.write() as db:
        values = (fingerprint(text), one.id, now.created, b"\1" * 32, text)
        db.execute("INSERT INTO manifests VALUES (?, ?, ?, ?, ?)", values)
        found = find_manifest(db, values[0])
    assert found is not None
    return found


def written(moment: datetime.datetime = NOW) -> str:
    """Return a time as browsers write it."""
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03}Z"


def compose(sent: Sent, **change: Any) -> dict[str, Any]:
    """Return an answer's content; a key that is None is left out."""
    content = {
        "f": 1, "p": sent.proposal, "s": sent.sha256, "w": written(), "fav": [1, 3],
        "notes": [[2, "Zwei Töne heller, bitte"], [None, "When?"]], "wish": [[2, {"tone": 6.5}]],
        "heard": [[1, TAKE], [2, TAKE], [3, TAKE]],
        "sign": {"n": 1, "name": "R. Winter", "agrees": 2},
        "r": "0001020304ff", **change,
    }  # fmt: skip
    return {key: value for key, value in content.items() if value is not None}


def seal(sent: Sent, **change: Any) -> str:
    """Return a sealed answer."""
    text = json.dumps(compose(sent, **change), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return seal_text(text, sent.secret)


def with_clips_of(done: Made, one: Made) -> Made:
    """Give a proposal the clips and pictures of another with the same sounds."""
    with one.store.write() as db:
        for table in ("proposal_clips", "proposal_pictures"):
            rows = db.execute(f"SELECT * FROM {table} WHERE proposal_id = ?", (done.id,)).fetchall()
            marks = ", ".join("?" * len(rows[0]))
            db.executemany(f"INSERT INTO {table} VALUES ({marks})", [(one.id, *row[1:]) for row in rows])
    return one
