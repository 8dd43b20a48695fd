"""Listings from the bench: planned, made by the server's process, viewed, downloaded."""

from __future__ import annotations

import contextlib
import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hostile import KEPT
from listing_case import content
from listing_requests import TAKE, Bench, serving
from server_client import KEY, client_of

from server.listings.making.folder import OWN

PLAIN = {"formats": [{"format": "flac"}, {"format": "opus", "quality": 0.5}], "loudness_lufs": -26.0}
SETTINGS = [
    {"name": "open", "label": "Every knob at 10"},
    {"name": "warm", "label": "Tone at 3", "knobs": {"tone": 3}},
    {"name": "swell", "sweeps": [{"knob": "tone", "start": 0, "end": 10}]},
    {"name": "other", "label": "A switch", "switches": {"phase": "2"}},
]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    server = serving(tmp_path_factory.mktemp("listings"), takes=2)
    try:
        with contextlib.closing(Bench(server.start())) as bench:
            yield bench
    finally:
        server.stop()
        print(server.printed())


@dataclass(frozen=True)
class Queued:
    """Three listings put into the queue one after the other."""

    made: str
    hostile: str
    cancelled: str
    answers: list[dict[str, Any]]


@pytest.fixture(scope="module")
def queued(bench: Bench) -> Queued:
    """Queue a plain one, one of hostile names and an impossible wiring, and one cancelled as it waits."""
    made = bench.start(**PLAIN)
    hostile = bench.start(**hostile_names(bench))
    third = bench.start(title="Third")
    answers = [bench.get(hostile), bench.get(third), bench.post(third, "cancel").json()]
    for job in (made, hostile):
        bench.ended(job)
    return Queued(made, hostile, third, answers)


@pytest.fixture(scope="module")
def made(queued: Queued) -> str:
    """Return a finished listing."""
    return queued.made


def hostile_names(bench: Bench) -> dict[str, Any]:
    """Return an order of names of every kind; the last wiring lacks its position."""
    client = bench.client
    text = client.get(f"/api/versions/{bench.versions[0]}").json()["text"]
    home = client.post("/api/commissions", json={"title": KEPT["script"], "wiring_text": text})
    versions = []
    for name in [*KEPT.values(), *list(KEPT.values())[:1]]:
        body = {"name": name, "text": text}
        answer = client.post(f"/api/commissions/{home.json()['id']}/wirings", json=body)
        versions.append(answer.json()["version_id"])
    wirings = [{"version": one, "positions": ["1"]} for one in versions]
    wirings[-1]["positions"] = ["9"]
    settings = [{"name": KEPT["path"], "label": KEPT["script"]}]
    formats = [{"format": "wav"}]
    return {"title": KEPT["attribute"], "wirings": wirings, "settings": settings, "formats": formats}


def test_a_plan_shows_the_result_first(bench: Bench) -> None:
    wanted = bench.wanted(settings=SETTINGS, takes=[TAKE, "file:pluck_1"])
    wanted["wirings"][1]["positions"] = []
    last = bench.examined(bench.client.get("/api/takes").json()[-1]["id"])
    plan = bench.client.post("/api/listings/plan", json=wanted).json()
    first, second = plan["instruments"]
    assert first["clips"] == 2 * 2 * 3  # positions, takes, the settings it can have
    assert second["clips"] == 6 * 2 * 3
    assert (plan["clips"], plan["files"]) == (48, 96)
    assert plan["seconds"] == pytest.approx(48 * last["seconds"], rel=0.2)
    assert first["left_out"] == ["A switch: it has no phase"]
    assert first["knobs"] == ["volume", "tone"]
    assert [one["position"] for one in first["positions"]] == ["1", "2", "3", "4", "5", "6"]
    assert bench.client.get("/api/listings").json() == []


def test_a_listing_is_made(bench: Bench, made: str) -> None:
    job = bench.get(made)
    assert (job["title"], job["clips"], job["report"]["failed"]) == ("Spring catalogue", 4, 0)
    assert [(one["state"], one["files_done"], one["files"]) for one in job["instruments"]] == [
        ("done", 4, 4)
    ] * 2
    out = bench.folder(made)
    listed = json.loads((out / job["instruments"][0]["folder"] / "clips.json").read_text("utf-8"))["clips"]
    assert [one["format"] for one in listed] == ["flac", "opus"] * 2
    assert listed[0]["loudness_lufs"] == pytest.approx(-26.0, abs=0.1)
    assert (out / "index.html").is_file()
    assert made in [one["id"] for one in bench.client.get("/api/listings").json()]


