"""Blind tests: their order, secrets until the end, clips that give nothing away, the score."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from blind_trials import BRIGHT, DULL, TAKE, begin, opened, say, steps, through, truth
from fastapi.testclient import TestClient
from places import DEMO
from scipy.stats import binomtest, chi2_contingency
from server_client import MARK, client_of
from tolerances import DITHER_PAIR_VARIANCE, LOUDNESS_LU

from dsp.chain.ways import WAYS
from dsp.errors import InputError
from dsp.sound.blind_odds import LENGTHS, LIMIT, chance_of_guessing, fewest_right
from dsp.sound.loudness import integrated_lufs
from server.blind import store as blind_tests
from server.blind.work import render_pair
from server.clips.plan import plan_clip
from server.clips.run import run_clips
from server.takes.load import load_take
from server.wirings.text import load_wiring

PUBLISHED = {8: 7, 10: 9, 12: 10, 16: 12, 20: 15}
"""Right answers needed for p < 0.05, one-sided: cumulative binomial tables (any handbook of statistics)."""


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("blind")


@pytest.fixture(scope="module")
def client(data: Path) -> Iterator[TestClient]:
    with client_of(data, demo=True) as one:
        yield one


def clips_of(client: TestClient, test: dict[str, Any]) -> dict[str, Any]:
    """Fetch the three clips of the present trial."""
    return {letter: client.get(url) for letter, url in test["trial"]["clips"].items()}


# --- The score


@pytest.mark.parametrize("trials", LENGTHS)
def test_the_right_answers_needed_are_those_of_the_tables(trials: int) -> None:
    assert fewest_right(trials) == PUBLISHED[trials]
    assert chance_of_guessing(PUBLISHED[trials] - 1, trials) >= LIMIT


@pytest.mark.parametrize("trials", LENGTHS)
def test_chances_are_those_of_the_exact_test(trials: int) -> None:
    for right in range(trials + 1):
        exact = binomtest(right, trials, 0.5, alternative="greater").pvalue
        assert chance_of_guessing(right, trials) == pytest.approx(exact, rel=1e-12)


def test_no_chance_of_more_right_answers_than_trials() -> None:
    with pytest.raises(InputError, match="9 of 8"):
        chance_of_guessing(9, 8)


# --- A whole test


def test_a_test_from_beginning_to_score(client: TestClient) -> None:
    test = begin(client)
    found, names = "", set()
    for number in range(1, 9):
        assert (test["state"], test["answered"], test["score"]) == ("open", number - 1, None)
        assert test["trial"]["number"] == number
        names |= set(test["trial"]["clips"].values())
        clips = {letter: steps(answer.content) for letter, answer in clips_of(client, test).items()}
        found += truth(clips)
        said = found[-1] if number != 3 else "BA"["AB".index(found[-1])]  # one wrong answer
        test = say(client, test, number, said).json()
    assert len(names) == 24, "every clip of every trial has its own name"
    assert (test["state"], test["trial"]) == ("done", None)
    score = test["score"]
    assert score["drawn"] == found
    assert (score["right"], score["heard"]) == (7, True)
    assert score["chance"] == pytest.approx(9 / 256, rel=1e-12)
    assert all(client.get(name).status_code == 404 for name in names)


def test_the_measure_stands_beside_the_results_as_they_come_in(client: TestClient) -> None:
    """The page shows the computed difference once the test is over, beside what the listener heard."""
    test = begin(client)
    listed = f"/api/commissions/{test['commission']}/blind-tests"
    before = {row["computed"]: row for row in client.get(listed).json()["measure"]}
    assert test["computed"] is None
    test = through(client, test, "AAAAAAAA")
    assert test["computed"]["heard"] == "heard"
    assert test["computed"]["largest_db"] > 3.0
    alike = through(client, begin(client, DULL, {**DULL, "knobs": {"tone": 2.05}}), "AAAAAAAA")
    assert alike["computed"] == {"largest_db": pytest.approx(0.0, abs=0.49), "heard": "not heard"}
    after = {row["computed"]: row for row in client.get(listed).json()["measure"]}
    for word, one in (("heard", test), ("not heard", alike)):
        was = before.get(word, {"tests": 0, "shown": 0})
        assert after[word]["tests"] == was["tests"] + 1
        assert after[word]["shown"] == was["shown"] + one["score"]["heard"]


def test_the_identity_of_x_is_nowhere_before_the_last_answer(client: TestClient) -> None:
    """The same answers to other draws read the same, apart from ids, names and times."""
    seen: dict[int, set[str]] = {}
    for _ in range(3):
        test = begin(client)
        for number in range(1, 9):
            shown = {k: v for k, v in test.items() if k not in ("id", "created")}
            shown["trial"] = {"number": shown["trial"]["number"], "clips": sorted(shown["trial"]["clips"])}
            seen.setdefault(number, set()).add(json.dumps(shown, sort_keys=True))
            rows = client.get(f"/api/commissions/{test['commission']}/blind-tests").json()["tests"]
            assert next(row for row in rows if row["id"] == test["id"])["score"] is None
            test = say(client, test, number, "A").json()
    assert all(len(different) == 1 for different in seen.values())


def test_x_is_drawn_evenly(data: Path, client: TestClient) -> None:
    """A fair draw fails this once in 2^40 runs."""
    with sqlite3.connect(data / "presolder.sqlite") as db:
        drawn = [x for (x,) in db.execute("SELECT x FROM blind_trials")]
    assert len(drawn) > 30
    assert binomtest(sum(drawn), len(drawn), 0.5).pvalue > 1e-9


def test_answers_come_once_each_in_their_order(client: TestClient) -> None:
    test = begin(client)
    for number in (0, 2, 9, -1):
        assert say(client, test, number, "A").status_code == 409
    assert say(client, test, 1, "A").status_code == 200
    assert say(client, test, 1, "B").status_code == 409
    again = say(client, test, 1, "A")
    assert (again.status_code, again.json()["answered"]) == (200, 1)
    assert say(client, test, 2, "C").status_code == 422
    test = through(client, test, "AAAAAAAA")
    assert (test["state"], test["answered"]) == ("done", 8)
    assert say(client, test, 8, "A").json()["score"] == test["score"]
    assert say(client, test, 8, "B").status_code == 409
    assert say(client, test, 9, "A").status_code == 409


def test_the_database_refuses_changes_of_draws_and_answers(data: Path, client: TestClient) -> None:
    test = through(client, begin(client), "AAAAAAAA")["id"]
    for change in (
        "UPDATE blind_trials SET x = 1 - x", "UPDATE blind_trials SET said = 1 - said",
        "UPDATE blind_tests SET state = 'given up'", "DELETE FROM blind_trials",
    ):  # fmt: skip
        column = "test_id" if "trials" in change else "id"
        with sqlite3.connect(data / "presolder.sqlite") as db, pytest.raises(sqlite3.IntegrityError):
            db.execute(f"{change} WHERE {column} = ?", (test,))


# --- Clips


def test_clips_of_a_trial_differ_in_samples_alone(client: TestClient) -> None:
    test = begin(client)
    for number in range(1, 5):
        answers = clips_of(client, test)
        headers = {json.dumps(sorted(answer.headers.items())) for answer in answers.values()}
        assert len(headers) == 1, "the headers of all clips are equal"
        head = next(iter(answers.values())).headers
        assert head["cache-control"] == "no-store"
        assert not {"etag", "last-modified", "accept-ranges", "content-disposition"} & set(head)
        contents = [answer.content for answer in answers.values()]
        assert len(set(map(len, contents))) == 1
        assert len({content[:44] for content in contents}) == 1, "the same WAV header"
        assert len(set(contents)) == 3, "X equals neither A nor B byte for byte"
        test = say(client, test, number, "A").json()


def test_x_is_one_of_them_except_for_its_dither(client: TestClient) -> None:
    """Two triangular dithers and roundings: variances of 1/4 step squared, no sample off by 3."""
    test = begin(client)
    clips = {letter: steps(answer.content) for letter, answer in clips_of(client, test).items()}
    same, other = truth(clips), "BA"["AB".index(truth(clips))]
    off = clips["X"] - clips[same]
    assert np.abs(off).max() <= 2.0
    assert np.var(off) == pytest.approx(0.5, rel=DITHER_PAIR_VARIANCE)
    assert abs(off.mean()) < 0.02
    assert np.std(clips["X"] - clips[other]) > 100.0
    loud = [integrated_lufs(clips[letter] / 32768.0, 48_000.0) for letter in "ABX"]
    assert np.ptp(loud) <= LOUDNESS_LU


def test_properties_of_x_reveal_neither_sound(client: TestClient) -> None:
    """One sound against itself: no statistic of the last bits separates X from A or B."""
    test = begin(client, DULL, DULL)
    clips = {letter: steps(answer.content) for letter, answer in clips_of(client, test).items()}
    counts = [np.bincount((clips[letter] % 4).astype(int), minlength=4) for letter in "ABX"]
    assert chi2_contingency(np.array(counts)).pvalue > 1e-4
    for letter in "AB":
        assert np.var(clips["X"] - clips[letter]) == pytest.approx(0.5, rel=DITHER_PAIR_VARIANCE)


def test_clips_of_a_trial_go_with_it(client: TestClient) -> None:
    test = begin(client)
    before = list(test["trial"]["clips"].values())
    test = say(client, test, 1, "B").json()
    assert [client.get(url).status_code for url in before] == [404, 404, 404]
    base = before[0].rpartition("/")[0]
    for name in ("0.f32", "..%2F..%2Fpresolder.sqlite", "x.wav"):
        assert client.get(f"{base}/{name}").status_code == 404
    assert not set(before) & set(test["trial"]["clips"].values())


# --- Ends, restarts and refusals


def test_a_test_that_is_given_up_is_listed_and_never_revealed(client: TestClient) -> None:
    test = say(client, begin(client), 1, "A").json()
    url = f"/api/blind-tests/{test['id']}"
    ended = client.post(f"{url}/give-up").json()
    assert (ended["state"], ended["answered"], ended["score"], ended["trial"]) == ("given up", 1, None, None)
    assert client.post(f"{url}/give-up").status_code == 200
    assert say(client, test, 2, "A").status_code == 409
    assert client.get(next(iter(test["trial"]["clips"].values()))).status_code == 404
    rows = client.get(f"/api/commissions/{test['commission']}/blind-tests").json()
    assert next(row for row in rows["tests"] if row["id"] == test["id"])["state"] == "given up"
    assert {row["trials"]: row["needed"] for row in rows["lengths"]} == PUBLISHED
    done = through(client, begin(client), "AAAAAAAA")
    assert client.post(f"/api/blind-tests/{done['id']}/give-up").status_code == 409


def test_a_test_survives_a_restart(tmp_path: Path) -> None:
    with client_of(tmp_path, demo=True) as before:
        test = through(before, begin(before), "AB")
        drawn = truth({k: steps(v.content) for k, v in clips_of(before, test).items()})
    with client_of(tmp_path) as after:
        again = opened(after, after.get(f"/api/blind-tests/{test['id']}").json())
        assert (again["answered"], again["trial"]["number"]) == (2, 3)
        assert truth({k: steps(v.content) for k, v in clips_of(after, again).items()}) == drawn
        for file in (tmp_path / "blind" / test["id"]).iterdir():
            file.unlink()  # even with its files lost
        again = after.get(f"/api/blind-tests/{test['id']}").json()
        assert truth({k: steps(v.content) for k, v in clips_of(after, again).items()}) == drawn
        for number in range(3, 9):
            again = say(after, again, number, "B").json()
        assert (again["state"], again["score"]["answers"]) == ("done", "ABBBBBBB")
        assert again["score"]["drawn"][2] == drawn
        assert not (tmp_path / "blind" / test["id"]).exists()


def test_sounds_that_a_stopped_server_had_not_made_are_made_by_the_next(client: TestClient) -> None:
    before = begin(client)
    sounds, store = before["sounds"], client.app.state.store  # type: ignore[attr-defined]
    plan = blind_tests.TestPlan(TAKE, "Low riff", 0.5, 2.5, 8, sounds)
    left = blind_tests.begin(store, before["commission"], plan)
    test = opened(client, client.get(f"/api/blind-tests/{left}").json())
    assert (test["state"], test["trial"]["number"]) == ("open", 1)
    sizes = {len(answer.content) for one in (before, test) for answer in clips_of(client, one).values()}
    assert len(sizes) == 1


def test_clips_that_come_after_their_answer_are_not_kept(client: TestClient) -> None:
    store = client.app.state.store  # type: ignore[attr-defined]
    commission = client.get("/api/commissions").json()[0]["id"]
    plan = blind_tests.TestPlan(TAKE, "Low riff", 0.5, 2.5, 8, [{}, {}])
    test = blind_tests.begin(store, commission, plan)
    blind_tests.open_first_trial(store, test)
    blind_tests.answer(store, test, 1, 0)
    for number in (1, 2):
        blind_tests.set_clips(store, test, number, {"A": "a.flac"})
    with store.read() as db:
        rows = db.execute("SELECT clips FROM blind_trials WHERE test_id = ? ORDER BY number", (test,))
        assert [json.loads(row["clips"]) for row in rows] == [{}, {"A": "a.flac"}]


def test_both_sounds_are_heard_in_the_way_that_is_asked_for(client: TestClient) -> None:
    direct, clean = begin(client), begin(client, way="clean")
    assert (direct["way"], clean["way"]) == ("direct", "clean")
    assert clean["heard"] == "through tone controls and a loudspeaker, undistorted"
    shares = []
    for test in (direct, clean):
        clips = {letter: steps(answer.content) for letter, answer in clips_of(client, test).items()}
        shares.append(_from_2_to_4_khz(clips["B"]))
        assert len({len(clip) for clip in clips.values()}) == 1
    assert shares[1] > shares[0] + 3.0, "no loudspeaker: it has its peak there"
    done = through(client, clean, "AAAAAAAA")
    assert (done["way"], done["computed"]["heard"]) == ("clean", "heard")
    listed = client.get(f"/api/commissions/{done['commission']}/blind-tests").json()["tests"]
    assert next(one["way"] for one in listed if one["id"] == done["id"]) == "clean"
    store = client.app.state.store  # type: ignore[attr-defined]
    with pytest.raises(sqlite3.IntegrityError, match="does not change"), store.write() as db:
        db.execute("UPDATE blind_tests SET way = 'direct' WHERE id = ?", (direct["id"],))


def _from_2_to_4_khz(samples: Any) -> float:
    """Return what lies there of clips at 48 kHz, dB of the whole."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    return float(10.0 * np.log10(power[len(power) // 12 : len(power) // 6].sum() / power.sum()))


