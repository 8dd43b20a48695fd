"""Receipts of answers, opened here by the standards (RFC 1951, RFC 2104, RFC 4648)."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import zlib
from typing import Any

import pytest
from answer_case import seal, send, to_base64, with_clips_of
from proposal_case import Made, made


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("workshop")).render()


@pytest.fixture
def proposal(workshop: Made) -> Made:
    return with_clips_of(workshop, workshop.another())


def bring(one: Made, text: str) -> dict[str, Any]:
    found: dict[str, Any] = one.client.post("/api/answers", json={"text": text}).json()
    return found


def receipt(one: Made, answer: dict[str, Any], secret: bytes) -> dict[str, Any]:
    """Return what a receipt says, its seal checked."""
    sealed = one.client.get(f"/api/answers/{answer['sha256']}/receipt").json()["receipt"]
    body, _, mark = sealed.rpartition(".")
    assert mark == to_base64(hmac.new(secret, body.encode(), hashlib.sha256).digest()[:16])
    head, _, packed = body.partition(".")
    assert head == "receipt1"
    content = base64.urlsafe_b64decode(packed + "=" * (-len(packed) % 4))
    found: dict[str, Any] = json.loads(zlib.decompress(content, -zlib.MAX_WBITS))
    return found


def test_a_receipt_holds_the_record_of_its_answer_alone(proposal: Made) -> None:
    sent = send(proposal)
    first = bring(proposal, seal(sent))
    said, signed = receipt(proposal, first, sent.secret), proposal.bench()["signoff"]
    assert said == {
        "f": 1, "p": proposal.id, "a": first["sha256"], "w": first["received"], "state": "signed",
        "sign": {"n": 1, "of": "wiring", "name": "R. Winter",
                 **{key: signed[key] for key in ("label", "date", "when", "sha256")}},
    }  # fmt: skip
    second = bring(proposal, seal(sent, sign={"n": 1, "name": "M. Summer", "agrees": 2}, r="0" * 12))
    said = receipt(proposal, second, sent.secret)
    assert (said["state"], "sign" in said) == ("second", False), "another's signature is nobody's business"
    said = receipt(proposal, bring(proposal, seal(sent, sign=None, r="1" * 12)), sent.secret)
    assert (said["state"], "sign" in said) == ("none", False)


def test_a_doubtful_signature_is_in_the_receipt_once_it_is_recorded(proposal: Made) -> None:
    sent = send(proposal)
    proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    answer = bring(proposal, seal(sent))
    said = receipt(proposal, answer, sent.secret)
    assert (said["state"], "sign" in said) == ("waiting", False)
    proposal.client.post(f"/api/answers/{answer['sha256']}/signoff", json={"word": "by telephone"})
    assert receipt(proposal, answer, sent.secret)["sign"]["name"] == "R. Winter"


def test_a_receipt_is_no_answer_and_an_unknown_answer_has_none(proposal: Made) -> None:
    answer = bring(proposal, seal(send(proposal)))
    sealed = proposal.client.get(f"/api/answers/{answer['sha256']}/receipt").json()["receipt"]
    for text, status in ((sealed, 422), (sealed.replace("receipt1.", "presolder1."), 404)):
        assert proposal.client.post("/api/answers", json={"text": text}).status_code == status
    assert proposal.client.get("/api/answers/none/receipt").status_code == 404