def test_the_zip_is_the_folder(bench: Bench, made: str) -> None:
    answer = bench.client.get(f"/api/listings/{made}/zip")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/zip"
    assert answer.headers["content-disposition"].startswith('attachment; filename="Spring_catalogue.zip"')
    assert int(answer.headers["content-length"]) == len(answer.content)
    with zipfile.ZipFile(io.BytesIO(answer.content)) as zipped:
        assert zipped.testzip() is None
        found = {name.removeprefix("Spring_catalogue/"): zipped.read(name) for name in zipped.namelist()}
    folder = bench.folder(made)
    assert found == {name: (folder / name).read_bytes() for name in content(folder, own=False)}
    assert not any(OWN in name for name in found)


def test_the_pages_are_served_apart_from_the_bench(bench: Bench, made: str) -> None:
    page = bench.get(made)["page"]
    answer = bench.client.get(page)
    assert answer.headers["content-type"].startswith("text/html")
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("sandbox allow-scripts allow-downloads; default-src 'none'")
    assert "allow-same-origin" not in policy
    assert "connect-src" not in policy
    folder = bench.folder(made)
    sound = next(folder.rglob("*.flac"))
    url = f"{page.removesuffix('index.html')}{sound.relative_to(folder)}"
    part = bench.client.get(url, headers={"Range": "bytes=10-19"})
    assert (part.status_code, part.content) == (206, sound.read_bytes()[10:20])
    assert part.headers["content-type"] == "audio/flac"
    assert bench.client.head(url).headers["content-length"] == str(sound.stat().st_size)


@pytest.mark.parametrize(
    "path",
    [".presolder-listing/record.jsonl", ".presolder-listing/lock", "../../presolder.sqlite",
     "..%2f..%2fpresolder.sqlite", "%2e%2e/worker.lock", "/etc/passwd", "", "a//b", "baritone_000",
     "link.html", "%00.html", "..\\x.html"],
)  # fmt: skip
def test_nothing_else_is_served_from_there(bench: Bench, made: str, path: str) -> None:
    outside = bench.data / "secret.html"
    outside.write_text("secret")
    link = bench.folder(made) / "link.html"
    if not link.exists():
        link.symlink_to(outside)
    base = bench.get(made)["page"].removesuffix("index.html")
    answer = bench.client.get(f"{base}{path}")
    assert answer.status_code == 404, answer.text
    assert "secret" not in answer.text
    link.unlink()


def test_the_pages_need_their_token(bench: Bench, made: str) -> None:
    page = bench.get(made)["page"]
    token = page.split("/")[4]
    for other in ("0" * 64, token[:-1], f"{token}0", "ä"):
        assert bench.client.get(page.replace(token, other)).status_code in (404, 429)
    assert bench.client.get(page.replace(made, "another")).status_code in (404, 429)


def test_the_bench_key_guards_listings_and_the_token_the_pages(tmp_path: Path) -> None:
    client = client_of(tmp_path, host="192.0.2.7", key=KEY)
    for method, path in (
        ("GET", ""),
        ("POST", ""),
        ("GET", "/events"),
        ("GET", "/x/zip"),
        ("POST", "/x/cancel"),
    ):
        assert client.request(method, f"/api/listings{path}").status_code == 401
    assert client.get("/listings/pages/x/y/index.html").status_code == 404


def test_orders_that_the_page_cannot_send_are_refused(bench: Bench) -> None:
    version = bench.versions[0]
    item = {"version": version, "positions": []}
    for other, status in (
        ({"takes": ["none"]}, 404),
        ({"wirings": [{"version": "none"}]}, 404),
        ({"takes": []}, 422),
        ({"wirings": []}, 422),
        ({"title": " "}, 422),
        ({"names": "{wirings}"}, 422),
        ({"names": "{wiring"}, 422),
        ({"names": "{take}"}, 422),
        ({"formats": [{"format": "mp3"}] * 2}, 422),
        ({"out": "/tmp"}, 422),
        ({"rate_hz": 96000}, 422),
        ({"loudness_lufs": 3}, 422),
        ({"formats": [{"format": "flac", "depth": "float"}]}, 422),
        ({"wirings": [{**item, "positions": ["9"]}]}, 422),
        ({"settings": [{"name": "x", "knobs": {"tone": 11}}]}, 422),
        ({"settings": [{"name": "x", "knobs": {"none": 1}}]}, 422),
        ({"settings": [SETTINGS[1], SETTINGS[1]]}, 422),
    ):
        answer = bench.client.post("/api/listings", json=bench.wanted(**other))
        assert (answer.status_code, bool(answer.json()["problems"])) == (status, True), (other, answer.text)
    for path in ("none", "none/zip"):
        assert bench.client.get(f"/api/listings/{path}").status_code == 404
    for act in ("cancel", "resume"):
        assert bench.post("none", act).status_code == 404


