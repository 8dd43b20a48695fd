"""Wishes that become sounds: rendered like the others, offered whole, signed for by who was shown them."""

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
from server_client import client_of
from talk_case import PHONE, WRITTEN, note, operation, said, wish
from tolerances import LOUDNESS_LU

from dsp.sound.loudness import integrated_lufs
from server.clips.plan import plan_clip
from server.clips.render import RenderOptions, render_set
from server.database.store import FILE
from server.proposals import levels, talk, variants, work
from server.proposals import queue as clip_queue
from server.proposals import store as proposals
from server.proposals.clip_files import clip_path
from server.proposals.describe import read_version
from server.proposals.levels import set_level
from server.proposals.talk import Operation

WISHED = {"tone": 2.5, "volume": 8.004}


def copied(folder: Path, one: Made, to: Path) -> Made:
    """Return a copy of a workshop's data folder, open."""
    shutil.copytree(folder / "data", to / "data")
    return Made(client_of(to / "data"), to / "data", one.commission, one.version, one.id, one.token)


@pytest.fixture(scope="module")
def offered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Made]:
    """Make a proposal of three sounds, rendered."""
    folder = tmp_path_factory.mktemp("offered")
    one = made(folder).render()
    one.store.close()
    return folder, one


@pytest.fixture
def proposal(offered: tuple[Path, Made], tmp_path: Path) -> Made:
    return copied(*offered, tmp_path)


@pytest.fixture(scope="module")
def answered(offered: tuple[Path, Made], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Made]:
    """Answer a wish for the second sound with a fourth one."""
    folder = tmp_path_factory.mktemp("answered")
    one = copied(*offered, folder)
    make(one, wished(one, 2, **WISHED))
    one.render().store.close()
    return folder, one


@pytest.fixture
def variant(answered: tuple[Path, Made], tmp_path: Path) -> Made:
    return copied(*answered, tmp_path)


def wished(one: Made, number: int, **knobs: float) -> str:
    """Wish for a sound's knobs; return the wish's id."""
    new = wish(number, **knobs)
    answer = one.client.post(f"{one.link}/operations", json=said(new))
    assert answer.status_code == 200, answer.text
    return str(new["id"])


def make(one: Made, about: str, status: int = 200) -> Any:
    """Press “Make it a sound”."""
    answer = one.client.post(f"/api/proposals/{one.id}/variants", json={"wish": about})
    assert answer.status_code == status, answer.text
    return answer.json()


def sign(one: Made, status: int, **more: Any) -> Any:
    body = {"wiring": 1, "name": "R. Winter", "date": today(), "confirm": True, **more}
    answer = one.client.post(f"{one.link}/signoff", json=body)
    assert answer.status_code == status, answer.text
    return answer.json()


# --- A wish becomes a sound


def test_a_wish_becomes_the_next_sound_and_says_so(proposal: Made) -> None:
    before, about = proposal.offer(), wished(proposal, 2, **WISHED)
    after = proposal.bench()["after"]
    (asked,) = make(proposal, about)["wishes"]
    assert (asked["sound"], asked["making"], asked["problem"]) == (None, 0.0, "")
    half = proposal.offer()
    assert (half["ready"], half["items"]) == (1.0, before["items"]), "half a sound is not offered"
    assert half["wishes"][0]["making"] == 0.0
    assert half["after"] > after, "both sides learn of it at once"
    proposal.render()
    offer = proposal.offer()
    assert offer["items"][:3] == before["items"], "what was shown never changes"
    (found,) = offer["wishes"]
    assert (found["sound"], found["making"]) == (4, None)
    new, turned = offer["items"][3], offer["items"][1]
    assert (new["number"], new["label"]) == (4, f"{turned['label']}, turned to volume 8, tone 2.5")
    assert new["stands"] == ["volume at 8", "tone at 2.5"]
    assert new["picture"]["file"].endswith(".svg")
    assert offer["wirings"][0]["sounds"] == [1, 2, 3, 4]
    assert proposal.bench()["items"][3]["knobs"] == {"volume": 8.0, "tone": 2.5}


