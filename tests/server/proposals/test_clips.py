"""The clips of proposals: level-matched, stored by content, served in ranges, queued."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient
from proposal_case import TAKE, Made, again, made, propose
from server_client import MARK
from tolerances import LOUDNESS_LU

from dsp.sound.live_level import TARGET_LUFS
from dsp.sound.loudness import integrated_lufs
from dsp.sound.peak import CEILING_DBTP, dbtp, true_peak
from server.app import create_app
from server.clips.plan import plan_clip
from server.clips.render import RenderOptions, render_set
from server.files.lock import sole_worker
from server.proposals import queue as clip_queue
from server.proposals.clip_files import clip_path, clips_folder
from server.proposals.describe import read_version
from server.proposals.levels import TakeLevel, take_level
from server.proposals.work import LOUDNESS_LUFS
from server.settings import Settings


@pytest.fixture
def proposal(tmp_path: Path) -> Made:
    return made(tmp_path)


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make a proposal with its clips, for tests that change nothing."""
    return made(tmp_path_factory.mktemp("rendered")).render()


# --- Clips


def clips_of(one: Made, ending: str = "flac") -> list[str]:
    return [item["clips"][TAKE][ending] for item in one.offer()["items"]]


def test_clips_are_level_matched_whole_and_under_the_ceiling(rendered: Made) -> None:
    heard = []
    for item in rendered.offer()["items"]:
        clip = item["clips"][TAKE]
        for ending in ("flac", "mp3"):
            sha256 = clip[ending].rpartition("/")[2].partition(".")[0]
            path = clip_path(rendered.data, sha256, ending)
            assert hashlib.sha256(path.read_bytes()).hexdigest() == sha256
            samples, rate_hz = soundfile.read(path)
            assert rate_hz == 48_000
            assert len(samples) == round(clip["seconds"] * rate_hz)
            assert dbtp(true_peak(samples, rate_hz)) <= -1.0
            if ending == "flac":
                heard.append(integrated_lufs(samples, rate_hz))
    assert np.ptp(heard) <= LOUDNESS_LU
    # The gain is taken from the loudness in volts, where the gate of -70 LUFS leaves more of this take's
    # quiet end out than in the louder file: the set as a whole is off by that.
    np.testing.assert_allclose(heard, LOUDNESS_LUFS, atol=0.5)


def test_the_bench_reads_the_renders_record_of_each_clip(rendered: Made) -> None:
    records = rendered.client.get(f"/api/proposals/{rendered.id}/clips").json()
    assert [one["number"] for one in records] == [1, 2, 3]
    for one in records:
        assert (
            one["coil_places"] == "computed from the tracked pitch, where it is clear"
        )  # the honesty label of a recording
        assert one["design_error"]["meets_contract"] is True
        assert one["true_peak_dbtp"] <= -1.0
    assert rendered.client.get("/api/proposals/none/clips").status_code == 404


def test_true_levels_are_those_of_clips_as_wired(rendered: Made, tmp_path: Path) -> None:
    """Compare each clip's gain with an as-wired floating-point rendering of the same positions."""
    wiring = read_version(rendered.client.get(f"/api/versions/{rendered.version}").json()["text"])
    performance = rendered.client.app.state.library.performance(TAKE)  # type: ignore[attr-defined]
    plans = [plan_clip(wiring, performance, wiring.setting(position)) for position in "123"]
    wired = [entry["loudness_lufs"] for entry in render_set(plans, tmp_path / "wired", RenderOptions())]
    gains = [item["clips"][TAKE]["wired_gain_db"] for item in rendered.offer()["items"]]
    assert max(gains) == 0.0
    assert np.ptp(wired) > 2.0  # the positions do differ
    np.testing.assert_allclose(gains, np.array(wired) - max(wired), atol=LOUDNESS_LU)


def test_a_take_says_how_loud_its_clips_are_played(rendered: Made) -> None:
    offer = rendered.offer()
    (take,) = offer["takes"]
    files = [soundfile.read(clip_path(rendered.data, *of_url(one)))[0] for one in clips_of(rendered)]
    heard = [integrated_lufs(10.0 ** (take["gain_db"] / 20.0) * one, 48_000) for one in files]
    assert max(heard) == pytest.approx(TARGET_LUFS, abs=0.5)  # see the test above
    peaks = [dbtp(true_peak(one, 48_000)) for one in files]
    assert max(peaks) + take["room_db"] == pytest.approx(CEILING_DBTP, abs=0.01)


def of_url(url: str) -> tuple[str, str]:
    """Return digest and ending of a clip's address."""
    sha256, _, ending = url.rpartition("/")[2].partition(".")
    return sha256, ending


def test_clips_that_are_not_ready_or_silent_need_no_gain() -> None:
    silent = {"loudness_lufs": None, "record": '{"true_peak_dbtp": null}'}
    for rows in ([], [silent]):
        assert take_level(rows) == TakeLevel(0.0, 0.0)  # type: ignore[arg-type]
    loud = {"loudness_lufs": -25.0, "record": '{"true_peak_dbtp": -1.1}'}
    assert take_level([silent, loud]) == TakeLevel(5.0, 0.1)  # type: ignore[list-item]


