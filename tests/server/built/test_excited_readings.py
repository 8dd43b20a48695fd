"""An exciter's and a blade's readings at a finished guitar: typed or recorded, judged, kept, opened again."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from exciter_rig import record
from fastapi.testclient import TestClient
from finished_guitar import Guitar
from rig import RATE_HZ

from dsp.measuring.transfer import Transfer, measure_transfer
from server.built import routes

WHAT = "exciter {} at 900 Hz"


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
    assert set(sides(answer).values()) == {"within"}, answer["judged"]["readings"]
    assert answer["judged"]["verdict"]["text"].endswith("read")
    answer = put(two, {WHAT.format(first): {"2": "- -45 dB"}})
    assert sides(answer)[WHAT.format(first), "2"] == "turned"
    assert sides(answer)[WHAT.format(first), "1"] == "within", "what was not sent stays"
    assert answer["judged"]["verdict"]["outside"] == 1
    assert f"2;{WHAT.format(first)};- -45 dB" in answer["judged"]["text"]
    answer = put(two, {WHAT.format(first): {"2": ""}, WHAT.format(second): {"3": "loud"}})
    assert (WHAT.format(first), "2") not in sides(answer)
    assert sides(answer)[WHAT.format(second), "3"] in ("problem", "unplanned")


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
    assert set(sides(put(two, {}, sides_kept=False)).values()) == {"within"}
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


def test_a_guitar_that_was_kept_is_opened_with_its_readings(two: Guitar) -> None:
    first = coils_of(two)[0]
    read = {WHAT.format(first): {"1": "+ -40 dB", "2": "- -45 dB"}, f"blade {first}": {"1": "+"}}
    put(two, read, serial="26-X", day="2026-03-12")
    kept = two.client.post("/api/built/instruments", params={"wiring": two.wiring})
    assert kept.status_code == 201, kept.text
    instrument = kept.json()
    assert {one["side"] for one in instrument["readings"]} == {"within", "turned"}
    table = two.client.get("/api/built/record.csv").text
    assert WHAT.format(first) in table
    assert two.client.get(f"/api/built/instruments/{instrument['id']}/report").status_code == 200
    assert two.state()["fields"]["excited"] == {}
    two.client.post(f"/api/built/instruments/{instrument['id']}/open")
    assert two.state()["fields"]["excited"] == read


def test_what_was_thrown_away_comes_back(two: Guitar) -> None:
    read = {WHAT.format(coils_of(two)[0]): {"1": "+ -40 dB"}}
    put(two, read)
    two.drop("all")
    assert two.state()["fields"]["excited"] == {}
    two.client.post("/api/built/readings/back", params={"wiring": two.wiring})
    assert two.state()["fields"]["excited"] == read
