"""The demo's tenor guitar keeps its promise: a tone knob that leads evenly to a thin, clear voice."""

from __future__ import annotations

import pytest
from places import DEMO

from dsp.facts.findings.check import check
from dsp.facts.position import position_facts
from dsp.knobs.travel import compute_travel
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring


@pytest.fixture(scope="module")
def tenor() -> Wiring:
    return load_wiring(DEMO / "tenor.yaml")


@pytest.mark.parametrize("position", ["3", "4"])
def test_the_tone_leads_evenly_to_a_thin_voice(tenor: Wiring, position: str) -> None:
    travel = compute_travel(tenor, tenor.setting(position), "tone")
    assert travel.width_db > 3.5
    assert travel.evenness > 0.8
    thin, whole = (
        position_facts(tenor, [tenor.setting(position, {"tone": value})])[0] for value in (0.0, 10.0)
    )
    assert thin.resonance is not None
    assert whole.resonance is not None
    assert thin.resonance.frequency_hz > 1.25 * whole.resonance.frequency_hz


@pytest.mark.parametrize("position", ["1", "2", "5"])
def test_elsewhere_the_tone_is_the_usual_one(tenor: Wiring, position: str) -> None:
    """All of the second track is bridged there: another value of its capacitor changes nothing."""
    travel = compute_travel(tenor, tenor.setting(position), "tone")
    assert travel.width_db > 10.0
    dark = position_facts(tenor, [tenor.setting(position, {"tone": 0.0})])[0]
    assert dark.resonance is not None
    assert dark.resonance.frequency_hz < 1000.0


def test_one_coil_with_the_neck_and_both_coils_cancel_hum_and_nothing_is_amiss(tenor: Wiring) -> None:
    facts = position_facts(tenor, [tenor.setting(position) for position in tenor.positions])
    assert [one.hum_residual_db <= -15.0 for one in facts] == [False, False, True, False, True]
    levels = [one.level_db for one in facts]
    assert max(levels) - min(levels) < 6.0
    assert {finding.severity for finding in check(tenor)} == {"note"}
