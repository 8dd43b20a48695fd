"""Decay of partials against the published loss law and its worked times.

C. Issanchou et al., J. Sound Vib. 393 (2017) 229-251, eq. 12, values read in the published companion
code; the times were worked from them by hand for partials 1, 2, 5, 10, 20, 40 of the plain string.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from partials import line
from string_stems import MEASURED, RATE_HZ, heard, point_coil
from tolerances import DECAY_RENDERED, DECAY_WORKED_S, TWIN_FACTOR

from dsp.strings.damping import decay_rate, end_rate
from dsp.strings.modes import partial_frequencies
from dsp.strings.note import Note
from dsp.strings.tuned import Loss, TunedString

pytestmark = pytest.mark.reference

WORKED_T60_S = {1: 22.53, 2: 14.18, 5: 7.06, 10: 3.89, 20: 1.92, 40: 0.72}


@pytest.mark.parametrize(("number", "t60_s"), WORKED_T60_S.items())
def test_law_against_the_worked_times(number: int, t60_s: float) -> None:
    hz = partial_frequencies(MEASURED, np.array([float(number)]), MEASURED.length_m)
    found = math.log(1000.0) / decay_rate(MEASURED, hz)[0]
    assert found == pytest.approx(t60_s, rel=0.0, abs=DECAY_WORKED_S)
    assert found * 1.02 != pytest.approx(t60_s, rel=0.0, abs=DECAY_WORKED_S)


@pytest.mark.parametrize(("number", "t60_s"), WORKED_T60_S.items())
def test_rendered_audio_decays_as_worked_out(number: int, t60_s: float) -> None:
    samples = heard(Note(0, 0.0, pluck_at_m=0.031), [point_coil(0.0173)], 3.0)[0]
    hz = float(partial_frequencies(MEASURED, np.array([float(number)]), MEASURED.length_m)[0])
    found = line(samples, RATE_HZ, hz, (0.1, min(2.5, t60_s)), 60.0)
    assert found.t60_s == pytest.approx(t60_s, rel=DECAY_RENDERED)
    assert found.t60_s != pytest.approx(t60_s * (1.0 + TWIN_FACTOR * DECAY_RENDERED), rel=DECAY_RENDERED)


def test_wound_string_by_the_same_law() -> None:
    """The published wound string: bending loss 0.01, 1/Q_te 6e-6, worked out term by term."""
    weight, tension, length_m, stiff = 6.69e-3, 191.6, 0.863, 3.5e-5
    string = TunedString(
        length_m, 1.14e-3, weight, tension, stiff * tension * length_m**2 / math.pi**2, Loss(0.01, 6e-6)
    )
    hz = 98.0
    air = 2.0 * math.pi * 1.8e-5 + 2.0 * math.pi * 1.14e-3 * math.sqrt(math.pi * 1.8e-5 * 1.2 * hz)
    by_bending = 4.0 * length_m**2 * stiff * weight * 0.01 * hz**2 / tension
    worked = math.pi * hz * (air / (2.0 * math.pi * weight * hz) + by_bending + 6e-6)
    assert decay_rate(string, np.array([hz]))[0] == pytest.approx(worked, rel=1e-9)


def test_a_giving_end_takes_2_z_g_of_each_round_trip() -> None:
    """Reflection at a conductance G: (1/G - Z) / (1/G + Z), from any text on transmission lines."""
    conductance = 1e-3
    z = MEASURED.impedance_kg_s
    reflected = (1.0 / conductance - z) / (1.0 / conductance + z)
    per_s = -math.log(reflected) * MEASURED.pitch_hz
    assert float(end_rate(MEASURED, MEASURED.pitch_hz, conductance)) == pytest.approx(per_s, rel=1e-5)
