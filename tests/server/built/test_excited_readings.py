"""An exciter's and a blade's readings at a finished guitar: typed or recorded, judged, kept, opened again."""

from __future__ import annotations

import csv
import io
from typing import Any

import numpy as np
import pytest
from exciter_rig import record
from fastapi.testclient import TestClient
from finished_guitar import Guitar
from rig import RATE_HZ
from small_wirings import wiring_of

from dsp.measuring.transfer import Transfer, measure_transfer
from server.built import routes
from server.built.excited import excited_plan, find_sound, judge_excited_rows
from server.built.work import BuiltWork
from server.documents.built_report import report_record

WHAT = "exciter {} at 900 Hz"
TWO_COILS = """
a: {kind: coil, inductance: 2.4 H, resistance: 5.6 kΩ, capacitance: 110 pF}
b: {kind: coil, inductance: 2.4 H, resistance: 5.6 kΩ, capacitance: 110 pF}
output: {kind: jack}
"""


@pytest.fixture
def two(client: TestClient) -> Guitar:
    """A guitar with two single coils and a selector of three positions."""
    return Guitar(client, "two_singles")


def coils_of(guitar: Guitar) -> list[str]:
    return [one["coil"] for one in guitar.plan["exciter"]["coils"]]


def sides(answer: dict[str, Any]) -> dict[tuple[str, str], str]:
    return {(one["what"], one["setting"]): one["side"] for one in answer["judged"]["readings"]}


def put(guitar: Guitar, excited: dict[str, dict[str, str]], **more: Any) -> Any:
    return guitar.put({"version": guitar.version, "excited": excited, **more}).json()


def test_the_plan_tells_what_to_read_over_each_coil(two: Guitar) -> None:
    plan = two.plan["exciter"]
    assert any("100 turns" in text for text in plan["parts"])
    assert [text[:14] for text in plan["cautions"]] == ["Keep the 100 Ω"]
    first, second = plan["coils"]
    at_loudest = [
        (one["setting"], point["expected"])
        for one in first["settings"]
        for point in one["points"]
        if point["what"] == first["typed"] and point["expected"].startswith("loudest")
    ]
    assert len(at_loudest) == 1
    assert {point["band"] for one in second["settings"] for point in one["points"]} > {""}
    assert [one["expected"] for one in first["blade"]] == ["+"]


def test_readings_are_judged_and_kept_by_themselves(two: Guitar) -> None:
    first, second = coils_of(two)
    answer = put(two, {WHAT.format(first): {"1": "+ -40 dB", "2": "+ -45 dB", "3": "silent"}})
    assert list(sides(answer).values()) == ["held to", "within", "within"], answer["judged"]["readings"]
    verdict = answer["judged"]["verdict"]
    assert verdict["text"].endswith("read")
    assert verdict["read"] == 2, "what the others are held to says nothing"
    answer = put(two, {WHAT.format(first): {"2": "- -45 dB"}})
    assert sides(answer)[WHAT.format(first), "2"] == "turned"
    assert sides(answer)[WHAT.format(first), "1"] == "held to", "what was not sent stays"
    assert answer["judged"]["verdict"]["outside"] == 1
    assert f"2;{WHAT.format(first)};- -45 dB" in answer["judged"]["text"]
    typed = {"1": "40 dB", "2": "-40 dB", "3": "loud"}
    answer = put(two, {WHAT.format(first): {"2": ""}, WHAT.format(second): typed})
    assert (WHAT.format(first), "2") not in sides(answer)
    words = {
        one["setting"]: one["words"]
        for one in answer["judged"]["readings"]
        if one["what"] == WHAT.format(second) and one["side"] == "problem"
    }
    assert set(words) == set(typed)
    assert "a sign and a level" in words["1"]
    assert "a sign and a level" in words["3"]
    assert "two signs" in words["2"]


