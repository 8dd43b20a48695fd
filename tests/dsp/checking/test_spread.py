"""Instruments built alike, held to wiring files of them computed the usual way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from places import DEMO

from dsp.checking.directions import CABLE, draw_steps, make_copies
from dsp.checking.points import find_settings
from dsp.checking.spread import _listen, find_spread
from dsp.circuit.resonance import resonances
from dsp.sound.spectra import band_energy
from dsp.sound.timbre import ear_bands, timbre, timbre_distance
from server.measurements.ends import write_ends
from server.wirings.text import load_wiring

SHARES_WITHIN = 0.10
"""The study's bar: shares by one step to either side against draws."""


@pytest.mark.parametrize("name", ["baritone", "twelve"])
def test_the_two_ends_as_files_are_as_far_apart(name: str, tmp_path: Path) -> None:
    """Of two instruments the ends are the two: their files differ by what was told."""
    file = DEMO / f"{name}.yaml"
    wiring = load_wiring(file)
    plain = [wiring.setting(position) for position in wiring.positions]
    half = [wiring.setting(wiring.positions[0], {"tone": 5.0})]
    found = find_spread(wiring, [*plain, *half], 2)
    ends = [load_wiring(path) for path in write_ends(tmp_path, file, wiring, found)]
    energy = [band_energy(one, [*plain, *half], ear_bands()) for one in ends]
    apart = timbre_distance(timbre(energy[0]), timbre(energy[1]))
    told = np.array([one.farthest_db for one in found.settings])
    # Spectra of the file's own strings stand in for each: coils lie where they lay.
    assert told[: len(plain)] == pytest.approx(apart[: len(plain)], abs=0.005)
    assert told[-1] == pytest.approx(apart[-1], abs=0.15)  # its taper is bent, not turned
    assert told.max() > 0.05


def test_resonances_are_those_of_the_solver(tmp_path: Path) -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    setting = wiring.setting("1")
    found = find_spread(wiring, [setting], 40)
    (peak,) = resonances(wiring, setting, coils=["neck"])
    assert found.settings[0].resonance_hz == pytest.approx(peak.frequency_hz, rel=0.02)
    assert 0.2 < found.settings[0].semitones < 1.0


def test_the_cable_differs_most() -> None:
    """The study: 77 to 83 % with the knobs up."""
    wiring = load_wiring(DEMO / "baritone.yaml")
    plain = [wiring.setting(position) for position in wiring.positions]
    with_cable = find_spread(wiring, plain, 30, cable=0.2)
    first = with_cable.shares[0]
    assert first.part == CABLE
    assert 0.7 < first.share < 0.9
    assert first.gain > 3 * max(one.gain for one in with_cable.shares[1:])
    alone = find_spread(wiring, plain, 30)
    assert CABLE not in {one.part for one in alone.shares}
    assert with_cable.settings[0].semitones > 1.5 * alone.settings[0].semitones


def test_shares_agree_with_draws() -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")
    settings = [wiring.setting(position) for position in ("1", "4", "6")]
    found = find_spread(wiring, settings, 2, cable=0.2)
    told = {one.part: one.share for one in found.shares}
    drawn: dict[str, float] = {}
    for part in told:
        own = np.array([one.part == part for one in found.directions])
        steps = draw_steps(60, len(own), 5) * own
        vectors = _listen(wiring, settings, make_copies(wiring, found.directions, steps)).timbre
        drawn[part] = float(vectors.var(axis=1).mean())
    whole = sum(drawn.values())
    assert all(abs(told[part] - drawn[part] / whole) < SHARES_WITHIN for part in told)
    assert abs(told[CABLE] / 1.5 - drawn[CABLE] / whole) > SHARES_WITHIN, "the twin"


def test_a_silent_setting_is_left_out() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    found = find_spread(wiring, find_settings(wiring), 3)
    assert len(found.settings) == len(find_settings(wiring)) - 1  # volume at 0
