"""The record of a position: every fact under its name, in values that JSON holds."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import pytest
from places import DEMO

from dsp.circuit.resonance import Resonance, resonances
from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.record import position_record, words_of
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

NAMES = {
    "position", "label", "settings", "coils", "connection", "connection_text", "out_of_phase", "hum_db",
    "hum", "hum_cancelling", "level_db", "clean_level_db", "brightness_hz", "meter_ohm",
    "noise_volt", "resonances", "words", "nearest",
}  # fmt: skip


@cache
def twelve() -> Wiring:
    return load_wiring(DEMO / "twelve.yaml")


def facts_at(position: str, **switches: str) -> PositionFacts:
    (facts,) = position_facts(twelve(), [twelve().setting(position, {"volume": 7.0}, switches)])
    return facts


def test_a_record_has_every_fact_by_its_name() -> None:
    facts = facts_at("2")
    peaks = resonances(twelve(), facts.setting)
    record = position_record(facts, peaks=peaks, words=words_of([facts])[0])
    assert set(record) == NAMES
    assert record["settings"]["knobs"]["volume"] == 7.0
    assert record["settings"]["switches"] == dict(facts.setting.switches)
    assert record["coils"] == ["neck", "bridge"]
    (tree,) = record["connection"]
    assert [member["name"] for member in tree["members"]] == ["neck", "bridge"]
    assert record["meter_ohm"] == facts.reading_ohm
    assert record["words"] == list(words_of([facts])[0])
    assert json.loads(json.dumps(record, allow_nan=False)) == record


def test_a_coil_out_of_phase_is_named_and_marked_in_the_tree() -> None:
    facts = facts_at("2", phase="2")
    record = position_record(facts, peaks=())
    assert record["out_of_phase"] == ["bridge"]
    marks = {leaf["name"]: leaf["out_of_phase"] for leaf in record["connection"][0]["members"]}
    assert marks == {"neck": False, "bridge": True}
    assert record["connection_text"] == "neck | -bridge"


def test_resonances_begin_with_the_loudest_coil_then_go_by_level() -> None:
    facts = facts_at("2")
    assert facts.resonance is not None
    loudest = facts.resonance.coil
    peaks = [
        Resonance("low", 3000.0, 1.0, 1.0, None),
        Resonance("high", 4000.0, 5.0, 5.0, 900.0),
        replace(facts.resonance, level_db=-3.0),
    ]
    record = position_record(facts, peaks=peaks)
    assert [peak["coil"] for peak in record["resonances"]] == [loudest, "high", "low"]
    assert record["resonances"][1] == {
        "coil": "high", "frequency_hz": 4000.0, "level_db": 5.0, "height_db": 5.0, "bandwidth_hz": 900.0,
        "least_shift_hz": pytest.approx(0.079 * 4000.0 / (4000.0 / 900.0) ** 0.5),
    }  # fmt: skip


@pytest.mark.parametrize("name", ["level_db", "brightness_hz", "meter_ohm"])
def test_what_json_cannot_hold_is_none(name: str) -> None:
    facts = replace(
        facts_at("1"), coils=(), level_db=float("-inf"), reading_ohm=float("inf"), brightness_hz=0.0
    )
    assert position_record(facts, peaks=())[name] is None
