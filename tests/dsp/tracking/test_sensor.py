"""One sensor's signal turned into that of coils: closed forms and limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tolerances import COMB_EXACT, FORMULA

from dsp.parts.coil import Coil
from dsp.tracking.places import Place
from dsp.tracking.sensor import MOST_BOOST_DB, Sensor, electrical_ratio, place_ratio, same_places

FREQS_HZ = np.fft.rfftfreq(4096, 1.0 / 8000)
FREQS_HZ[0] = 0.01
NECK = Coil(4e3, 2.0, 8e-11, at_m=0.17, sensitivity=1.0)
BRIDGE = Coil(5e3, 3.0, 8e-11, at_m=0.04, winding=-1, sensitivity=2.0)
PLACE = Place(0, 0.6, 110.0, 8e-5)
RNG = np.random.default_rng(3)


def lowpass(corner_hz: float, gain: float = 1.0) -> np.ndarray:
    return gain / (1.0 + 1j * FREQS_HZ / corner_hz)


def through(sensor: Sensor, filters: np.ndarray) -> np.ndarray:
    """Return the recording through its own wiring, re itself."""
    assert sensor.responses is not None
    return np.sum(sensor.responses * filters, axis=0)


@pytest.mark.parametrize("place", [PLACE, replace(PLACE, length_m=0.17 * 4), None])
@pytest.mark.parametrize("share", [1.0, 0.3, -1.0])
def test_a_recording_comes_back_through_its_own_wiring(place: Place | None, share: float) -> None:
    """Even partials that the comb removes (every fourth at the second place), in and out of phase."""
    sensor = Sensor(FREQS_HZ, (NECK, BRIDGE), np.array([lowpass(2000.0), lowpass(1500.0, share)]))
    coils = [NECK, BRIDGE]
    filters = electrical_ratio(sensor, coils) if place is None else place_ratio(sensor, coils, place)
    np.testing.assert_allclose(through(sensor, filters), 1.0, atol=FORMULA)
    assert np.max(np.abs(through(sensor, 1.0001 * filters) - 1.0)) > FORMULA  # the twin


def test_one_coil_alone_is_divided_by_its_response() -> None:
    sensor = Sensor(FREQS_HZ, (BRIDGE,), lowpass(1500.0)[None])
    for filters in (electrical_ratio(sensor, [BRIDGE]), place_ratio(sensor, [BRIDGE], PLACE)):
        np.testing.assert_allclose(filters[0], 1.0 / lowpass(1500.0), rtol=FORMULA)


def test_partials_get_the_ratio_of_both_places() -> None:
    """sin(n pi x / l) of one coil over the other's, where the source senses the partial well."""
    place = replace(PLACE, stiffness=0.0, pitch_hz=125.0)  # partials on the grid of frequencies
    sensor = Sensor(FREQS_HZ, (BRIDGE,), lowpass(1500.0)[None])
    filters = place_ratio(sensor, [NECK], place)[0] * lowpass(1500.0)
    numbers = np.arange(1, 14)
    got = filters[np.round(numbers * 125.0 / FREQS_HZ[1]).astype(int)]
    shares = {
        coil.at_m: np.sin(numbers * np.pi * coil.at_m / 0.6) * np.sinc(numbers * 0.01 / 1.2)
        for coil in (NECK, BRIDGE)
        if coil.at_m
    }
    wanted = shares[0.17] / (-2.0 * shares[0.04])
    np.testing.assert_allclose(got, wanted, rtol=0.05)  # the limit on notches costs 3 % here
    assert not np.allclose(got, -wanted, rtol=0.05)


def test_a_bridge_sensor_gives_the_two_tap_comb() -> None:
    """[s(t + x/c) - s(t - x/c)] / 2, c = 2 l f0, for a coil without aperture, a string without stiffness."""
    place = Place(0, 0.5, 100.0)  # c = 100 m/s: 0.05 m are four samples
    coil = Coil(1e3, 1.0, 0.0, at_m=0.05, aperture_m=1e-9, sensitivity=1.0)
    filters = place_ratio(Sensor(FREQS_HZ), [coil], place)[0]
    samples = RNG.standard_normal(4096)
    spectrum = np.fft.rfft(samples)
    spectrum[[0, -1]] = 0.0
    samples = np.fft.irfft(spectrum)
    got = np.fft.irfft(spectrum * filters)
    wanted = 0.5 * (np.roll(samples, -4) - np.roll(samples, 4))
    np.testing.assert_allclose(got, wanted, atol=COMB_EXACT)
    late = 0.5 * (np.roll(samples, -4) - np.roll(samples, 3))
    assert np.max(np.abs(got - late)) > 0.1


def test_no_more_is_raised_than_allowed_and_nothing_below_the_noise() -> None:
    """A source 80 dB down at the top is raised by 40 dB, and not at all where only noise is left."""
    response = 10.0 ** (-4.0 * FREQS_HZ / FREQS_HZ[-1])[None] + 0j
    free = Sensor(FREQS_HZ, (NECK,), response)
    raised = 20.0 * np.log10(np.abs(electrical_ratio(free, [NECK])[0]))
    assert np.max(raised) == pytest.approx(MOST_BOOST_DB, abs=0.01)
    np.testing.assert_allclose(raised[:1000], -20.0 * np.log10(response[0, :1000].real), atol=0.01)
    lost = replace(free, signal_left=(FREQS_HZ < 1000.0).astype(float))
    raised = 20.0 * np.log10(np.abs(electrical_ratio(lost, [NECK])[0]))
    assert np.max(np.abs(raised[FREQS_HZ > 1000.0])) < 0.02
    assert np.max(lost.boost_db()) < 20.1


def test_the_notch_of_a_comb_is_not_raised_without_end() -> None:
    place = replace(PLACE, length_m=0.17 * 4, stiffness=0.0)
    sensor = Sensor(FREQS_HZ, (NECK,), np.ones((1, len(FREQS_HZ)), complex))
    other = replace(NECK, at_m=0.05)
    assert np.max(np.abs(place_ratio(sensor, [other], place))) < 10.0
    np.testing.assert_allclose(place_ratio(sensor, [NECK], place), 1.0, atol=FORMULA)


def test_coils_in_one_place_are_not_taken_for_each_other() -> None:
    stacked = replace(NECK, winding=-1)
    np.testing.assert_array_equal(same_places([NECK, stacked], [NECK, stacked]), np.eye(2))
    np.testing.assert_array_equal(same_places([BRIDGE, NECK], [NECK]), [[0.0], [1.0]])
    np.testing.assert_array_equal(same_places([replace(NECK, sensitivity=3.0)], [NECK]), [[3.0]])
    np.testing.assert_array_equal(same_places([replace(NECK, at_m=None)], [NECK]), [[0.0]])
