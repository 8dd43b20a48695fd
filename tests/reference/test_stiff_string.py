"""Weight, tension, stiffness and partials of strings against published laws and values.

Measured string: C. Issanchou et al., J. Sound Vib. 393 (2017) 229-251, values read in the published
companion code. Stiff partials: H. Fletcher, J. Acoust. Soc. Am. 36 (1964), f_n = n f0 sqrt(1 + B n^2) and
B = pi^3 E d^4 / (64 T L^2). Tension: T = mu (2 L f)^2. Unit weights of plain steel by gauge: a chart
copied in public code (its density comes out at 7806-7810 kg/m3); the arithmetic from it is ours.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from partials import line
from string_stems import LENGTH_M, MEASURED, MEASURED_B, RATE_HZ, TENSION_N, heard, point_coil
from tolerances import (
    CHART_WEIGHT,
    MEASURED_STIFFNESS,
    NICKEL_WEIGHT,
    PARTIAL_CENT,
    STRING_PITCH,
    WOUND_WEIGHT,
)

from dsp.parts.instrument import GuitarString, pitch_hz
from dsp.strings.note import Note
from dsp.strings.tuned import core_diameter, tension_warnings, tune, unit_weight

pytestmark = pytest.mark.reference

INCH_M, POUND_N, LB_IN_KG_M = 0.0254, 4.4482216, 17.858
SCALE_M = 25.5 * INCH_M


BASS_M = 0.864
BASS = (("E1", 0.105, 1.9840e-3), ("A1", 0.085, 1.3370e-3), ("D2", 0.065, 7.957e-4), ("G2", 0.045, 3.724e-4))
"""Note, gauge in inches, and a string maker's published unit weight, lb/in."""


def plain(note: str, gauge_in: float) -> GuitarString:
    return GuitarString(pitch_hz(note), gauge_in * INCH_M, False, note)


def test_pitch_of_the_measured_string() -> None:
    assert MEASURED.pitch_hz == pytest.approx(195.996, rel=STRING_PITCH)


def test_stiffness_by_formula_against_the_measurement() -> None:
    """B from E = 200 GPa is 1.83e-5, 7 % below the measured 1.97e-5, as the source finds."""
    steel = tune(GuitarString(195.996, 0.43e-3), LENGTH_M)
    by_formula = math.pi**3 * 200e9 * 0.43e-3**4 / (64.0 * TENSION_N * LENGTH_M**2)
    ours = steel.inharmonicity(LENGTH_M) * steel.tension_n / TENSION_N
    assert ours == pytest.approx(by_formula, rel=1e-12)
    assert ours == pytest.approx(1.83e-5, rel=2e-3)
    assert ours == pytest.approx(MEASURED_B, rel=MEASURED_STIFFNESS)
    assert ours / 200.0 * 215.5 == pytest.approx(MEASURED_B, rel=2e-3)


@pytest.mark.parametrize(
    ("note", "gauge_in", "pounds", "stiff_205"),
    [("E4", 0.009, 13.14, 1.10e-5), ("E4", 0.010, 16.21, 1.36e-5), ("B3", 0.013, 15.38, 4.09e-5)],
)
def test_tension_chart(note: str, gauge_in: float, pounds: float, stiff_205: float) -> None:
    """Pounds of tension at 25.5 in from the chart's unit weights; B for E = 205 GPa."""
    string = tune(plain(note, gauge_in), SCALE_M)
    assert string.tension_n / POUND_N == pytest.approx(pounds, rel=CHART_WEIGHT)
    assert string.inharmonicity(SCALE_M) * 205.0 / 200.0 == pytest.approx(stiff_205, rel=CHART_WEIGHT)
    assert string.tension_n / POUND_N != pytest.approx(pounds * 1.025, rel=CHART_WEIGHT)


