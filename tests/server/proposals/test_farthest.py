"""The farthest two of ten guitars beside the sounds of a proposal: one gain for both, never a choice."""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from proposal_case import TAKE, Made, made, today
from reference.spice import runner
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from server_client import client_of
from talk_case import said, wish

from dsp.sound.audible import WORDS
from dsp.sound.levels import db
from server.answers.manifests import keep_manifest
from server.proposals import farthest, signoffs, work
from server.proposals import queue as clip_queue
from server.proposals.clip_files import clip_path
from server.proposals.describe import read_version
from server.proposals.levels import SetLevel
from server.proposals.signoffs import STATEMENTS
from server.proposals.store import changes
from server.wirings.text import WiringText

Floats = np.ndarray[Any, np.dtype[np.float64]]
HALF = {"volume": 5.0, "tone": 10.0}
SAME_DB = 0.01
"""Gains are kept to a thousandth of a decibel; a clip of 16 bits adds its noise."""
TUNED_HZ = (200.0, 3000.0)


def asked(one: Made, farthest: str, **more: Any) -> Made:
    """Propose a position as it stands and half way down, with the farthest two."""
    items = [{"version": one.version, "position": "1"},
             {"version": one.version, "position": "1", "knobs": HALF}]  # fmt: skip
    return one.another(items=items, wirings=[{"version": one.version, "farthest": farthest}], **more)


SEEN: dict[str, Any] = {}
"""What the bench saw on the way: nothing is rendered twice for it."""


@pytest.fixture(scope="module")
def offered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Made]:
    """Render a proposal whose worker died once with the two half done."""
    folder = tmp_path_factory.mktemp("farthest")
    other = made(folder)
    with other.store.write() as db_:  # its clips are not wanted
        db_.execute("UPDATE clip_jobs SET state = 'failed' WHERE proposal_id = ?", (other.id,))
    one = asked(other, "cables", ways=["direct", "clean"])
    SEEN["asked"], SEEN["before"] = one.bench()["farthest"], one.offer().keys()
    job = farthest.take_next(one.store)
    assert job is not None
    farthest.save_progress(one.store, job, 0.5)
    SEEN["half"] = one.bench()["farthest"]
    one.store.close()
    again = Made(client_of(one.data), *list(one.__dict__.values())[1:]).render()
    again.store.close()
    return folder, again


@pytest.fixture
def proposal(offered: tuple[Path, Made], tmp_path: Path) -> Made:
    folder, one = offered
    shutil.copytree(folder / "data", tmp_path / "data")
    return Made(
        client_of(tmp_path / "data"), tmp_path / "data", one.commission, one.version, one.id, one.token
    )


@pytest.fixture(scope="module")
def still(offered: tuple[Path, Made]) -> Made:
    """Look at it without a change."""
    return offered[1]


def played(one: Made, clip: dict[str, Any], gain: str) -> Floats:
    """Return a clip as the page plays it, with one of its gains, or as it is for an empty name."""
    sha256, _, ending = clip["flac"].rpartition("/")[2].partition(".")
    samples: Floats = soundfile.read(clip_path(one.data, sha256, ending))[0]
    return samples * 10 ** ((clip[gain] if gain else 0.0) / 20)


def of_sound(one: Made, number: int, way: str = "direct") -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return the clip of a sound and those of the farthest two."""
    heard = one.offer()["heard"][way]
    return heard["clips"][str(number)][TAKE], heard["farthest"][str(number)][TAKE]


def guitars(one: Made) -> tuple[str, str]:
    """Return both guitars as wiring files."""
    with one.store.read() as db_:
        (row,) = farthest.farthest_of(db_, one.id)
    first, second = json.loads(row["found"])["wirings"]
    return first, second


def in_ngspice(text: str, hz: Floats) -> Floats:
    """Return the responses of a guitar's coils half way down, shape (n_coils, n_freqs), by ngspice."""
    wiring = YAML(typ="safe", pure=True).load(text)
    sources = tuple(emf(coil) for coil in coils(wiring))
    job = runner.Job(netlist(wiring, Setting(1, HALF)), sources, runner.at(hz))
    (answer,) = runner.run([job])
    return np.array([answer.voltage[source] for source in sources])


# --- What is heard