def test_one_wiring_that_cannot_be_made_fails_alone(bench: Bench, queued: Queued) -> None:
    job = bench.get(queued.hostile)
    assert (job["state"], job["report"]["failed"]) == ("done", 1)
    *good, bad = job["instruments"]
    assert {one["state"] for one in good} == {"done"}
    assert (bad["state"], bad["files_done"]) == ("failed", 0)
    assert "'9'" in bad["problems"][0]


def test_names_never_become_paths(bench: Bench, queued: Queued) -> None:
    job = bench.get(queued.hostile)
    folders = [one["folder"] for one in job["instruments"]]
    assert len({one.casefold() for one in folders}) == len(folders) == len(KEPT) + 1
    own = bench.folder(job["id"])
    assert {path.name for path in own.iterdir() if path.is_dir()} == {*folders[:-1], OWN}
    assert {path.name for path in own.parent.iterdir()} == {queued.made, queued.hostile, "worker.lock"}
    answer = bench.client.get(f"/api/listings/{job['id']}/zip")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as zipped:
        names = [Path(name) for name in zipped.namelist()]
    assert len({name.parts[0] for name in names}) == 1
    assert not any(".." in name.parts or name.is_absolute() for name in names)
    pages = b"".join(path.read_bytes() for path in own.rglob("*.html"))
    assert KEPT["script"].encode() not in pages


def test_one_waits_for_the_other_and_one_that_waits_is_cancelled_at_once(
    bench: Bench, queued: Queued
) -> None:
    second, third, cancelled = queued.answers
    assert (second["state"], third["state"], cancelled["state"]) == ("queued", "queued", "cancelled")
    assert third["ahead"] == second["ahead"] + 1
    assert bench.get(queued.made)["ended"] <= bench.get(queued.hostile)["started"]
    assert not bench.folder(queued.cancelled).exists()
    assert bench.client.get(f"/api/listings/{queued.cancelled}/zip").status_code == 404
    assert bench.post(queued.cancelled, "cancel").status_code == 409


def test_a_listing_is_put_away_and_brought_back(bench: Bench, made: str) -> None:
    def ids(archived: int) -> list[str]:
        return [one["id"] for one in bench.client.get(f"/api/listings?archived={archived}").json()]

    for away in (True, False):
        assert bench.client.patch(f"/api/listings/{made}", json={"archived": away}).status_code == 200
        assert (made in ids(0), made in ids(1)) == (not away, away)
        if away:
            assert bench.post(made, "resume").status_code == 409
    assert (bench.folder(made) / "index.html").is_file()


def test_news_comes_at_once_and_only_after_a_change(bench: Bench, made: str) -> None:
    after = bench.client.get("/api/listings/events").json()["after"]
    assert after > 0
    bench.client.patch(f"/api/listings/{made}", json={"archived": False})
    news = bench.client.get(f"/api/listings/events?after={after}").json()
    assert news == {"after": after + 1, "changed": True}


@pytest.mark.long
def test_a_listing_cancelled_midway_keeps_whole_files_and_resumes_to_the_same_end(
    bench: Bench, made: str
) -> None:
    job = bench.start(**PLAIN)
    bench.until(job, lambda one: one["state"] != "queued" and len(content(bench.folder(job))) > 2)
    assert bench.post(job, "cancel").json()["cancelling"] is True
    assert bench.client.get(f"/api/listings/{job}/zip").status_code == 409
    assert bench.ended(job)["state"] == "cancelled"  # one that ignored it would be done, and whole
    whole, found = content(bench.folder(made), own=False), content(bench.folder(job), own=False)
    assert found.items() < whole.items()
    assert bench.post(job, "resume").json()["state"] in ("queued", "running")
    assert bench.ended(job)["state"] == "done"
    assert content(bench.folder(job)) == content(bench.folder(made))
