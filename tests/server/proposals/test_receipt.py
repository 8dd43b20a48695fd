"""The receipt of a sign-off: a page that says what the record says, in any browser and on paper."""

from __future__ import annotations

import base64
import datetime
import hashlib
import html
import re
from typing import Any

import pytest
from proposal_case import TAKE, Made, made

from server.proposals.receipt import Receipt, receipt_page

NAME = 'R. <b onclick="x">Winter</b> & Söhne'
PICTURE = "c" * 64


@pytest.fixture(scope="module")
def proposal(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make a proposal that can be signed for: a receipt reads no clip."""
    one = made(tmp_path_factory.mktemp("receipt"), title="Your <i>baritone</i>")
    with one.store.write() as db:
        for number in (1, 2, 3):
            clip = (one.id, number, TAKE, "direct", "a" * 64, "b" * 64, 192_000, 48_000, -20.0, 0.0, "{}")
            db.execute(f"INSERT INTO proposal_clips VALUES ({', '.join('?' * len(clip))})", clip)
        db.execute("INSERT INTO proposal_pictures VALUES (?, 1, ?, 'All of it')", (one.id, PICTURE))
    return one


@pytest.fixture(scope="module")
def signed(proposal: Made) -> dict[str, Any]:
    """Sign the proposal, and return its record."""
    assert proposal.client.get(f"{proposal.link}/receipt").status_code == 404
    today = datetime.datetime.now(datetime.UTC).date().isoformat()
    body = {"wiring": 1, "name": NAME, "date": today, "confirm": True}
    assert proposal.client.post(f"{proposal.link}/signoff", json=body).status_code == 201
    record: dict[str, Any] = proposal.client.get(f"{proposal.link}/record").json()
    return record


def words_of(page: str) -> str:
    """Return what a reader sees of a page."""
    body = page[page.index("<main>") : page.index("</main>")]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


def test_a_receipt_says_in_words_what_the_record_holds(proposal: Made, signed: dict[str, Any]) -> None:
    answer = proposal.client.get(f"{proposal.link}/receipt")
    assert answer.headers["content-type"].startswith("text/html")
    said = words_of(answer.text)
    for text in (signed["title"], signed["statement"], NAME, signed["chosen"]["name"]):
        assert text in said
    for sound in signed["offered"]:
        assert all(text in said for text in (sound["label"], *sound["words"]))
    assert "not chosen" not in said
    assert "position 2, tone 10, volume 10" in said
    assert "Played on: Slide on an E, real guitar." in said
    day = datetime.date.fromisoformat(signed["date"])
    assert f"{day.day} {day:%B} {day.year}" in said
    record = proposal.client.get(f"{proposal.link}/record").content
    assert hashlib.sha256(record).hexdigest() in said.replace(" ", "")


def test_what_people_typed_stays_text(proposal: Made, signed: dict[str, Any]) -> None:
    page = proposal.client.get(f"{proposal.link}/receipt").text
    assert signed["name"] == NAME
    assert "<b onclick" not in page
    assert "<i>" not in page


def test_the_page_loads_its_own_script_and_the_drawing_and_no_more(
    proposal: Made, signed: dict[str, Any]
) -> None:
    answer = proposal.client.get(f"{proposal.link}/receipt")
    policy = answer.headers["content-security-policy"]
    (script,) = re.findall(r"<script>(.*?)</script>", answer.text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert policy.startswith("default-src 'none';")
    assert f"script-src 'sha256-{digest}'" in policy
    (picture,) = re.findall(r'<img src="([^"]+)"', answer.text)
    assert picture == f"clips/{PICTURE}.svg"
    assert signed["pictures"] == {"1": PICTURE}
    (record,) = re.findall(r'<a href="([^"]+)" download', answer.text)
    assert proposal.client.get(f"{proposal.link}/{record}").json() == signed


def test_a_link_that_leads_nowhere_gets_a_page_too(proposal: Made) -> None:
    answer = proposal.client.get("/api/p/nothing/receipt")
    assert answer.status_code == 404
    assert "Open the whole link" in answer.text


def test_one_of_several_wirings_is_shown_with_its_sounds_parts_and_terms(signed: dict[str, Any]) -> None:
    wiring = {
        **signed["chosen"], "name": "Six sounds", "price": "180 in all", "when_ready": "in May",
        "sounds": [1, 3],
        "bought": [{"count": 2, "text": "pot, 500 kΩ", "names": ["volume", "tone"]}],
        "kept": [{"count": 1, "text": "jack", "names": ["output"]}],
    }  # fmt: skip
    page = words_of(receipt_page(Receipt({**signed, "chosen": wiring}, "0" * 64, {}, "")))
    for text in ("Six sounds", "180 in all", "in May", "2 × pot, 500 kΩ (volume, tone)", "1 × jack (output)"):
        assert text in page
    offered = {one["number"]: one["label"] for one in signed["offered"]}
    table, rest = page.split("Played on")
    assert all(offered[number] in table for number in (1, 3))
    assert f"not chosen: 2 {offered[2]}" in rest


def test_a_record_of_one_sound_has_a_receipt(signed: dict[str, Any]) -> None:
    """Sounds were signed for before wirings were; the first records say no way and hold no pictures."""
    older = {key: value for key, value in signed.items() if key not in ("pictures", "via", "wirings")}
    sound = signed["offered"][1]
    page = words_of(receipt_page(Receipt({**older, "chosen": sound}, "0" * 64, {}, "")))
    assert f"What was chosen: 2 {sound['label']}" in page
    assert f"not chosen: 1 {signed['offered'][0]['label']}; 3 " in page
    assert "on the page that the workshop" in page
