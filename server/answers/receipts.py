"""Receipts: what the workshop has of an answer, sealed for the file that the answer came from.

``receipt1.`` and then as an answer. The head is under the seal too, so no answer passes as a receipt.
"""

from __future__ import annotations

from typing import Any

from server.answers.sealing import seal_text
from server.answers.taking_in import Answer, find_answer
from server.answers.views import signature_json
from server.database.store import Store
from server.proposals.signoffs import canonical, signoff_of

HEAD = "receipt1"
FORMAT = 1
RECORDED = ("signed", "signed before")


def make_receipt(store: Store, sha256: str) -> str:
    """Return the receipt of an answer that was taken in.

    It stays the same until the signature is recorded.

    Raises
    ------
    Unknown
        If there is no such answer.
    """
    with store.read() as db:
        answer = find_answer(db, sha256)
        signature, signed = signature_json(db, answer), signoff_of(db, answer.sent.proposal)
    content = _content(answer, "none" if signature is None else signature["state"], signed)
    return seal_text(HEAD, canonical(content), answer.sent.secret)


def _content(answer: Answer, state: str, signed: dict[str, Any] | None) -> dict[str, Any]:
    """Return what a receipt says.

    Returns
    -------
    dict
        Keys as short as in an answer: `a` digest of the answer, `w` when it was taken in, `state` of its
        signature, and `sign` with the fingerprint of the record (`sha256`) once it is recorded.
    """
    found = {"f": FORMAT, "p": answer.sent.proposal, "a": answer.sha256, "w": answer.received, "state": state}
    if signed is not None and state in RECORDED:
        found["sign"] = {
            "n": signed["number"],
            **{key: signed[key] for key in ("of", "label", "name", "date", "when", "sha256")},
        }
    return found