@pytest.mark.reference
def test_both_are_the_circuits_of_two_guitars_with_one_gain(still: Made) -> None:
    """ngspice has the networks of both; the stems are the take's. Levels differ as they do, no more."""
    performance = still.client.app.state.library.performance(TAKE)  # type: ignore[attr-defined]
    with still.store.read() as db_:
        text = db_.execute("SELECT text FROM versions WHERE id = ?", (still.version,)).fetchone()["text"]
    clip, two = of_sound(still, 2)
    stems = np.concatenate(list(performance.stems(read_version(text), 48_000)), axis=1)
    spectra, hz = np.fft.rfft(stems), np.fft.rfftfreq(stems.shape[1], 1 / 48_000)
    inside = np.flatnonzero((hz > TUNED_HZ[0]) & (hz < TUNED_HZ[1]))
    strong = inside[np.argsort(-np.abs(spectra[0, inside]))[:60]]
    gains: dict[str, list[float]] = {}
    for file, of in ((text, clip), *zip(guitars(still), two, strict=True)):
        volts = np.einsum("kf,kf->f", in_ngspice(file, hz[strong]), spectra[:, strong])
        for name in ("even_gain_db", "wired_gain_db", ""):
            sound = np.fft.rfft(played(still, of, name), n=stems.shape[1])[strong]
            gains.setdefault(name, []).append(
                db(float(np.abs(np.vdot(volts, sound) / np.vdot(volts, volts))))
            )
            left = sound - volts * np.vdot(volts, sound) / np.vdot(volts, volts)
            assert np.linalg.norm(left) < 2e-3 * np.linalg.norm(sound), "the same circuit but for its gain"
    print({name: np.round(found, 3).tolist() for name, found in gains.items()})
    assert np.ptp(gains["even_gain_db"]) < SAME_DB
    assert np.ptp(gains["wired_gain_db"]) < SAME_DB
    assert np.ptp(gains[""]) > 10 * SAME_DB, "with a gain each, as the files have, levels would not differ"


def test_the_two_differ_in_level_by_what_is_told(still: Made) -> None:
    (told,) = still.offer()["farthest"]
    assert set(told) == {"wiring", "built", "cables", "cable_share", "apart"}
    assert (told["wiring"], told["built"], told["cables"]) == (1, 10, True)
    assert 0.3 < told["cable_share"] < 0.95, "the study: most of what differs"
    assert set(told["apart"]) == {"1", "2"}
    for number in (1, 2):
        apart = told["apart"][str(number)]
        assert apart["heard"] in WORDS
        assert apart["band_db"] > 0.3
        _, two = of_sound(still, number)
        one, other = (np.sqrt(np.mean(played(still, clip, "even_gain_db") ** 2)) for clip in two)
        assert abs(db(other / one)) == pytest.approx(apart["level_db"], abs=0.35)
    assert told["apart"]["2"]["level_db"] > told["apart"]["1"]["level_db"], "a volume half way down differs"


def test_every_way_has_both_and_the_link_serves_them(still: Made) -> None:
    offer = still.offer()
    for way in ("direct", "clean"):
        found = offer["heard"][way]["farthest"]
        assert set(found) == {"1", "2"}
        for two in (found["1"][TAKE], found["2"][TAKE]):
            assert len({clip["flac"] for clip in two}) == 2
            assert all(still.client.get(clip["mp3"]).status_code == 200 for clip in two)
    assert offer["heard"]["direct"]["farthest"] != offer["heard"]["clean"]["farthest"]
    stranger = still.another(items=[{"version": still.version, "position": "2"}])
    foreign = found["1"][TAKE][0]["mp3"].replace(still.token, stranger.token)
    assert still.client.get(foreign).status_code == 404


def test_nothing_of_the_two_is_played_above_what_the_page_has_room_for(still: Made) -> None:
    heard = still.offer()["heard"]["direct"]
    room = heard["takes"][TAKE]["room_db"]
    for number in (1, 2):
        for clip in of_sound(still, number)[1]:
            for gain in ("even_gain_db", "wired_gain_db"):
                peak = float(np.max(np.abs(played(still, clip, gain))))
                assert db(peak) + room <= -1.0 + SAME_DB


def test_a_sound_that_is_silent_as_drawn_has_its_two_at_their_true_level() -> None:
    """Coils that cancel as drawn: tolerances let something through, and no gain makes it loud."""
    level = SetLevel(0.0, None)
    silent: Any = {"loudness_lufs": None, "wired_gain_db": 0.0}
    other: Any = {"loudness_lufs": -23.0, "wired_gain_db": -41.0}
    assert level.gains_beside(silent, other) == {"wired_gain_db": -41.0, "even_gain_db": -41.0}
    drawn, louder = {**other, "wired_gain_db": 0.0}, {**other, "wired_gain_db": 1.5}
    assert level.gains_beside(drawn, louder) == {"wired_gain_db": 1.5, "even_gain_db": 1.5}, "as it is louder"
    assert level.gains_beside(other, silent) == {"wired_gain_db": 0.0, "even_gain_db": 0.0}


# --- What it is not