def test_a_silent_setting_alone_closes_nothing(two: Guitar) -> None:
    first, second = coils_of(two)
    for value in ("silent", "+ -40 dB"):
        answer = put(two, {WHAT.format(second): {"1": value}})
        (one,) = answer["judged"]["readings"]
        assert (one["side"], one["words"]) == ("not judged", "No loud setting of this coil read yet.")
        assert answer["judged"]["verdict"]["text"].startswith("nothing judged yet")
        assert two.state()["judged"] == answer["judged"]
    refused = two.client.post("/api/built/instruments", params={"wiring": two.wiring})
    assert refused.status_code == 422
    answer = put(two, {WHAT.format(second): {"1": ""}, WHAT.format(first): {"1": "+ -40 dB"}})
    assert list(sides(answer).values()) == ["held to"]
    assert answer["judged"]["verdict"]["read"] == 0, "any level is its own"
    assert WHAT.format(first) in answer["judged"]["text"], "the fault finder weighs it"
    assert (
        two.client.delete("/api/built/readings", params={"wiring": two.wiring, "step": "all"}).status_code
        == 200
    )


def test_a_reading_is_judged_by_the_band_that_the_page_shows(two: Guitar) -> None:
    first = coils_of(two)[0]
    shown = {
        one["setting"]: (point["expected"], point["band"])
        for one in two.plan["exciter"]["coils"][0]["settings"]
        for point in one["points"]
        if point["what"] == WHAT.format(first)
    }
    answer = put(two, {WHAT.format(first): {"1": "+ -40 dB", "2": "+ -45 dB"}})
    for one in answer["judged"]["readings"]:
        assert (one["expected"], one["band"]) == shown[one["setting"]]


@pytest.mark.parametrize(("joined", "silent"), [("a.start, output.tip", "b"), ("b.start, output.tip", "a")])
def test_a_coil_that_hangs_free_is_planned_as_silent(joined: str, silent: str) -> None:
    coil = joined[0]
    wiring = wiring_of(TWO_COILS, f"{joined}\n{coil}.finish, output.sleeve")
    sound = find_sound(wiring)
    by = {one["coil"]: one for one in excited_plan(wiring, sound)}
    (told,) = by[silent]["settings"]
    assert {(point["expected"], point["band"]) for point in told["points"]} == {("silent", "")}
    assert [one["expected"] for one in by[silent]["blade"]] == ["silent"]
    assert by[coil]["blade"][0]["expected"] == "+"
    rows = [(told["setting"], f"exciter {silent}", "+ -40 dB"), (told["setting"], f"blade {silent}", "+")]
    judged = judge_excited_rows(wiring, sound, rows, sides_kept=True)
    assert [one["side"] for one in judged] == ["not judged", "not judged"]


def test_signs_between_coils_count_while_the_side_is_kept(two: Guitar) -> None:
    first, second = coils_of(two)
    by_coil = {one["coil"]: one for one in two.plan["exciter"]["coils"]}
    sign = {
        coil: point["expected"][-1]
        for coil, one in by_coil.items()
        for each in one["settings"]
        for point in each["points"]
        if point["what"] == one["typed"] and point["expected"].startswith("loudest")
    }
    other = "-" if sign[second] == "+" else "+"
    read = {WHAT.format(first): {"1": f"{sign[first]} -40 dB"}, WHAT.format(second): {"3": f"{other} -43 dB"}}
    assert set(sides(put(two, read)).values()) == {"turned"}, "of two nobody knows which"
    assert set(sides(put(two, {}, sides_kept=False)).values()) == {"held to"}
    pulses = {f"blade {first}": {"1": "+"}, f"blade {second}": {"3": "-"}}
    found = sides(put(two, pulses))
    assert {side for (what, _), side in found.items() if what.startswith("blade")} == {"turned"}