def test_a_variant_is_the_circuit_at_its_settings_and_as_loud_as_the_others(
    variant: Made, tmp_path: Path
) -> None:
    """Hold it to an as-wired rendering of the same settings: alike but for its gain."""
    wiring = read_version(variant.client.get(f"/api/versions/{variant.version}").json()["text"])
    performance = variant.client.app.state.library.performance(TAKE)  # type: ignore[attr-defined]
    settings = [wiring.setting("2"), wiring.setting("2", {"volume": 8.0, "tone": 2.5})]
    plans = [plan_clip(wiring, performance, one) for one in settings]
    wired = render_set(plans, tmp_path / "wired", RenderOptions())
    clips = [variant.offer()["items"][number - 1]["clips"][TAKE] for number in (2, 4)]
    files = []
    for clip in clips:
        sha256, _, ending = clip["flac"].rpartition("/")[2].partition(".")
        files.append(soundfile.read(clip_path(variant.data, sha256, ending))[0])
    volts = soundfile.read(tmp_path / "wired" / wired[1]["file"])[0]
    gain = float(files[1] @ volts / (volts @ volts))
    assert np.max(np.abs(files[1] - gain * volts)) < 2.0**-14
    heard = [integrated_lufs(one, 48_000) for one in files]
    assert np.ptp(heard) <= LOUDNESS_LU
    apart_db = wired[1]["loudness_lufs"] - wired[0]["loudness_lufs"]
    assert apart_db < -1.0, "a volume at 8 is heard"
    assert clips[1]["wired_gain_db"] - clips[0]["wired_gain_db"] == pytest.approx(apart_db, abs=LOUDNESS_LU)
    assert [clip["even_gain_db"] for clip in clips] == [0.0, 0.0]


def test_the_same_wish_twice_is_the_same_sound(variant: Made) -> None:
    again = wished(variant, 2, tone=2.5, volume=8.0)
    from_another = wished(variant, 4, tone=2.5)
    as_offered = wished(variant, 1, tone=10.0)
    found = {one["id"]: one["sound"] for one in variant.offer()["wishes"]}
    assert [found[one] for one in (again, from_another, as_offered)] == [4, 4, 1]
    for one in (again, as_offered):
        make(variant, one)
    assert variants.waiting(variant.store) == 0
    assert len(variant.offer()["items"]) == 4
    other = wished(variant, 3, tone=2.5)
    assert {one["id"]: one["sound"] for one in variant.offer()["wishes"]}[other] is None, "another position"


def test_pressed_twice_it_is_rendered_once(proposal: Made) -> None:
    first, second = wished(proposal, 2, tone=3.0), wished(proposal, 2, tone=3.0)
    for one in (first, first, second):
        make(proposal, one)
    assert variants.waiting(proposal.store) == 1


def test_a_variant_of_a_variant_is_named_by_the_first_sound(variant: Made) -> None:
    make(variant, wished(variant, 4, tone=6.0))
    variant.render()
    fourth, fifth = variant.offer()["items"][3:]
    assert fourth["label"].endswith(", turned to volume 8, tone 2.5")
    assert fifth["label"] == fourth["label"].replace("tone 2.5", "tone 6")


def test_its_knobs_turn_and_it_can_be_marked_and_spoken_of(variant: Made) -> None:
    voice = variant.client.get(f"{variant.link}/live/4/voice", params={"take": TAKE}).json()
    first = variant.client.get(f"{variant.link}/live/1/voice", params={"take": TAKE}).json()
    assert voice["stems"] == first["stems"], "its stems are there already"
    assert variant.client.get(voice["model"]["file"]).status_code == 200
    new = [operation("favourite", number=4), note("This one!", 4), wish(4, tone=1.0)]
    assert variant.client.post(f"{variant.link}/operations", json=said(*new)).json()["favourites"] == [4]


def test_a_knob_that_was_not_turned_is_not_named(tmp_path: Path) -> None:
    """The offer keeps what the knob said, which may be finer than the variant's hundredths."""
    one = made(tmp_path)
    item = {"version": one.version, "position": "2", "knobs": {"volume": 7.346}}
    fine = one.another(items=[item])
    with fine.store.write() as db:
        db.execute(
            "INSERT INTO proposal_variants (proposal_id, line, of_number, knobs, asked)"
            " VALUES (?, 1, 1, ?, 'now')", (fine.id, json.dumps({"tone": 2.5, "volume": 7.35})),
        )  # fmt: skip
    job = variants.VariantJob(fine.id, 1)
    described, _ = variants.item_to_render(fine.store, job)
    assert described.label.endswith(", turned to tone 2.5")