def test_nobody_signs_for_one_and_no_record_and_no_file_names_them(proposal: Made) -> None:
    """Beside a proposal without them the record, the manifest and its formats are the same but for ids."""
    plain = proposal.another(items=[{"version": proposal.version, "position": "1"},
                                    {"version": proposal.version, "position": "1", "knobs": HALF}],
                             ways=["direct", "clean"]).render()  # fmt: skip
    told, sent = [], []
    for one in (proposal, plain):
        manifest = keep_manifest(one.store, one.id, page="p", stems={}, models={}).manifest
        sent.append(
            {key: value for key, value in manifest.items() if key not in ("proposal", "created", "expires")}
        )
        body = {"wiring": 1, "name": "R. Winter", "date": today(), "confirm": True}
        assert one.client.post(f"{one.link}/signoff", json=body).status_code == 201
        record = one.client.get(f"{one.link}/record").json()
        told.append({key: value for key, value in record.items()
                     if key not in ("proposal", "created", "signed", "previous")})  # fmt: skip
        assert signoffs.verify(one.store, one.data, one.id) == []
    assert told[0] == told[1]
    assert sent[0] == sent[1]
    assert told[0]["statement"] == STATEMENTS["wiring"]
    page = proposal.client.post(f"/api/proposals/{proposal.id}/bundle/file").text
    assert "farthest" not in page[page.index('id="sent"') :].split("</script>")[0]
    wrong = {"wiring": 2, "name": "R. Winter", "date": today(), "confirm": True}
    assert plain.client.post(f"{plain.link}/signoff", json=wrong).status_code == 422


def test_a_proposal_that_says_nothing_of_it_has_none(still: Made) -> None:
    plain = still.another(items=[{"version": still.version, "position": "2"}])
    offer = plain.offer()
    assert plain.bench()["farthest"] == []
    assert not {"farthest"} & {*offer, *offer["heard"]["direct"]}, "as it was before there were any"
    body = {"title": "x", "items": [{"version": still.version, "position": "1"}], "takes": [TAKE],
            "wirings": [{"version": still.version, "farthest": "strings"}]}  # fmt: skip
    url = f"/api/commissions/{still.commission}/proposals"
    assert still.client.post(url, json=body).status_code == 422


def test_what_was_shown_does_not_change(proposal: Made) -> None:
    for change in (
        "UPDATE proposal_farthest SET found = '{}'",
        "UPDATE proposal_farthest SET cable = 0",
        "DELETE FROM proposal_farthest",
        "UPDATE proposal_farthest_clips SET wired_gain_db = 0",
        "DELETE FROM proposal_farthest_clips",
    ):
        with pytest.raises(sqlite3.IntegrityError), proposal.store.write() as db_:
            db_.execute(change)


# --- The queue


def test_it_comes_last_with_progress_and_survives_a_restart(still: Made) -> None:
    told = {"wiring": 1, "cables": True, "problem": ""}
    assert SEEN["asked"] == [{**told, "making": 0.0}]
    assert SEEN["half"] == [{**told, "making": 0.5}]
    assert "farthest" not in SEEN["before"]
    assert still.bench()["farthest"] == [{**told, "making": None}]
    assert still.bench()["ready"] == 1.0


def test_where_all_have_one_cable_parts_alone_differ(still: Made) -> None:
    (item, _) = clip_queue.items_to_render(still.store, still.id)
    found = farthest.find_two([item], 4, 0.0)
    one, other = (WiringText(text, "wiring").wiring() for text in found.texts)
    assert found.cable_share == 0.0
    assert one.load == other.load
    assert one.parts["neck_a"] != other.parts["neck_a"]
    with_cables = [WiringText(text, "wiring").wiring() for text in guitars(still)]
    assert with_cables[0].load != with_cables[1].load


def test_what_ends_its_worker_again_and_again_is_given_up(tmp_path: Path) -> None:
    one = asked(made(tmp_path), "parts")
    for _ in range(clip_queue.MOST_TRIES):
        assert farthest.take_next(one.store) is not None
        farthest.requeue_interrupted(one.store)
    assert farthest.take_next(one.store) is None
    assert one.bench()["farthest"][0]["problem"] == "stopped 3 times without an end"
    assert one.offer()["failed"] == 0
    assert "farthest" not in one.offer(), "the workshop's to know"


def test_progress_is_told_in_steps_and_a_link_that_ended_has_none(tmp_path: Path) -> None:
    """Each change has every open page fetch the whole offer again."""
    one = asked(made(tmp_path), "parts")
    job = farthest.take_next(one.store)
    assert job is not None
    before = changes(one.store, one.id)
    for k in range(96):
        farthest.save_progress(one.store, job, k / 100)
    assert changes(one.store, one.id) - before == farthest.STEPS - 1
    assert one.bench()["farthest"][0]["making"] == pytest.approx(0.9, abs=0.1)
    farthest.requeue_interrupted(one.store)
    one.client.post(f"/api/proposals/{one.id}/revoke")
    assert farthest.take_next(one.store) is None
    assert one.bench()["farthest"][0]["problem"] == farthest.CLOSED