@pytest.mark.parametrize(
    ("gauge_in", "lb_in"),
    [(0.009, 1.795e-5), (0.010, 2.215e-5), (0.011, 2.680e-5), (0.012, 3.189e-5), (0.013, 3.744e-5)],
)
def test_unit_weight_of_plain_steel(gauge_in: float, lb_in: float) -> None:
    string = GuitarString(100.0, gauge_in * INCH_M)
    assert unit_weight(string, SCALE_M) == pytest.approx(lb_in * LB_IN_KG_M, rel=CHART_WEIGHT)


NICKEL_PLATED = {
    0.017: 0.9865, 0.024: 1.939, 0.026: 2.263, 0.028: 2.619, 0.032: 3.455, 0.036: 4.280, 0.038: 4.727,
    0.042: 5.764, 0.046: 6.825, 0.049: 7.681, 0.052: 8.591, 0.059: 11.46, 0.062: 12.63,
}  # fmt: skip
"""Grams per metre by inches, a maker's list as an open repository copies it; so are the next two."""
STAINLESS = {0.026: 2.396, 0.036: 4.500, 0.046: 7.160}
PURE_NICKEL = {0.026: 2.729, 0.036: 4.975, 0.046: 7.865}
"""Another maker's."""


@pytest.mark.parametrize(
    ("wrap", "inch", "grams", "within"),
    [("nickel-plated steel", i, g, WOUND_WEIGHT) for i, g in NICKEL_PLATED.items()]
    + [("stainless steel", i, g, WOUND_WEIGHT) for i, g in STAINLESS.items()]
    + [("pure nickel", i, g, NICKEL_WEIGHT) for i, g in PURE_NICKEL.items()],
)
def test_unit_weight_of_wound_strings(wrap: str, inch: float, grams: float, within: float) -> None:
    string = GuitarString(100.0, inch * INCH_M, True, wrap=wrap)
    found = 1e3 * unit_weight(string, SCALE_M)
    assert found == pytest.approx(grams, rel=within)
    assert found * (1.0 + 2.2 * within) != pytest.approx(grams, rel=within)


@pytest.mark.parametrize(("inch", "lb_in"), [(inch, lb_in) for _, inch, lb_in in BASS] + [(0.130, 3.0194e-3)])
def test_unit_weight_of_bass_strings(inch: float, lb_in: float) -> None:
    found = unit_weight(GuitarString(100.0, inch * INCH_M, True), BASS_M)
    assert found == pytest.approx(lb_in * LB_IN_KG_M, rel=WOUND_WEIGHT)


def test_stiffness_of_a_low_bass_string() -> None:
    """Partial 10 of a B0 is some 100 cents sharp at fret 12 (Kemp 2020): B of the open string 3.0e-4."""
    string = tune(GuitarString(pitch_hz("B0"), 0.130 * INCH_M, True), BASS_M)
    assert string.inharmonicity(BASS_M) == pytest.approx(3.0e-4, rel=0.1)
    half = string.inharmonicity(BASS_M / 2.0)
    assert 600.0 * math.log2((1.0 + 100.0 * half) / (1.0 + half)) == pytest.approx(100.0, rel=0.1)


def test_a_core_that_is_stated() -> None:
    usual = GuitarString(pitch_hz("E2"), 0.046 * INCH_M, True)
    thin = tune(replace(usual, core_m=0.38e-3), SCALE_M)
    law = math.pi**3 * 200e9 * 0.38e-3**4 / (64.0 * thin.tension_n * SCALE_M**2)
    assert thin.inharmonicity(SCALE_M) == pytest.approx(law, rel=1e-9)
    assert core_diameter(usual, SCALE_M) == pytest.approx(0.29e-3 + 0.12 * usual.gauge_m)
    assert thin.stretch_n == pytest.approx(200e9 * math.pi * 0.38e-3**2 / 4.0)


def test_core_of_the_published_wound_string() -> None:
    """Outer 1.14 mm, L 0.863 m, T 191.6 N, B 3.5e-5 (Issanchou et al., bass case)."""
    string = tune(GuitarString(100.0, 1.14e-3, True), 0.863)
    stiff = math.pi**2 * string.stiffness_nm2 / (191.6 * 0.863**2)
    assert stiff == pytest.approx(3.5e-5, rel=MEASURED_STIFFNESS)


