"""The hand's width, the planes of motion and the magnet's field, against their formulas.

Plucked over a width: a window evens out partials whose wavelength it holds (from memory, as the coil's
aperture). Two planes: two damped sines. Flux by a power of distance: the EMF is its derivative in time.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from partials import line
from scipy.signal import fftconvolve, firwin
from string_stems import LENGTH_M, MEASURED, RATE_HZ, heard, point_coil
from tolerances import COMB, COMB_NULL_DB, CURVED_PRODUCT, PARTIAL_CENT, TWIN_FACTOR

from dsp.strings import pluck
from dsp.strings.curvature import Curvature
from dsp.strings.damping import decay_rate
from dsp.strings.modes import ONE_PLANE, PLANES, Plane, partial_frequencies
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform

pytestmark = pytest.mark.reference

FLEXIBLE = replace(MEASURED, stiffness_nm2=0.0)


def levels(hand: str, numbers: np.ndarray) -> np.ndarray:
    stem = heard(Note(0, 0.0, pluck_at_m=0.0317, hand=hand), [point_coil(0.0531)], 1.2, FLEXIBLE)[0]
    hz = partial_frequencies(FLEXIBLE, numbers.astype(float), LENGTH_M)
    return np.array([line(stem, RATE_HZ, f, (0.1, 1.0), 60.0).level for f in hz])


def test_a_wide_hand_cancels_short_waves(monkeypatch: pytest.MonkeyPatch) -> None:
    """First null at n = 2 l / w, sin(x)/x before it."""
    monkeypatch.setitem(pluck.HANDS, "ideal", pluck.Hand(0.0, 0.0))
    monkeypatch.setitem(pluck.HANDS, "wide", pluck.Hand(LENGTH_M / 20.0, 0.0))
    numbers = np.array([1, 10, 20, 30, 40])
    share = levels("wide", numbers) / levels("ideal", numbers)
    law = np.abs(np.sinc(numbers / 40.0))
    np.testing.assert_allclose(share[:4], law[:4], atol=COMB)
    assert not np.allclose(share[:4], law[:4] * (1.0 + TWIN_FACTOR * COMB / law[3]), atol=COMB)
    assert share[4] < 10.0 ** (COMB_NULL_DB / 20.0)


def stem_in(planes: tuple[Plane, ...]) -> np.ndarray:
    stage = Setup([FLEXIBLE], [point_coil(0.0531)], RATE_HZ, planes=planes)
    return np.concatenate(list(perform([Note(0, 0.0, pluck_at_m=0.0317)], stage, 2 * RATE_HZ)), axis=1)[0]


def test_each_plane_has_its_pitch_and_its_share() -> None:
    """Half the sensitivity, 0.8 of the pluck, 1 % higher; both planes add up."""
    main, other = Plane(1.0, 0.0, 1.0, 0.0), Plane(0.5, np.arccos(0.8), 1.01, 0.0)
    f1 = FLEXIBLE.pitch_hz
    alone, second = stem_in((main,)), stem_in((other,))
    low = line(alone, RATE_HZ, f1, (0.1, 1.5), 60.0)
    high = line(second, RATE_HZ, 1.01 * f1, (0.1, 1.5), 60.0)
    assert abs(1200.0 * np.log2(high.hz / low.hz / 1.01)) < PARTIAL_CENT
    assert high.level / low.level == pytest.approx(0.4, abs=COMB)
    both, late = (
        stem_in((main, other)),
        RATE_HZ // 2,
    )  # by then the top partial of the lower plane alone has died away
    np.testing.assert_allclose(both[late:], (alone + second)[late:], atol=1e-5 * np.abs(both).max())


def test_a_string_moves_in_two_planes_that_beat() -> None:
    """The 20th partial of the two planes, 0.98 Hz apart, is not the straight decay of one."""
    near_hz = 20.0 * FLEXIBLE.pitch_hz
    wobbles = [
        line(stem_in(planes), RATE_HZ, near_hz, (0.1, 1.1), 60.0).wobble_db for planes in (PLANES, PLANES[:1])
    ]
    assert wobbles[0] > 10.0 * wobbles[1]
    assert wobbles[0] > 0.3
    assert len(PLANES) == 2
    assert 0.0 < abs(1200.0 * np.log2(PLANES[1].pitch / PLANES[0].pitch)) < 2.0  # one note, not two
    assert (
        PLANES[1].sensitivity < PLANES[0].sensitivity
    )  # Pate, Le Carrou, Fabre 2014: out of plane far stronger
    assert PLANES[1].conductance_s_kg < PLANES[0].conductance_s_kg


@pytest.mark.parametrize("power", [1.0, 2.0, 3.5])
def test_the_magnets_curvature_is_the_slope_of_its_flux(power: float) -> None:
    """Flux (d - z)^-p for a displacement z towards the coil, differentiated numerically."""
    curve = Curvature(0.008, power)
    z = np.linspace(-0.002, 0.002, 9)

    def flux(at: np.ndarray) -> np.ndarray:
        return (curve.distance_m - at) ** -power

    step = 1e-8
    law = (flux(z) - flux(np.array(0.0))) / (flux(np.array(step)) - flux(np.array(-step))) * 2.0 * step
    found = z + curve.bent_flux(z.astype(np.float32))
    np.testing.assert_allclose(found, law, atol=1e-8)
    assert not np.allclose(found, law * 1.01, atol=1e-8)


def second_harmonic_db(curve: Curvature, swing_m: float) -> float:
    """Return the second harmonic of a sine's EMF re the first."""
    turns = 2.0 * np.pi * np.arange(512) / 512
    z = swing_m * np.cos(turns)
    lines = np.arange(512 // 2 + 1) * np.abs(np.fft.rfft(z + curve.bent_flux(z.astype(np.float32))))
    return float(20.0 * np.log10(lines[2] / lines[1]))


def test_distortion_is_set_by_the_swing_and_weakly_by_the_height_of_the_magnet() -> None:
    """Published (JAES 65(9):711, 2017, abstract): mostly by amplitude, only weakly by distance at rest."""
    curve, swing_m, near_m, far_m = Curvature(), 0.2e-3, 2e-3, 4e-3

    def by_swing_db(law: Curvature) -> float:
        return second_harmonic_db(law, 2.0 * swing_m) - second_harmonic_db(law, swing_m)

    def by_distance_db(law: Curvature, rest_m: float) -> float:
        lowered = replace(law, distance_m=law.distance_m + far_m - rest_m)
        raised = replace(law, distance_m=law.distance_m + near_m - rest_m)
        return second_harmonic_db(raised, swing_m) - second_harmonic_db(lowered, swing_m)

    assert by_swing_db(curve) == pytest.approx(6.0, abs=0.3)
    weak_db = by_distance_db(curve, 3.5e-3)  # the pole that the law stands for lies so far below
    assert 0.0 < weak_db < by_swing_db(curve) / 3.0
    refused = Curvature(3.5e-3, 2.0)  # of the distance itself: distortion as swing over distance
    assert by_distance_db(refused, 3.5e-3) > by_swing_db(refused) / 2.0


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_the_emf_is_the_slope_of_the_flux(rate_hz: int) -> None:
    """One partial over the coil: the EMF is minus the flux's derivative, here by its formula."""
    curve, coil = Curvature(), point_coil(0.0531)
    note = Note(0, 0.0, force=0.3, pluck_at_m=0.0317, harmonic=1)
    stages = [Setup([FLEXIBLE], [coil], rate_hz, c, planes=ONE_PLANE) for c in (None, curve)]
    straight, bent = (np.concatenate(list(perform([note], s, rate_hz // 4)), axis=1)[0] for s in stages)
    time_s = np.arange(rate_hz // 4) / rate_hz
    numbers = np.arange(1.0, 200.0)
    hz = partial_frequencies(FLEXIBLE, numbers, LENGTH_M)
    belly = pluck.pluck_velocity(
        FLEXIBLE, numbers, hz, length_m=LENGTH_M, at_m=0.0317, force=0.3, hand="pick"
    ) * np.sin(numbers * np.pi * 0.0531 / LENGTH_M)
    z = (belly / (2 * np.pi * hz)) @ (
        np.exp(-np.outer(decay_rate(FLEXIBLE, hz), time_s)) * np.cos(2 * np.pi * np.outer(hz, time_s))
    )
    law = straight * (1.0 - z / curve.distance_m) ** -(curve.power + 1.0)
    late = slice(rate_hz // 50, -512)
    scale = np.max(np.abs(law[late] - straight[late]))
    assert scale > 0.03 * np.max(np.abs(straight[late]))
    low = firwin(511, 3000.0, fs=rate_hz)  # the products of the highest partials are left out
    off = fftconvolve(law - bent, low, mode="same")[late]
    assert np.max(np.abs(off)) < CURVED_PRODUCT * scale
    assert np.max(np.abs(fftconvolve(law - straight, low, mode="same")[late])) > 10 * CURVED_PRODUCT * scale