def test_what_was_given_up_is_made_again_while_the_link_is_open(tmp_path: Path) -> None:
    one = asked(made(tmp_path), "parts")
    again = f"/api/proposals/{one.id}/farthest"
    job = farthest.take_next(one.store)
    assert job is not None
    assert one.client.post(f"{again}/1").json()["farthest"][0]["making"] == 0.0, "it is on its way"
    assert farthest.take_next(one.store) is None, "and not begun again"
    farthest.fail(one.store, job, "no room")
    assert farthest.take_next(one.store) is None
    (told,) = one.client.post(f"{again}/1").json()["farthest"]
    assert (told["making"], told["problem"]) == (0.0, "")
    assert one.client.post(f"{again}/2").status_code == 404
    assert farthest.take_next(one.store) == job
    farthest.fail(one.store, job, "no room")
    one.client.post(f"/api/proposals/{one.id}/revoke")
    refused = one.client.post(f"{again}/1")
    assert refused.status_code == 409
    assert "revoked" in refused.text
    one.client.post(f"/api/proposals/{one.id}/link", json={})
    assert one.client.post(f"{again}/1").status_code == 200


def test_who_waits_for_clips_goes_before_the_rest_of_the_two(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = asked(made(tmp_path), "parts")
    done: list[str] = []

    def two(*args: Any) -> list[Any]:
        done.append(args[-1].name)
        if len(done) == 1:
            asked(one, "")  # meanwhile
        return []

    monkeypatch.setattr(work, "render_two", two)
    monkeypatch.setattr(work, "_make_clips", lambda store, library, job: done.append("clips"))
    monkeypatch.setattr(farthest, "sounds_of", lambda store, job: [1])
    monkeypatch.setattr(farthest, "find_two", lambda *args: farthest.Found(("", ""), 0.0, {}))
    monkeypatch.setattr(farthest, "show_two", lambda *args: done.append("shown"))
    like = clip_queue.Before(-23.0, 0.0, 0.0)
    monkeypatch.setattr(clip_queue, "clips_before", lambda *args: {TAKE: {"direct": like, "clean": like}})
    library = one.client.app.state.library  # type: ignore[attr-defined]
    work._do_sooner(one.store, library)
    done.clear()
    job = farthest.take_next(one.store)
    assert job is not None
    work._do(one.store, library, job)
    assert done == ["direct", "clips", "clean", "shown"]


def test_nothing_is_added_after_a_signature_or_to_sounds_that_failed(tmp_path: Path) -> None:
    one = asked(made(tmp_path), "parts")
    job = farthest.take_next(one.store)
    assert job is not None
    failed = clip_queue.take_next(one.store)
    while failed and failed.proposal != one.id:
        failed = clip_queue.take_next(one.store)
    assert failed is not None
    clip_queue.fail(one.store, failed, "take: gone")
    library = one.client.app.state.library  # type: ignore[attr-defined]
    work._do(one.store, library, job)
    assert "take: gone" in one.bench()["farthest"][0]["problem"]


def test_who_signs_first_is_shown_nothing_more(proposal: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    items = [{"version": proposal.version, "position": "6"}]
    late = proposal.another(items=items, wirings=[{"version": proposal.version, "farthest": "parts"}])
    job = farthest.take_next(late.store)
    assert job is not None
    monkeypatch.setattr(farthest, "requeue_interrupted", lambda store: None)  # another has it
    late.render()
    body = {"wiring": 1, "name": "R. Winter", "date": today(), "confirm": True}
    assert late.client.post(f"{late.link}/signoff", json=body).status_code == 201
    farthest.show_two(late.store, job, farthest.Found(("", ""), 0.0, {}), {})
    assert late.bench()["farthest"][0]["problem"] == farthest.TOO_LATE
    assert "farthest" not in late.offer()


def test_a_sound_that_answers_a_wish_has_none(proposal: Made) -> None:
    """They were built for the sounds offered at first."""
    new = wish(2, volume=8.0)
    proposal.client.post(f"{proposal.link}/operations", json=said(new))
    proposal.client.post(f"/api/proposals/{proposal.id}/variants", json={"wish": new["id"]})
    offer = proposal.render().offer()
    assert [one["number"] for one in offer["items"]] == [1, 2, 3]
    assert set(offer["heard"]["direct"]["farthest"]) == {"1", "2"}