def test_ranges_etags_and_caching(rendered: Made) -> None:
    url = clips_of(rendered)[0]
    get = lambda **headers: rendered.client.get(url, headers=headers)  # noqa: E731
    whole = get()
    content, etag = whole.content, whole.headers["etag"]
    assert whole.status_code == 200
    assert etag == f'"{hashlib.sha256(content).hexdigest()}"'
    assert whole.headers["content-type"] == "audio/flac"
    assert whole.headers["accept-ranges"] == "bytes"
    assert "immutable" in whole.headers["cache-control"]
    for asked, expected in (
        ("bytes=0-99", content[:100]),
        ("bytes=100-", content[100:]),
        ("bytes=-50", content[-50:]),
        (f"bytes=0-{len(content) + 9}", content),
    ):
        part = get(Range=asked)
        assert part.status_code == 206
        assert part.content == expected
        assert part.headers["content-range"].endswith(f"/{len(content)}")
        assert part.headers["etag"] == etag
    several = get(Range="bytes=0-9,20-29")
    assert several.status_code == 206
    assert several.headers["content-type"].startswith("multipart/byteranges")
    assert content[20:30] in several.content
    assert get(Range=f"bytes={len(content)}-").status_code == 416
    assert get(Range="bytes=0-9", **{"If-Range": '"another"'}).content == content
    assert get(Range="bytes=0-9", **{"If-Range": etag}).content == content[:10]
    for known in (etag, f'"another", {etag}', f"W/{etag}", "*"):
        answer = get(**{"If-None-Match": known})
        assert (answer.status_code, answer.content, answer.headers["etag"]) == (304, b"", etag)
    assert get(**{"If-None-Match": '"another"'}).status_code == 200


def test_clips_of_others_and_other_files_are_not_served(rendered: Made) -> None:
    item = {"version": rendered.version, "position": "5"}
    other = rendered.another(items=[item]).render()
    foreign = clips_of(other)[0].rpartition("/")[2]
    assert other.client.get(f"{other.link}/clips/{foreign}").status_code == 200
    for name in (foreign, foreign.replace("flac", "wav"), "a" * 64 + ".flac", "..%2f..%2fpresolder.sqlite",
                 "....//presolder.sqlite", f"{foreign}/x", "x.flac", "%00.flac"):  # fmt: skip
        assert rendered.client.get(f"{rendered.link}/clips/{name}").status_code == 404, name


def test_same_sounds_are_stored_once(rendered: Made) -> None:
    before = sorted((rendered.data / "clips").rglob("*.flac"))
    twin = rendered.another().render()
    assert [one.rpartition("/")[2] for one in clips_of(twin)] == [
        one.rpartition("/")[2] for one in clips_of(rendered)
    ]
    assert sorted((rendered.data / "clips").rglob("*.flac")) == before


# --- The queue


def test_a_queue_survives_a_restart_and_repeats_interrupted_work(proposal: Made) -> None:
    other = proposal.another()
    assert (proposal.offer()["ready"], proposal.offer()["items"][0]["clips"]) == (0.0, {})
    job = clip_queue.take_next(proposal.store)  # a worker takes it, and dies
    assert job is not None
    assert job.proposal == proposal.id
    proposal.client = again(proposal)
    proposal.render()
    for one in (proposal, other):
        assert one.offer()["ready"] == 1.0
        assert all(TAKE in item["clips"] for item in one.offer()["items"])
    assert clip_queue.waiting(proposal.store) == 0


def test_a_job_that_kills_its_worker_is_given_up(proposal: Made) -> None:
    for _ in range(clip_queue.MOST_TRIES):
        assert clip_queue.take_next(proposal.store) is not None
        clip_queue.requeue_interrupted(proposal.store)
    assert clip_queue.take_next(proposal.store) is None
    assert proposal.bench()["failed"] == ["stopped 3 times without an end"]
    assert proposal.offer()["failed"] == 1


def test_a_clip_that_cannot_be_rendered_is_reported_to_the_bench_alone(proposal: Made) -> None:
    with proposal.store.write() as db:
        db.execute("DROP TRIGGER proposal_takes_stay")
        db.execute("PRAGMA defer_foreign_keys = ON")
        db.execute("UPDATE proposal_takes SET take_id = 'gone'")
        db.execute("UPDATE clip_jobs SET take_id = 'gone'")
    proposal.render()
    assert "gone" in proposal.bench()["failed"][0]
    assert proposal.offer()["failed"] == 1
    assert "id of a take" not in proposal.client.get(proposal.link).text


def test_only_one_worker_at_a_time(proposal: Made) -> None:
    with (
        sole_worker(clips_folder(proposal.data)) as first,
        sole_worker(clips_folder(proposal.data)) as second,
    ):
        assert (first, second) == (True, False)
        proposal.render()  # lets the first one do it
        assert proposal.offer()["ready"] == 0.0
    proposal.render()
    assert proposal.offer()["ready"] == 1.0


@pytest.mark.long
def test_the_servers_own_worker_process_renders(proposal: Made) -> None:
    app = create_app(Settings(proposal.data))
    until = time.monotonic() + 60.0
    with TestClient(app, base_url="http://127.0.0.1", headers=MARK) as client:
        while (found := client.get(proposal.link).json())["ready"] < 1.0 and time.monotonic() < until:
            time.sleep(0.1)
        assert found["ready"] == 1.0, "the jobs that waited at the start were not done"
        later = propose(client, proposal.data, proposal.commission, proposal.version)
        while later.offer()["ready"] < 1.0 and time.monotonic() < until:
            time.sleep(0.1)
        assert later.offer()["ready"] == 1.0, "the jobs queued while it ran were not done"