def test_a_recording_becomes_levels(two: Guitar, monkeypatch: pytest.MonkeyPatch) -> None:
    def measured(content: bytes, folder: object, *, shorted: bool) -> Transfer:
        del folder
        assert shorted, "the jack may be silent"
        samples: np.ndarray = record("neck", content.decode(), 3)
        return measure_transfer(samples, RATE_HZ, "recording", shorted=shorted)

    monkeypatch.setattr(routes, "measure_recording", measured)
    coil = coils_of(two)[0]
    where = {"wiring": two.wiring, "version": two.version, "step": "exciter", "coil": coil, "name": "x.wav"}
    for at in ("1", "2"):
        answer = two.client.post(
            "/api/built/recordings", params={**where, "setting": at}, content=at.encode()
        )
        assert answer.status_code == 200, answer.text
    kept = answer.json()["fields"]["excited"]
    assert set(kept) == {f"exciter {coil} at 200 Hz", WHAT.format(coil)}
    assert kept[WHAT.format(coil)]["1"].startswith("+ -")
    wrong = two.client.post(
        "/api/built/recordings", params={**where, "coil": "nek", "setting": "1"}, content=b"1"
    )
    assert wrong.status_code == 422
    assert coil in wrong.text


def test_a_guitar_that_was_kept_is_opened_with_its_readings(
    two: Guitar, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = coils_of(two)[0]
    read = {WHAT.format(first): {"1": "+ -40 dB", "2": "- -45 dB"}, f"blade {first}": {"1": "+"}}
    put(two, read, serial="26-X", day="2026-03-12", sides_kept=False)
    kept = two.client.post("/api/built/instruments", params={"wiring": two.wiring})
    assert kept.status_code == 201, kept.text
    instrument = kept.json()
    assert {one["side"] for one in instrument["readings"]} == {"held to", "turned"}
    assert instrument["verdict"]["sides_kept"] is False
    table = two.client.get("/api/built/record.csv").text
    ratios = [one for one in csv.DictReader(io.StringIO(table[1:])) if one["what"] == WHAT.format(first)]
    assert len(ratios) == 2
    assert {one["ohm, decimal point"] for one in ratios} == {""}, "a ratio is not ohms"
    heeded: list[str] = []
    printed = BuiltWork.report

    def report(self: BuiltWork, *of: Any) -> bytes:
        heeded.extend(of[2])
        return printed(self, *of)

    monkeypatch.setattr(BuiltWork, "report", report)
    assert two.client.get(f"/api/built/instruments/{instrument['id']}/report").status_code == 200
    assert heeded[-1].startswith("Keep the 100 Ω")
    assert two.state()["fields"]["excited"] == {}
    assert two.state()["fields"]["sides_kept"] is True, "of the next guitar"
    two.client.post(f"/api/built/instruments/{instrument['id']}/open")
    assert two.state()["fields"]["excited"] == read
    assert two.state()["fields"]["sides_kept"] is False


def test_the_report_says_how_the_exciter_lay_and_what_to_heed() -> None:
    one = {"setting": "1", "what": "exciter neck at 900 Hz", "band": "", "read": "", "side": "held to"}
    of = dict.fromkeys(
        ("serial", "day", "wiring", "version_number", "signed", "title", "client", "notes"), "x"
    )
    said = [
        report_record({**of, "readings": [one], "verdict": {"text": "fine", **sides}}, {}, ())
        for sides in ({}, {"sides_kept": False})
    ]
    assert ["Exciter" in [fact["name"] for fact in each["facts"]] for each in said] == [False, True]
    assert all("about 95 %" in each["foot"] for each in said)


def test_what_was_thrown_away_comes_back(two: Guitar) -> None:
    read = {WHAT.format(coils_of(two)[0]): {"1": "+ -40 dB"}}
    put(two, read)
    two.drop("all")
    assert two.state()["fields"]["excited"] == {}
    two.client.post("/api/built/readings/back", params={"wiring": two.wiring})
    assert two.state()["fields"]["excited"] == read
