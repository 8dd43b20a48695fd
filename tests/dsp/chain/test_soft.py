"""The soft stage: its curve, its half-bands, and what folds back, measured with sines."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from tolerances import FOLD_DB, HALF_BAND_RIPPLE_DB, HALF_BAND_STOP_DB

from dsp.chain.half_band import PASS_SHARE, TAPS, half_band_taps
from dsp.chain.soft import BEND_PER_V, DELAY, MOST_DRIVE, SHIFT_V, SoftStage, bend

Floats = NDArray[np.float64]
RATE_HZ = 48_000


@pytest.mark.parametrize("doubling", range(len(TAPS)))
def test_half_band_stops_images_and_keeps_the_band(doubling: int) -> None:
    taps = half_band_taps(doubling)
    upper_rate = 2.0 * 2.0**doubling  # in sampling rates of the chain
    level = np.abs(np.fft.rfft(taps, 1 << 16))
    share = np.linspace(0.0, 0.5 * upper_rate, len(level))
    stopped = np.max(level[share >= 0.5 * upper_rate - PASS_SHARE])
    passed_db = 20.0 * np.log10(level[share <= PASS_SHARE])
    assert 20.0 * np.log10(stopped) <= HALF_BAND_STOP_DB
    assert np.max(np.abs(passed_db)) <= HALF_BAND_RIPPLE_DB
    np.testing.assert_allclose(taps, taps[::-1], atol=1e-12)
    assert np.count_nonzero(taps) == len(taps) // 2 + 2  # every other tap is zero but the middle one
    shorter = taps[4:-4]
    stopped = np.max(np.abs(np.fft.rfft(shorter, 1 << 16))[share >= 0.5 * upper_rate - PASS_SHARE])
    assert 20.0 * np.log10(stopped) > HALF_BAND_STOP_DB


def test_curve_at_printed_volts() -> None:
    volts = np.array([-4.0, -1.0, 0.5, 1.0, 2.0, 4.0])
    printed = np.array([-1.6564, -0.8652, 0.5057, 0.9791, 1.6632, 2.1310])
    assert np.max(np.abs(bend(volts) - printed)) <= 5.1e-5
    assert np.max(np.abs(bend(volts * 1.001) - printed)) > 5.1e-5
    assert bend(np.zeros(1))[0] == 0.0
    assert (bend(np.array([1e-6])) / 1e-6)[0] == pytest.approx(1.0, abs=1e-6)


MU, EXPONENT, KG1, KP, KVB = 100.0, 1.4, 1060.0, 600.0, 300.0
SUPPLY_V, PLATE_OHM, CATHODE_OHM, STOPPER_OHM = 300.0, 100e3, 1.5e3, 68e3
GRID_OHM, GRID_V = 2e3, 0.33
"""The grid draws current above 0.33 V through 2 kΩ."""


def triode_a(plate_v: float, grid_v: float) -> float:
    """Plate current by the published law."""
    inner = KP * (1.0 / MU + grid_v / np.sqrt(KVB + plate_v**2))
    driving = plate_v / KP * np.logaddexp(0.0, inner)
    return float(2.0 * float(driving) ** EXPONENT / KG1)


def valve_curve(inputs_v: Floats) -> Floats:
    """The stage's plate voltage by that law, inverted, over its gain for small signals."""

    def plate(grid_v: float, cathode_v: float) -> float:
        def left(plate_v: float) -> float:
            return SUPPLY_V - PLATE_OHM * triode_a(plate_v - cathode_v, grid_v - cathode_v) - plate_v

        return float(brentq(left, cathode_v + 1e-6, SUPPLY_V))

    bias_v = float(
        brentq(lambda v: (SUPPLY_V - plate(0.0, v)) / PLATE_OHM * CATHODE_OHM - v, 0.1, 5.0, xtol=1e-9)
    )
    found = []
    for volt in inputs_v:
        over = volt - bias_v - GRID_V
        grid = volt - over * STOPPER_OHM / (STOPPER_OHM + GRID_OHM) if over > 0.0 else volt
        found.append(plate(float(grid), bias_v))
    rest = plate(0.0, bias_v)
    gain = (plate(-1e-3, bias_v) - plate(1e-3, bias_v)) / 2e-3
    return (rest - np.array(found)) / gain


@pytest.mark.reference
def test_curve_stays_near_a_published_triode_law() -> None:
    """The law and its numbers were read in two published parameter sets; what it is fed from is common."""
    volts = np.linspace(-4.0, 4.0, 81)
    law = valve_curve(volts)
    off = bend(volts) - law
    assert float(np.ptp(law)) == pytest.approx(3.6, abs=0.3)
    assert float(np.sqrt(np.mean(off**2))) <= 0.14
    straight = volts - law
    assert float(np.sqrt(np.mean(straight**2))) > 0.5


def fold_db(oversampling: int, drive: float, hertz: int) -> float:
    """What is no harmonic below 20 kHz, the loudest, re the fundamental; a sine of whole hertz for 1 s."""
    stage = SoftStage(oversampling, RATE_HZ)
    seconds = np.arange(2 * RATE_HZ) / RATE_HZ
    out, _ = stage.run(drive / BEND_PER_V * np.sin(2.0 * np.pi * hertz * seconds), stage.initial_state())
    level = np.abs(np.fft.rfft(out[RATE_HZ:]))[:20_001]
    fundamental = level[hertz]
    level[::hertz] = 0.0
    level[:20] = 0.0  # the mean dies away at 8 Hz
    return float(20.0 * np.log10(np.max(level) / fundamental))


