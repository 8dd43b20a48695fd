"""What carries, loads and rests, held to the solver, to the meter's view and to cases worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import random_wirings
from places import DEMO, NETWORKS

from dsp.circuit.response import respond
from dsp.drawing.sounding import CARRIES, COUPLED, HANGS, HEARD, LOADS, REST, SHORTED, find_sounding
from dsp.drawing.state_record import state_record
from dsp.facts.position import position_facts
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

FILES = [*sorted(DEMO.glob("[bt]*.yaml")), *sorted(NETWORKS.glob("*.yaml"))]
WIRINGS = [path for path in FILES if "parts:" in path.read_text()]


@pytest.mark.parametrize("path", WIRINGS, ids=lambda path: path.stem)
def test_the_solver_hears_the_coils_that_carry(path) -> None:
    wiring = load_wiring(path)
    settings = [wiring.setting(position) for position in wiring.positions]
    for setting, facts in zip(settings, position_facts(wiring, settings), strict=True):
        found = find_sounding(wiring, setting)
        heard = {name for name, state in found.coils.items() if state == HEARD}
        assert heard == set(facts.coils), setting.position


@pytest.mark.parametrize("seed", range(40))
def test_coils_of_random_wirings_are_silent_only_where_the_solver_says_so(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wiring = (random_wirings.structured if seed % 2 else random_wirings.chaotic)(rng)
    for position in wiring.positions:
        setting = wiring.setting(position)
        states = find_sounding(wiring, setting).coils
        found = respond(wiring, [setting], np.array([200.0, 3e3])).coil[0]
        for name, response in zip(wiring.coils, found, strict=True):
            # a shorted coil that is coupled still reaches the others a little
            coupled = any(name in (one.first, one.second) for one in wiring.couplings)
            if states[name] == HANGS or (states[name] == SHORTED and not coupled):
                assert np.all(response == 0.0), (position, name)


@pytest.fixture(scope="module")
def baritone() -> Wiring:
    return load_wiring(DEMO / "baritone.yaml")


def levels(wiring: Wiring, position: str, **knobs: float) -> dict[str, int]:
    found = find_sounding(wiring, wiring.setting(position, knobs))
    return {".".join(terminal): level for terminal, level in found.terminals.items()}


def test_a_volume_carries_and_a_tone_control_loads(baritone: Wiring) -> None:
    found = find_sounding(baritone, baritone.setting("1"))
    assert (found.parts["volume"], found.parts["tone"], found.parts["tone_cap"]) == (CARRIES, LOADS, LOADS)
    assert found.parts["bridge_a"] == REST
    at = levels(baritone, "1")
    assert at["volume.3"] == at["volume.2"] == at["output.tip"] == at["selector.A1"] == CARRIES
    assert at["tone.2"] == LOADS
    assert "selector.A2" not in at  # a tie hangs there, and no contact leads on


def test_split_coils_are_shorted_and_their_leads_meet(baritone: Wiring) -> None:
    states = find_sounding(baritone, baritone.setting("3")).coils
    assert states == {"neck_a": HEARD, "neck_b": SHORTED, "bridge_a": SHORTED, "bridge_b": HEARD}
    assert find_sounding(baritone, baritone.setting("6")).coils["neck_a"] == HANGS


def test_contacts_carry_between_what_carries(baritone: Wiring) -> None:
    found = find_sounding(baritone, baritone.setting("3"))
    closed = {
        f"{one.first[1]} {one.second[1]}": one.level for one in found.contacts if one.first[0] == "selector"
    }
    assert closed == {"A0 A3": CARRIES, "B0 B3": REST, "C0 C3": CARRIES, "D0 D3": CARRIES}


def test_a_volume_at_nothing_silences_everything(baritone: Wiring) -> None:
    found = find_sounding(baritone, baritone.setting("1", {"volume": 0.0}))
    assert set(found.parts.values()) == {REST}
    assert not found.terminals
    assert set(found.coils.values()) == {HANGS}


def test_half_way_both_sides_of_a_volume_matter(baritone: Wiring) -> None:
    at = levels(baritone, "1", volume=5.0)
    assert (at["volume.3"], at["volume.2"], at["volume.1"]) == (CARRIES, CARRIES, LOADS)


def test_a_coupled_coil_is_told_from_one_that_hangs() -> None:
    wiring = load_wiring(NETWORKS / "baritone_blade.yaml")
    assert find_sounding(wiring, wiring.setting("1")).coils == {
        "neck_a": HEARD, "neck_b": COUPLED, "bridge": HANGS,
    }  # fmt: skip


def test_a_transformer_carries_from_winding_to_winding() -> None:
    wiring = load_wiring(NETWORKS / "baritone_transformer.yaml")
    found = find_sounding(wiring, wiring.setting("1"))
    assert found.coils["low"] == HEARD
    assert found.parts["matching"] == CARRIES


def test_the_record_holds_json_values(baritone: Wiring) -> None:
    record = state_record(baritone, baritone.setting("3", switches={}))
    assert record["stands"] == {"selector": "3"}
    assert math.isclose(record["meter_ohm"], 2301.06, rel_tol=1e-4)
    assert record["joints"][0] == CARRIES
    assert record["joints"][2] == REST
