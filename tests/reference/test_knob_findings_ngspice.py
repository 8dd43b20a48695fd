"""What ngspice says of a knob at 0, 5 and 10, beside the findings on that knob.

The network is our own: one volume shorts the jack for both coils, one does not, a position bridges
the tone's capacitor, and a pot has both ends at the same capacitor.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from reference.spice import runner
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting
from ruamel.yaml import YAML
from small_wirings import read

from dsp.facts.findings.check import check
from dsp.facts.findings.states import LOOK_HZ
from dsp.facts.findings.table import ALONE_DB

pytestmark = pytest.mark.reference

TEXT = """
format: 1
name: Three faults
parts:
  neck: {kind: coil, resistance: 5.9 kΩ, inductance: 2.2 H, capacitance: 105 pF}
  bridge: {kind: coil, resistance: 7.2 kΩ, inductance: 3.9 H, capacitance: 95 pF}
  neck_volume: {kind: pot, resistance: 500 kΩ, taper: audio}
  bridge_volume: {kind: pot, resistance: 500 kΩ, taper: linear}
  tone: {kind: pot, resistance: 250 kΩ, taper: linear}
  tone_cap: {kind: capacitor, capacitance: 22 nF}
  shade: {kind: pot, resistance: 250 kΩ, taper: linear}
  shade_cap: {kind: capacitor, capacitance: 10 nF}
  selector:
    kind: switch
    lugs: [H, N, B, C, G]
    contacts: {1: [[H, N]], 2: [[H, N, B]], 3: [[H, B]], 4: [[H, B], [C, G]]}
  output: {kind: jack}
joints:
  - [neck.start, neck_volume.3]
  - [neck_volume.2, selector.N]
  - [bridge.start, bridge_volume.2]
  - [bridge_volume.3, selector.B]
  - [selector.H, tone.2, shade.2, output.tip]
  - [tone.1, tone_cap.a, selector.C]
  - [shade.1, shade.3, shade_cap.a]
  - [neck.finish, bridge.finish, neck_volume.1, bridge_volume.1, selector.G, output.sleeve]
  - [tone_cap.b, shade_cap.b, output.sleeve]
load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""
COILS = ("neck", "bridge")
KNOBS = ("neck_volume", "bridge_volume", "tone", "shade")
Answers = Mapping[tuple[str, int, float], np.ndarray]
"""A knob, a position and its value; the others stand at 10. Responses, shape (n_coils, n_freqs)."""


@pytest.fixture(scope="module")
def answers() -> Answers:
    wiring: dict[str, Any] = YAML(typ="safe", pure=True).load(TEXT)
    asked = [
        (knob, position, value) for knob in KNOBS for position in (1, 2, 3, 4) for value in (0.0, 5.0, 10.0)
    ]
    jobs = [
        runner.Job(netlist(wiring, Setting(position, {knob: value})), tuple(map(emf, COILS)))
        for knob, position, value in asked
    ]
    found = [np.array([one.voltage[emf(coil)] for coil in COILS]) for one in runner.run(jobs)]
    return dict(zip(asked, found, strict=True))


def _left_db(answers: Answers, knob: str, position: int) -> np.ndarray:
    """Level of each coil's loudest frequency with the knob at 0, re 10."""
    low, high = (np.abs(answers[knob, position, value]).max(axis=1) for value in (0.0, 10.0))
    return 20.0 * np.log10(np.maximum(low, 1e-9) / np.maximum(high, 1e-9))


def test_the_findings_on_the_network() -> None:
    found = {(one.finding, one.lugs[0], one.positions, one.detail) for one in check(read(TEXT)) if one.lugs}
    knobs = {one for one in found if one[1] in KNOBS}
    assert knobs == {
        ("other coils silenced", "neck_volume", ("2",), "at 0 it silences bridge too"),
        ("position silenced by a knob", "tone", ("4",), "at 0"),
        ("both ends of a knob alike", "shade", ("1", "2", "3", "4"), "at 0 and at 10"),
        ("knob of other coils", "neck_volume", ("3", "4"), ""),
        ("knob of other coils", "bridge_volume", ("1",), ""),
        ("volume independent", "bridge_volume", ("2",), "neck up to 2.9 dB louder"),
    }


def test_one_volume_at_0_shorts_the_jack_for_the_other_coil(answers: Answers) -> None:
    assert np.all(_left_db(answers, "neck_volume", 2) < -60.0)
    neck, bridge = _left_db(answers, "bridge_volume", 2)
    assert bridge < -60.0
    assert neck > -6.0


def _level(response: np.ndarray) -> float:
    """Root mean square at the frequencies that the findings look at, between ngspice's own."""
    at = np.interp(np.log(LOOK_HZ), np.log(np.geomspace(20.0, 20_000.0, response.size)), np.abs(response))
    return float(np.sqrt(np.mean(at**2)))


def test_the_bridge_volume_makes_the_other_coil_louder_alone(answers: Answers) -> None:
    low, middle, high = (_level(answers["bridge_volume", 2, value][0]) for value in (0.0, 5.0, 10.0))
    assert 20.0 * np.log10(max(low, middle) / high) == pytest.approx(2.9, abs=0.1)
    assert 20.0 * np.log10(min(low, middle) / high) > -ALONE_DB


def test_a_volume_does_nothing_where_its_coil_is_not_heard(answers: Answers) -> None:
    for knob, position, other in (("neck_volume", 3, 1), ("bridge_volume", 1, 0)):
        low, high = (answers[knob, position, value][other] for value in (0.0, 10.0))
        assert np.max(np.abs(high - low)) < 1e-6 * np.max(np.abs(high))


def test_the_tone_silences_only_where_its_capacitor_is_bridged(answers: Answers) -> None:
    assert _left_db(answers, "tone", 4)[1] < -60.0
    assert _left_db(answers, "tone", 3)[1] > -20.0


def test_the_pot_with_both_ends_at_one_place_does_the_same_at_0_and_10(answers: Answers) -> None:
    for position in (1, 2, 3, 4):
        low, middle, high = (answers["shade", position, value] for value in (0.0, 5.0, 10.0))
        assert np.max(np.abs(high - low)) < 1e-6 * np.max(np.abs(high))
        assert np.max(np.abs(high - middle)) > 0.1 * np.max(np.abs(high))
