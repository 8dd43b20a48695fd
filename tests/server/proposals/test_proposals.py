"""Proposals: the customer's view, its link and its clips, and the answers the bench receives."""

from __future__ import annotations

import base64
import copy
import hashlib
import json
import sqlite3
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from proposal_case import TAKE, Made, again, made
from server_client import KEY, MARK, client_of
from talk_case import favourite, note, said

from dsp.facts.position import position_facts
from dsp.facts.words import WordInputs, sound_words
from server.proposals.describe import brightness_place, read_version
from server.proposals.news import LONGEST_WAIT_S
from server.web.links import WRITTEN, WRONG_LINKS


@pytest.fixture
def proposal(tmp_path: Path) -> Made:
    return made(tmp_path)


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make a proposal with its clips, for tests that change nothing."""
    return made(tmp_path_factory.mktemp("rendered")).render()


def where(answer: Any, status: int) -> list[str]:
    """Return the places that a refusal names."""
    assert answer.status_code == status, answer.text
    return [one["where"] for one in answer.json()["problems"]]


# --- The link


def test_token_has_192_random_bits_and_is_stored_nowhere(proposal: Made) -> None:
    assert len(base64.urlsafe_b64decode(proposal.token)) == 24
    assert proposal.another().token != proposal.token
    proposal.client.get(proposal.link)
    files = [path for path in proposal.data.rglob("*") if path.is_file()]
    assert any(path.name == "presolder.sqlite" for path in files)
    content = b"".join(path.read_bytes() for path in files)
    assert proposal.token.encode() not in content
    assert hashlib.sha256(proposal.token.encode()).hexdigest().encode() in content


def test_customer_sees_only_the_chosen_sounds(proposal: Made) -> None:
    proposal.render()
    offer = proposal.offer()
    assert set(offer) == {
        "title", "created", "expires", "takes", "items", "wirings", "favourites", "marks", "comments",
        "wishes", "place", "looked", "unread", "ways", "heard", "workshop", "statement", "signoff", "ready",
        "failed", "after",
    }  # fmt: skip
    for item in offer["items"]:
        assert set(item) == {"number", "label", "words", "stands", "brightness", "picture", "clips"}
    shown = proposal.client.get(proposal.link).text
    for secret in ("Secret", proposal.id, proposal.commission, proposal.version, "tone_cap", "neck_a"):
        assert secret not in shown


def test_words_come_from_the_table_and_labels_from_the_wiring(proposal: Made) -> None:
    wiring = read_version(proposal.client.get(f"/api/versions/{proposal.version}").json()["text"])
    facts = position_facts(wiring, [wiring.setting(position) for position in "123"])
    heard = [
        WordInputs(one.brightness, one.low_share, one.middle_share, one.level_db, one.hum) for one in facts
    ]
    for item, words, fact in zip(proposal.offer()["items"], sound_words(heard), facts, strict=True):
        assert tuple(item["words"]) == words
        assert item["label"] == wiring.labels[fact.setting.position]
        assert item["brightness"] == brightness_place(fact.brightness)


def test_brightness_rises_with_the_centroid_and_stays_on_its_scale() -> None:
    places = [brightness_place(value) for value in (0.0, 1.0, 2.5, 3.2, 4.9, 6.4, 9.0, 40.0)]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (0.0, 1.0)
    assert places[3:6] == [0.25, 0.5, 0.75]  # where the table's words change


def test_own_label_words_and_knobs_are_shown(proposal: Made) -> None:
    item = {
        "version": proposal.version,
        "position": "2",
        "label": " Sunday ",
        "words": ["like rain"],
        "knobs": {"tone": 6.5},
    }
    (shown,) = proposal.another(items=[item]).offer()["items"]
    assert (shown["label"], shown["words"], shown["stands"]) == ("Sunday", ["like rain"], ["tone at 6.5"])


@pytest.mark.parametrize(
    ("change", "status", "named"),
    [
        ({"items": [{"position": "1"}]}, 404, "version"),
        ({"items": [{"version": "", "position": "1"}]}, 422, "items.0.version"),
        ({"items": [{"position": "9"}], "own": True}, 422, "wiring: position"),
        ({"items": [{"position": "1", "knobs": {"tone": 11}}], "own": True}, 422, "items.0.knobs.tone"),
        ({"items": [{"position": "1", "knobs": {"tine": 1}}], "own": True}, 422, "wiring: knob"),
        ({"items": []}, 422, "items"),
        ({"takes": []}, 422, "takes"),
        ({"takes": ["demo:nothing"]}, 404, "take"),
        ({"expires_days": 0}, 422, "expires_days"),
        ({"expires_days": 366}, 422, "expires_days"),
        ({"title": " "}, 422, "title"),
        ({"more": 1}, 422, "more"),
    ],
)
def test_an_impossible_proposal_is_refused_by_field(
    rendered: Made, change: dict[str, Any], status: int, named: str
) -> None:
    change = copy.deepcopy(change)
    own = change.pop("own", False)
    body = {
        "title": "A",
        "items": [{"version": rendered.version, "position": "1"}],
        "takes": [TAKE],
        **change,
    }
    for item in body["items"]:
        item.setdefault("version", rendered.version if own else "none")
    address = f"/api/commissions/{rendered.commission}/proposals"
    before = len(rendered.client.get(address).json())
    assert named in where(rendered.client.post(address, json=body), status)
    assert len(rendered.client.get(address).json()) == before


def test_unknown_revoked_expired_and_renewed_links(proposal: Made) -> None:
    client = proposal.client
    assert where(client.get("/api/p/nothing"), 404) == ["this link"]
    client.post(f"/api/proposals/{proposal.id}/revoke")
    answer = client.get(proposal.link)
    assert where(answer, 410) == ["this link"]
    assert "ask the workshop" in answer.json()["problems"][0]["hint"]
    assert proposal.bench()["state"] == "revoked"
    renewed = client.post(f"/api/proposals/{proposal.id}/link", json={"expires_days": 2}).json()
    assert where(client.get(proposal.link), 404) == ["this link"]
    assert client.get(f"/api{renewed['link']}").status_code == 200
    with proposal.store.write() as db:
        db.execute("UPDATE proposals SET expires = '2020-01-01T00:00:00.000Z'")
    assert where(client.get(f"/api{renewed['link']}"), 410) == ["this link"]
    assert proposal.bench()["state"] == "expired"
    answer = client.post(f"/api{renewed['link']}/operations", json=said(favourite(1)))
    assert where(answer, 410) == ["this link"]


def test_guessing_addresses_are_refused_and_others_are_not(proposal: Made) -> None:
    app = proposal.client.app
    guesser = TestClient(app, base_url="http://127.0.0.1", headers=MARK, client=("192.0.2.7", 1))
    for k in range(WRONG_LINKS):
        assert guesser.get(f"/api/p/guess{k}").status_code == 404
    assert guesser.get("/api/p/guess").status_code == 429
    answer = guesser.get(proposal.link)
    assert answer.status_code == 429
    assert "Retry-After" in answer.headers
    neighbour = TestClient(app, base_url="http://127.0.0.1", headers=MARK, client=("192.0.2.8", 1))
    for _ in range(2 * WRONG_LINKS):
        assert neighbour.get(proposal.link).status_code == 200


def test_writing_is_limited_by_address(proposal: Made) -> None:
    body = said(favourite(1))
    answers = [
        proposal.client.post(f"{proposal.link}/operations", json=body).status_code for _ in range(WRITTEN + 1)
    ]
    assert set(answers[:-1]) == {200}
    assert answers[-1] == 429


def test_bench_needs_its_key_where_the_customer_needs_none(proposal: Made) -> None:
    outside = again(proposal, host="192.0.2.1", key=KEY)
    assert outside.get(proposal.link).status_code == 200
    for path in (f"proposals/{proposal.id}", f"commissions/{proposal.commission}/proposals",
                 f"proposals/{proposal.id}/events", f"proposals/{proposal.id}/verify"):  # fmt: skip
        assert outside.get(f"/api/{path}").status_code == 401
    assert outside.post(f"/api/proposals/{proposal.id}/revoke").status_code == 401
    outside.post("/api/access", json={"key": KEY})
    renewed = outside.post(f"/api/proposals/{proposal.id}/link", json={}).json()
    assert {one["reach"] for one in renewed["links"]} == {"network"}
    here = proposal.client.post(f"/api/proposals/{proposal.id}/link", json={}).json()["links"]
    assert [one["reach"] for one in here] == ["machine"]


def test_other_sites_cannot_write(proposal: Made) -> None:
    stranger = TestClient(proposal.client.app, base_url="http://127.0.0.1", headers={})
    address, body = f"{proposal.link}/operations", said(favourite(1))
    assert stranger.post(address, json=body).status_code == 403
    answer = proposal.client.post(address, json=body, headers={"Origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert proposal.offer()["favourites"] == []


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-1e999", "1e400", '"5"', "null"])
def test_numbers_that_are_not_items_are_refused_without_a_server_error(rendered: Made, number: str) -> None:
    item = {"version": rendered.version, "position": "1", "knobs": {"tone": "?"}}
    body = json.dumps({"title": "A", "takes": [TAKE], "items": [item]}).replace('"?"', number)
    answer = rendered.client.post(
        f"/api/commissions/{rendered.commission}/proposals",
        content=body,
        headers={"Content-Type": "application/json"},
    )
    assert answer.status_code in ((201,) if number == '"5"' else (422,)), answer.text


# --- Events


def test_the_bench_learns_at_once(proposal: Made) -> None:
    after = proposal.bench()["after"]
    heard: list[dict[str, Any]] = []

    def listen() -> None:
        answer = proposal.client.get(f"/api/proposals/{proposal.id}/events", params={"after": after})
        heard.append(answer.json())

    thread = threading.Thread(target=listen)
    thread.start()
    time.sleep(0.4)
    assert not heard  # nothing has happened
    again(proposal).post(f"{proposal.link}/operations", json=said(note("Hello")))
    thread.join(0.8 * LONGEST_WAIT_S)  # without news, the answer comes only then
    (news,) = heard
    assert news["changed"] is True
    assert news["after"] > after
    assert proposal.bench()["after"] == news["after"]


def test_an_offer_does_not_change(proposal: Made) -> None:
    proposal.render()
    proposal.client.post(f"{proposal.link}/operations", json=said(note("a")))
    for change in (
        "UPDATE proposal_items SET label = 'x'",
        "DELETE FROM proposal_items",
        "UPDATE proposal_takes SET name = 'x'",
        "UPDATE proposal_clips SET flac_sha256 = 'x'",
        "DELETE FROM proposal_clips",
        "UPDATE operations SET text = 'x'",
        "DELETE FROM operations",
        "DELETE FROM proposals",
        "UPDATE proposals SET title = 'x'",
        "REPLACE INTO proposal_takes SELECT * FROM proposal_takes",
    ):
        with pytest.raises(sqlite3.IntegrityError), proposal.store.write() as db:
            db.execute(change)


def test_every_version_of_the_list_is_shown_newest_first(proposal: Made) -> None:
    other = proposal.another(title="Second thoughts")
    listed = proposal.client.get(f"/api/commissions/{proposal.commission}/proposals").json()
    assert [one["id"] for one in listed] == [other.id, proposal.id]
    assert [one["seen"] for one in listed] == [None, None]
    other.offer()
    assert other.bench()["seen"] is not None
    assert client_of(proposal.data).get("/api/commissions/none/proposals").status_code == 404