# --- Levels


def test_a_louder_sound_that_comes_later_is_the_new_top_of_the_true_levels(tmp_path: Path) -> None:
    one = made(tmp_path)
    item = {"version": one.version, "position": "2", "knobs": {"volume": 5.0}}
    soft = one.another(items=[item]).render()
    before = soft.offer()["items"][0]["clips"][TAKE]
    make(soft, wished(soft, 1, volume=10.0))
    soft.render()
    first, later = (each["clips"][TAKE] for each in soft.offer()["items"])
    assert (before["wired_gain_db"], later["wired_gain_db"]) == (0.0, 0.0)
    assert first["wired_gain_db"] < -6.0, "none is turned up above its file: the others come down"
    assert {**first, "wired_gain_db": 0.0} == before


def test_a_sound_whose_peaks_leave_no_room_is_made_even(
    proposal: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files of the others never change: the page turns them down to it."""
    performance = proposal.client.app.state.library.performance(TAKE)  # type: ignore[attr-defined]
    with proposal.store.read() as db:
        (item,) = proposals.items_of(db, proposal.id)[1:2]
        text = db.execute("SELECT text FROM versions WHERE id = ?", (proposal.version,)).fetchone()["text"]
    item |= {"text": text, "number": 0}
    before = clip_queue.clips_before(proposal.store, proposal.id)[TAKE]["direct"]
    quiet = clip_queue.Before(-30.0, before.wired_at_db)
    (lower,) = work.render_beside(proposal.data, item, performance, quiet, lambda seconds: None)
    assert lower.loudness_lufs == pytest.approx(-30.0, abs=LOUDNESS_LU), "a set that came down stays matched"
    monkeypatch.setattr(work, "LOUDNESS_LUFS", -6.0)
    loud = clip_queue.Before(-6.0, before.wired_at_db)
    (limited,) = work.render_beside(proposal.data, item, performance, loud, lambda seconds: None)
    assert limited.loudness_lufs is not None
    assert limited.loudness_lufs < -8.0
    rows: list[Any] = [
        {"loudness_lufs": -6.0, "wired_gain_db": 0.0},
        {"loudness_lufs": limited.loudness_lufs, "wired_gain_db": -1.0},
    ]
    gains = [set_level(rows).gains(row)["even_gain_db"] for row in rows]
    assert [row["loudness_lufs"] + gain for row, gain in zip(rows, gains, strict=True)] == pytest.approx(
        [limited.loudness_lufs] * 2, abs=1e-3
    )


def test_files_that_are_as_loud_within_hearing_are_left_alone() -> None:
    rows: list[Any] = [{"loudness_lufs": one, "wired_gain_db": 0.0} for one in (-23.0, -23.15, None)]
    assert [set_level(rows).gains(row)["even_gain_db"] for row in rows] == [0.0, 0.0, 0.0]


def test_the_levels_of_a_set_are_found_once_for_all_of_its_sounds(
    variant: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once for the way heard first and once for the list of ways, not once a sound; the same figures."""
    found: list[Any] = []
    monkeypatch.setattr(levels, "set_level", lambda clips: found.append(set_level(clips)) or found[-1])
    items = variant.offer()["items"]
    assert len(items) == 4
    assert len(found) == 2
    with variant.store.read() as db:
        rows = clip_queue.clips_of(db, variant.id)
    expected = [set_level(rows).gains(row) for row in rows]
    assert [{key: one["clips"][TAKE][key] for key in expected[0]} for one in items] == expected


# --- The queue


def test_a_variant_survives_a_restart_and_interrupted_work_is_done_again(proposal: Made) -> None:
    make(proposal, wished(proposal, 1, tone=1.0))
    job = variants.take_next(proposal.store)  # a worker takes it, and dies
    assert job is not None
    variants.save_progress(proposal.store, job, 0.5)
    assert proposal.offer()["wishes"][0]["making"] == 0.5
    proposal.store.close()
    later = Made(client_of(proposal.data), *list(proposal.__dict__.values())[1:])
    assert later.render().offer()["wishes"][0]["sound"] == 4


def test_a_variant_that_kills_its_worker_is_given_up_and_tried_again_when_asked(proposal: Made) -> None:
    about = wished(proposal, 1, tone=1.0)
    make(proposal, about)
    for _ in range(clip_queue.MOST_TRIES):
        assert variants.take_next(proposal.store) is not None
        variants.requeue_interrupted(proposal.store)
    assert variants.take_next(proposal.store) is None
    (found,) = proposal.bench()["wishes"]
    assert (found["sound"], found["making"]) == (None, None)
    assert found["problem"] == "stopped 3 times without an end"
    assert "problem" not in proposal.offer()["wishes"][0], "the workshop's to know"
    assert proposal.offer()["failed"] == 0, "the sounds that are there are whole"
    make(proposal, about)
    assert proposal.render().bench()["wishes"][0]["sound"] == 4


def test_a_take_that_is_gone_is_told_to_the_bench_and_spoils_nothing(
    proposal: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    make(proposal, wished(proposal, 1, tone=1.0))
    job = variants.take_next(proposal.store)
    assert job is not None
    variants.fail(proposal.store, job, "take: gone")
    assert proposal.bench()["wishes"][0]["problem"] == "take: gone"
    sign(proposal, 201, sounds=[1, 2, 3])


def test_clips_come_before_variants(proposal: Made) -> None:
    make(proposal, wished(proposal, 1, tone=1.0))
    other = proposal.another().render()
    assert other.offer()["ready"] == 1.0
    assert proposal.offer()["wishes"][0]["sound"] == 4


# --- What is refused


def test_what_is_no_wish_or_was_taken_back_makes_no_sound(proposal: Made) -> None:
    text, about = note("Warmer?", 1), wished(proposal, 1, tone=1.0)
    back = operation("unwish", about=about)
    proposal.client.post(f"{proposal.link}/operations", json=said(text, back))
    for other in ("nothing", text["id"], back["id"]):
        assert make(proposal, other, 404)["problems"][0]["where"] == "wish"
    assert "taken back" in make(proposal, about, 409)["problems"][0]["got"]
    foreign = proposal.another()
    assert make(foreign, about, 404)["problems"][0]["where"] == "wish"
    assert variants.waiting(proposal.store) == 0


@pytest.mark.parametrize("knobs", [{"tone": 11.0}, {"tone": -0.5}])
def test_a_knob_beyond_its_range_makes_no_sound(proposal: Made, knobs: dict[str, float]) -> None:
    """The route takes no such wish; one that got in otherwise is refused here."""
    wanted = Operation("w" * 16, "wish", WRITTEN, number=1, knobs=knobs)
    talk.say(proposal.store, proposal.token, PHONE, [wanted])
    assert "tone" in make(proposal, wanted.id, 422)["problems"][0]["where"]
    assert variants.waiting(proposal.store) == 0


def test_a_sound_that_is_not_offered_has_no_variant(proposal: Made) -> None:
    with pytest.raises(Exception, match="1 to 3"), proposal.store.write() as db:
        variants.ask_for(db, proposal.id, 4, {"tone": 1.0})


def test_a_proposal_that_ended_gets_no_more_sounds(proposal: Made) -> None:
    about = wished(proposal, 1, tone=1.0)
    proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    (problem,) = make(proposal, about, 409)["problems"]
    assert (problem["got"], problem["hint"]) == ("one that you ended", "make a new link first")
    proposal.client.post(f"/api/proposals/{proposal.id}/link", json={})
    make(proposal, about)
    with proposal.store.write() as db:
        db.execute("UPDATE proposals SET expires = '2020' WHERE id = ?", (proposal.id,))
    later = talk.Operation("l" * 16, "wish", WRITTEN, number=1, knobs={"tone": 7.0})
    with proposal.store.write() as db, pytest.raises(Exception, match="has expired"):
        variants.ask_for(db, proposal.id, 1, later.knobs)


def test_a_proposal_that_is_not_ready_or_is_full_gets_no_more_sounds(
    proposal: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = proposal.another()
    with pytest.raises(Exception, match="still being rendered"), other.store.write() as db:
        variants.ask_for(db, other.id, 1, {"tone": 1.0})
    monkeypatch.setattr(variants, "MOST_ITEMS", 4)
    make(proposal, wished(proposal, 1, tone=1.0))
    assert "up to 4" in make(proposal, wished(proposal, 1, tone=2.0), 409)["problems"][0]["allowed"]


def test_only_the_bench_makes_sounds(proposal: Made) -> None:
    about = wished(proposal, 1, tone=1.0)
    outside = client_of(proposal.data, host="192.0.2.1", key="a key of the bench")
    answer = outside.post(f"/api/proposals/{proposal.id}/variants", json={"wish": about})
    assert answer.status_code == 401


# --- Signing


def test_nobody_signs_for_a_sound_that_was_not_shown(variant: Made) -> None:
    for shown, newer in (({}, "4"), ({"sounds": [1, 2, 3]}, "4"), ({"sounds": [4, 1]}, "2, 3")):
        (problem,) = sign(variant, 409, **shown)["problems"]
        assert (problem["where"], problem["hint"]) == ("sounds", "listen to it first, then sign")
        assert f"number {newer}, that" in problem["got"]
    assert variant.offer()["signoff"] is None
    sign(variant, 201, sounds=[4, 3, 2, 1])
    record = variant.client.get(f"{variant.link}/record").json()
    assert record["format"] == 4
    assert record["chosen"]["sounds"] == [1, 2, 3, 4]
    assert {clip["number"] for clip in record["clips"]} == {1, 2, 3, 4}
    assert record["pictures"].keys() == {"1", "2", "3", "4"}
    assert variant.client.get(f"/api/proposals/{variant.id}/verify").json()["holds"] is True
    assert "turned to volume 8" in variant.client.get(f"{variant.link}/receipt").text


def test_a_sound_of_another_wiring_holds_nobody_up(proposal: Made) -> None:
    wiring = proposal.client.get(f"/api/versions/{proposal.version}").json()["wiring_id"]
    edit = {"path": ["parts", "tone_cap", "capacitance"], "value": "47 nF"}
    body = {"base": proposal.version, "edits": [edit]}
    other = proposal.client.post(f"/api/wirings/{wiring}/versions", json=body).json()["id"]
    items = [{"version": one, "position": "1"} for one in (proposal.version, other)]
    two = proposal.another(items=items).render()
    make(two, wished(two, 2, tone=1.0))
    two.render()
    assert [one["sounds"] for one in two.offer()["wirings"]] == [[1], [2, 3]]
    sign(two, 409, wiring=2, sounds=[2])
    sign(two, 201, sounds=[1])


def test_nothing_changes_after_a_signature(proposal: Made) -> None:
    first, second = wished(proposal, 1, tone=1.0), wished(proposal, 1, tone=2.0)
    make(proposal, first)
    sign(proposal, 201)  # while the sound is being made: for what was shown
    (problem,) = make(proposal, second, 409)["problems"]
    assert problem["got"] == "one that is signed: nothing changes after a sign-off"
    proposal.render()
    assert len(proposal.offer()["items"]) == 3
    found = {one["id"]: one["problem"] for one in proposal.bench()["wishes"]}
    assert "signed before this sound was ready" in found[first]
    assert variants.waiting(proposal.store) == 0
    assert proposal.client.get(f"/api/proposals/{proposal.id}/verify").json()["holds"] is True


def test_a_signed_proposal_whose_link_has_ended_is_still_signed(proposal: Made) -> None:
    first, second = wished(proposal, 1, tone=1.0), wished(proposal, 1, tone=2.0)
    make(proposal, first)
    sign(proposal, 201)
    proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    assert proposal.bench()["state"] == "signed", "a new link would not open it to sounds"
    (problem,) = make(proposal, second, 409)["problems"]
    assert problem["got"] == "one that is signed: nothing changes after a sign-off"
    proposal.render()
    assert len(proposal.bench()["items"]) == 3
    assert proposal.client.get(f"/api/proposals/{proposal.id}/verify").json()["holds"] is True


def test_what_was_asked_for_and_offered_stays(variant: Made) -> None:
    make(variant, wished(variant, 1, tone=1.0))
    db = sqlite3.connect(variant.data / FILE)
    for change in ("UPDATE proposal_variants SET knobs = '{}' WHERE line = 2",
                   "UPDATE proposal_variants SET state = 'queued' WHERE line = 1",
                   "DELETE FROM proposal_variants WHERE line = 2"):  # fmt: skip
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(change)
    db.close()