def test_a_hot_pair_is_driven_less_together(tmp_path: Path) -> None:
    """The lower of two drives counts for both, so neither folds back."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    coils = {name: replace(coil, sensitivity=0.4) for name, coil in wiring.coils.items()}
    hot = replace(wiring, parts={**wiring.parts, **coils})
    sounds = [(hot, hot.setting("1")), (hot, hot.setting("1", {"volume": 5.0}))]
    take, driven = load_take(DEMO / "low_riff.yaml"), WAYS["driven"]
    loud, soft = render_pair(take, sounds, (0.5, 1.5), tmp_path, driven)
    alone = run_clips([plan_clip(hot, take, hot.setting("1"), way=driven)], tmp_path / "x", 48_000,
                      span=(24_000, 72_000))[0]  # fmt: skip
    assert alone.measured.excess_db > 3.0
    lowered = run_clips([plan_clip(*sounds[1][:1], take, sounds[1][1], way=driven)], tmp_path / "y", 48_000,
                        span=(24_000, 72_000), lowered_db=alone.measured.excess_db)[0]  # fmt: skip
    assert soft == pytest.approx(np.concatenate(list(lowered.volts.blocks())), abs=1e-9)
    assert np.abs(loud).max() > np.abs(soft).max()


def test_no_difference_is_computed_where_the_sound_is_bent(client: TestClient) -> None:
    done = through(client, begin(client, way="driven"), "AAAAAAAA")
    assert (done["way"], done["computed"]) == ("driven", None)
    assert "distorts" in done["heard"]


@pytest.mark.parametrize(
    ("change", "status", "words"),
    [
        ({"way": "crunchy"}, 422, "clean"),
        ({"trials": 9}, 422, "8, 10, 12, 16, 20"),
        ({"take": "none"}, 404, "take"),
        ({"from_s": 1.0, "to_s": 1.2}, 422, "0.5 to 30 s"),
        ({"from_s": 3.0, "to_s": 1.0}, 422, "stretch"),
        ({"to_s": 1e4}, 422, "within the take"),
    ],
)
def test_an_impossible_test_is_refused_in_words(
    client: TestClient, change: dict[str, Any], status: int, words: str
) -> None:
    commission = client.get("/api/commissions").json()[0]
    draft = {"version": commission["wirings"][0]["version"], "edits": []}
    body = {
        "sounds": 2 * [{"draft": draft, "setting": {"position": "1"}}],
        "take": TAKE,
        "trials": 8,
        **change,
    }
    answer = client.post(f"/api/commissions/{commission['id']}/blind-tests", json=body)
    assert answer.status_code == status
    assert words in answer.text


def test_a_sound_that_is_silent_ends_the_test_with_its_reason(client: TestClient) -> None:
    test = begin(client, {**BRIGHT, "knobs": {"volume": 0.0}}, BRIGHT)
    assert test["state"] == "failed"
    assert "sound A: got silence" in test["problem"]
    assert say(client, test, 1, "A").status_code == 409


def test_only_the_bench_can_run_blind_tests(tmp_path: Path) -> None:
    with client_of(tmp_path, host="192.168.0.9", key="a long enough key", headers=MARK) as stranger:
        assert stranger.get("/api/commissions/none/blind-tests").status_code == 401
        assert stranger.get("/api/blind-tests/none/clips/x").status_code == 401
