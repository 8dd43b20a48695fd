"""What an order of the bench says to buyers: by the listing file's table, to the page's files."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any, get_args
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from listing_case import clips
from PIL import Image
from server_client import client_of

from dsp.chain.ways import WAYS
from dsp.sound.hum import ROOMS
from server.files.tags import read_tags
from server.listings import order, store
from server.listings.forms import NewListing
from server.listings.making.engines import InProcess
from server.listings.making.file_fields import SALE_FIELDS
from server.listings.making.run import run_listing
from server.takes.library import Library

SALE = {"story": "Warm & low", "price": "1450 EUR", "link": "https://shop.example/b?a=1&b=2"}
SCORE = (
    "format: 1\nname: One\nkind: score\ntempo: 120\ntail: 0.3 s\nevents:\n  - {beat: 0, string: 1, fret: 3}\n"
)


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    (tmp_path / "takes").mkdir()
    (tmp_path / "takes" / "one.yaml").write_text(SCORE, encoding="utf-8")
    return client_of(tmp_path / "data", demo=True, places=[tmp_path / "takes"])


def png() -> str:
    held = io.BytesIO()
    Image.new("RGB", (2000, 1000), "teal").save(held, "PNG")
    return base64.b64encode(held.getvalue()).decode()


def wanted(client: TestClient, sale: dict[str, str], **more: Any) -> dict[str, Any]:
    version = client.get("/api/commissions").json()[-1]["wirings"][0]["version"]
    wirings = [{"version": version, "positions": ["1"], "sale": sale}]
    take = next(one["id"] for one in client.get("/api/takes").json() if one["name"] in ("one", "One"))
    return {"title": "Shop", "wirings": wirings, "takes": [take], "formats": [{"format": "mp3"}], **more}


def test_the_form_asks_for_the_fields_of_the_file(client: TestClient) -> None:
    found = client.get("/api/listings/fields").json()
    assert [one["name"] for one in found["sale"]] == [
        one.name for one in SALE_FIELDS if one.name != "wirings"
    ]
    assert [one["name"] for one in found["listing"]] == ["artist", "address"]
    assert [one["name"] for one in found["ways"]] == list(WAYS)
    assert [one["name"] for one in found["hearing"]] == ["limit", "hum"]
    assert [one["name"] for one in found["rooms"]] == list(ROOMS)
    assert get_args(NewListing.model_fields["through"].annotation) == tuple(WAYS)
    assert all(one["about"] for table in found.values() for one in table)


def test_an_order_says_to_buyers_what_the_form_said(client: TestClient, tmp_path: Path) -> None:
    picture = client.post("/api/listings/pictures", json={"content": png()}).json()["picture"]
    shown = client.get(f"/api/listings/pictures/{picture}")
    assert shown.headers["content-type"] == "image/jpeg"
    address = "https://shop.example/sounds"
    body = wanted(client, {**SALE, "picture": picture}, artist="Werkstatt", address=address, through="clean")
    job = client.post("/api/listings", json=body)
    assert job.status_code == 201, job.text
    state: Any = client.app.state  # type: ignore[attr-defined]
    library: Library = state.library
    plan = order.plan_order(job.json()["id"], store.read_order(state.store, job.json()["id"]), library)
    assert not run_listing(plan, InProcess()).failed
    folder = plan.out / plan.instruments[0].folder
    page = (folder / "index.html").read_text("utf-8")
    assert "Warm &amp; low" in page
    assert "<b>1,450 EUR</b>" in page
    assert (folder / "picture.jpg").read_bytes().startswith(b"\xff\xd8")
    own = f"{address}/{quote(plan.instruments[0].folder)}/index.html"
    assert own in (folder / "embed.html").read_text("utf-8")
    entry = clips(plan.out, plan.instruments[0].folder)[0]
    tags = read_tags(folder / entry["file"], "mp3")
    assert (tags["artist"], tags["through"]) == ("Werkstatt", "clean")
    assert entry["through"] == "clean"


def test_an_order_with_hum_and_a_limiter_says_so_in_records_tags_and_page(client: TestClient) -> None:
    asked = {"hum": "stage, 60 Hz", "limit": True, "loudness_lufs": -16.0, "through": "clean"}
    job = client.post("/api/listings", json=wanted(client, {}, **asked))
    assert job.status_code == 201, job.text
    state: Any = client.app.state  # type: ignore[attr-defined]
    found = store.get_order(state.store, job.json()["id"])["options"]
    assert {name: found[name] for name in asked} == asked
    ordered = store.read_order(state.store, job.json()["id"])
    plan = order.plan_order(job.json()["id"], ordered, state.library)
    assert not run_listing(plan, InProcess()).failed
    folder = plan.out / plan.instruments[0].folder
    entry = clips(plan.out, plan.instruments[0].folder)[0]
    words = "a stage with lamps and cables, 1 µT at 60 Hz"
    assert (entry["hum"], read_tags(folder / entry["file"], "mp3")["hum"]) == (words, words)
    assert entry["limited_db"] >= 0.0
    assert entry["loudness_lufs"] == pytest.approx(-16.0, abs=0.5)
    assert f"with the hum of {words}" in (folder / "index.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"limit": True}, "limit: got 'yes'; allowed: a loudness in LUFS beside it"),
        ({"hum": "hall"}, "hum: got 'hall'; allowed: quiet, stage, amplifier, then perhaps a comma"),
        ({"hum": "stage, 55 Hz"}, "hum: got 'stage, 55 Hz'"),
    ],
)
def test_what_cannot_be_heard_is_refused_with_what_is_allowed(
    client: TestClient, more: dict[str, Any], words: str
) -> None:
    answer = client.post("/api/listings/plan", json=wanted(client, {}, **more))
    assert answer.status_code == 422
    (problem,) = answer.json()["problems"]
    said = f"{problem['where']}: got {problem['got']}; allowed: {problem['allowed']}"
    assert words.replace("'", "") in said.replace("'", "")


def test_the_workshop_is_the_artist_unless_another_is_named(client: TestClient) -> None:
    state: Any = client.app.state  # type: ignore[attr-defined]
    (artist, _) = client.get("/api/listings/fields").json()["listing"]
    assert (artist["name"], artist["usual"]) == ("artist", "")
    client.put("/api/workshop", json={"name": "The Bench & Co", "contact": ""})
    assert client.get("/api/listings/fields").json()["listing"][0]["usual"] == "The Bench & Co"
    jobs = [client.post("/api/listings", json=wanted(client, {}, **named)).json()["id"]
            for named in ({}, {"artist": "Werkstatt"})]  # fmt: skip
    client.put("/api/workshop", json={"name": "", "contact": ""})
    orders = [store.read_order(state.store, job) for job in jobs]
    assert [one.options["artist"] for one in orders] == ["The Bench & Co", "Werkstatt"], "as it was ordered"
    plan = order.plan_order(jobs[0], orders[0], state.library)
    assert not run_listing(plan, InProcess()).failed
    folder = plan.instruments[0].folder
    for page in ("index.html", f"{folder}/index.html"):
        assert "Sounds by The Bench &amp; Co. Made with" in (plan.out / page).read_text("utf-8")
    entry = clips(plan.out, folder)[0]
    assert read_tags(plan.out / folder / entry["file"], "mp3")["artist"] == "The Bench & Co"


def test_every_slip_of_the_form_is_told_with_its_field(client: TestClient) -> None:
    sale = {"price": "1450", "link": "shop", "colour": "red"}
    answer = client.post("/api/listings/plan", json=wanted(client, sale))
    assert answer.status_code == 422
    where = [one["where"] for one in answer.json()["problems"]]
    assert [one.rpartition(": ")[2] for one in where[:2]] == ["price", "link"]
    assert len(where) == 3
    assert "colour" in str(answer.json()["problems"][2])
    answer = client.post("/api/listings/plan", json=wanted(client, {}, address="shop.example"))
    assert answer.json()["problems"][0]["where"] == "address"


@pytest.mark.parametrize("content", ["%", base64.b64encode(b"text").decode(), ""])
def test_what_is_no_picture_is_refused(client: TestClient, content: str) -> None:
    assert client.post("/api/listings/pictures", json={"content": content}).status_code == 422


@pytest.mark.parametrize("name", ["0" * 64, "..%2fpresolder.db", "x"])
def test_a_picture_that_was_not_brought_in_is_not_there(client: TestClient, name: str) -> None:
    assert client.get(f"/api/listings/pictures/{name}").status_code == 404
    assert client.post("/api/listings/plan", json=wanted(client, {"picture": name})).status_code == 404