def test_partials_of_rendered_audio() -> None:
    """Every partial of the measured string to the 40th, in the samples, against Fletcher's law."""
    samples = heard(Note(0, 0.0, pluck_at_m=0.031), [point_coil(0.0173)], 1.2)[0]
    numbers = np.arange(1, 41)
    law_hz = numbers * 195.996337 * np.sqrt(1.0 + MEASURED_B * numbers**2)
    found_hz = np.array([line(samples, RATE_HZ, hz, (0.1, 0.6), 60.0).hz for hz in law_hz])
    assert np.max(np.abs(cents(found_hz, law_hz))) < PARTIAL_CENT
    mistaken_hz = numbers * 195.996337 * np.sqrt(1.0 + MEASURED_B * numbers)
    assert np.max(np.abs(cents(found_hz, mistaken_hz))) > 20.0 * PARTIAL_CENT
    softer_hz = numbers * 195.996337 * np.sqrt(1.0 + 0.98 * MEASURED_B * numbers**2)
    assert np.max(np.abs(cents(found_hz, softer_hz))) > PARTIAL_CENT


def test_stiffness_of_a_fretted_string() -> None:
    """At fret 12 half the length is left: four times B, twice the pitch."""
    samples = heard(Note(0, 0.0, fret=12, pluck_at_m=0.031), [point_coil(0.0173)], 1.2)[0]
    numbers = np.arange(1, 21)
    law_hz = numbers * 2.0 * 195.996337 * np.sqrt(1.0 + 4.0 * MEASURED_B * numbers**2)
    found_hz = np.array([line(samples, RATE_HZ, hz, (0.1, 0.6), 60.0).hz for hz in law_hz])
    assert np.max(np.abs(cents(found_hz, law_hz))) < PARTIAL_CENT


def cents(found_hz: np.ndarray, law_hz: np.ndarray) -> np.ndarray:
    return 1200.0 * np.log2(found_hz / law_hz)


def test_impossible_tensions_are_reported() -> None:
    good = (plain("B3", 0.013), plain("E4", 0.010))
    assert tension_warnings(good, SCALE_M) == ()
    (broken,) = tension_warnings((plain("A4", 0.010), plain("E4", 0.010)), 0.75)
    assert broken.startswith("string 2 (A4, 0.25 mm)")
    assert "break" in broken
    (slack,) = tension_warnings((plain("E3", 0.010),), SCALE_M)
    assert "slack" in slack
    (hard,) = tension_warnings((GuitarString(pitch_hz("E2"), 0.075 * INCH_M, True),), SCALE_M)
    assert "more than the usual limit" in hard


def test_an_ordinary_bass_set_is_no_problem() -> None:
    """Its published weights put every string within the limit; so do ours."""
    strings = tuple(GuitarString(pitch_hz(note), inch * INCH_M, True) for note, inch, _ in BASS)
    for string, (note, _, weight) in zip(strings, BASS, strict=True):
        published_n = weight * LB_IN_KG_M * (2.0 * BASS_M * pitch_hz(note)) ** 2
        assert 150.0 < published_n < 300.0, note
        assert tune(string, BASS_M).tension_n == pytest.approx(published_n, rel=WOUND_WEIGHT), note
    low = GuitarString(pitch_hz("B0"), 0.130 * INCH_M, True)
    assert tension_warnings((low, *strings), BASS_M) == ()
    (hard,) = tension_warnings((GuitarString(pitch_hz("A1"), 0.105 * INCH_M, True),), BASS_M)
    assert "usual limit of a bass (300 N)" in hard


def test_the_core_of_a_wound_string_bears_the_tension_alone() -> None:
    """588 N in a core of 0.434 mm, 0.148 mm², are 3,980 N/mm²; in the whole string 520."""
    wound = GuitarString(pitch_hz("A3"), 1.2e-3, True)
    assert 580.0 < tune(wound, SCALE_M).tension_n < 596.0
    (broken,) = tension_warnings((wound,), SCALE_M)
    assert "breaks near 2600" in broken