@pytest.mark.parametrize("hertz", [997, 4999, 7001])
@pytest.mark.parametrize("oversampling", MOST_DRIVE)
def test_nothing_folds_back_at_the_largest_drive(oversampling: int, hertz: int) -> None:
    assert fold_db(oversampling, MOST_DRIVE[oversampling], hertz) <= FOLD_DB


def resampled(samples: Floats, length: int) -> Floats:
    """Return a period at another number of samples, by its spectrum."""
    spectrum = np.fft.rfft(samples)
    other = np.zeros(length // 2 + 1, complex)
    kept = min(len(spectrum), len(other))
    other[:kept] = spectrum[:kept]
    return np.fft.irfft(other, length) * (length / len(samples))


@pytest.mark.parametrize("oversampling", MOST_DRIVE)
def test_a_chord_at_the_largest_drive_is_the_stage_at_64_times_the_rate(oversampling: int) -> None:
    """Six strings, partials falling by 6 dB per octave to 5 kHz and by 24 above, one period of 0.68 s."""
    length = 1 << 15
    spectrum = np.zeros(length // 2 + 1, complex)
    turn = np.random.default_rng(4)
    for hertz in (82.4, 123.5, 164.8, 207.7, 246.9, 329.6):
        for n in range(1, int(18e3 / hertz)):
            level = 1.0 / n / (1.0 + (n * hertz / 5e3) ** 4) ** 0.75
            spectrum[round(n * hertz * length / RATE_HZ)] += level * np.exp(2j * np.pi * turn.random())
    period = np.fft.irfft(spectrum, length)
    period *= 0.99 * MOST_DRIVE[oversampling] / BEND_PER_V / np.max(np.abs(resampled(period, 16 * length)))
    stage = SoftStage(oversampling, RATE_HZ)
    out, state = stage.run(np.tile(period, 3), stage.initial_state())
    assert state.drive == pytest.approx(0.99 * MOST_DRIVE[oversampling], rel=1e-3)
    want = np.fft.rfft(resampled(bend(resampled(period, 64 * length)), length))
    freqs_hz = np.arange(len(want)) * RATE_HZ / length
    advance = np.exp(2j * np.pi * freqs_hz / RATE_HZ * DELAY)
    got = np.fft.rfft(out[2 * length :]) * advance
    band = (freqs_hz > 60.0) & (freqs_hz < 18e3)
    pole, back = np.exp(-2.0 * np.pi * 8.0 / RATE_HZ), np.exp(-2j * np.pi * freqs_hz[band] / RATE_HZ)
    want = want[band] * 0.5 * (1.0 + pole) * (1.0 - back) / (1.0 - pole * back)
    off = np.sum(np.abs(got[band] - want) ** 2) / np.sum(np.abs(want) ** 2)
    assert 10.0 * np.log10(off) <= FOLD_DB
    plain = np.fft.rfft(bend(period))[band]
    assert 10.0 * np.log10(np.sum(np.abs(plain - want) ** 2) / np.sum(np.abs(want) ** 2)) > -50.0


def test_bars_of_the_study() -> None:
    assert fold_db(4, 4.0, 4999) <= FOLD_DB
    assert fold_db(8, 8.0, 4999) <= FOLD_DB


def test_more_drive_or_less_oversampling_folds_back() -> None:
    assert fold_db(4, MOST_DRIVE[8], 4999) > FOLD_DB
    assert fold_db(8, 1.2 * MOST_DRIVE[8], 7001) > FOLD_DB
    assert fold_db(4, 1.2 * MOST_DRIVE[4], 7001) > FOLD_DB


def test_harmonics_of_the_curve_at_220_hz() -> None:
    """Levels printed beside the curve, without what stands before and behind it: H2 and H3, and the mean."""
    turn = np.sin(2.0 * np.pi * np.arange(1 << 12) / (1 << 12))
    for drive, second_db, third_db, mean_v in ((1.0, -26.8, -23.8, 0.08), (4.0, -30.3, -11.4, 0.21)):
        level = np.fft.rfft(bend(drive / BEND_PER_V * turn)) / (1 << 11)
        harmonics_db = 20.0 * np.log10(np.abs(level[2:4] / level[1]))
        np.testing.assert_allclose(harmonics_db, [second_db, third_db], atol=0.06)
        assert abs(level[0].real / 2.0) == pytest.approx(mean_v, abs=0.006)


@pytest.mark.parametrize("oversampling", MOST_DRIVE)
def test_delay_is_whole_and_the_same(oversampling: int) -> None:
    stage = SoftStage(oversampling, RATE_HZ)
    impulse = np.zeros(400)
    impulse[100] = 1e-6
    out, state = stage.run(impulse, stage.initial_state())
    assert int(np.argmax(np.abs(out))) == 100 + DELAY
    assert abs(out[100 + DELAY - 1] - out[100 + DELAY + 1]) < 0.03 * abs(out[100 + DELAY])
    assert state.drive == pytest.approx(BEND_PER_V * 1e-6, rel=0.05)


def test_the_mean_goes() -> None:
    stage = SoftStage(4, RATE_HZ)
    tone = 4.0 * np.sin(2.0 * np.pi * 200.0 * np.arange(RATE_HZ) / RATE_HZ)
    out, _ = stage.run(tone, stage.initial_state())
    assert abs(float(np.mean(bend(tone)))) > 0.1
    assert abs(float(np.mean(out[RATE_HZ // 2 :]))) < 1e-3
    assert SHIFT_V < 0.0
