"""Dither to 16 bits: the error is noise with the variance of the theory.

Lipshitz, Wannamaker, Vanderkooy, "Quantization and Dither: A Theoretical Survey", J. Audio Eng.
Soc. 40(5) (1992), from memory: with triangular dither the total error has the variance
1/12 + 2/12 = 1/4 step squared whatever the signal, and no harmonics.
"""

from __future__ import annotations

import numpy as np
import pytest
import tolerances as tol

from dsp.errors import InputError
from dsp.sound.dither import LARGEST_16, LARGEST_24, SCALE_16, SCALE_24, Dither, to_int16, to_int24

FRAME = 1 << 15
FRAMES = 64
BIN = 341  # the sine's, an odd number of periods in a frame
HARMONICS = (2, 3, 4, 5, 7, 9, 11)


def quiet_sine(steps: float) -> np.ndarray:
    """Return a sine a few steps high, with whole periods in each frame."""
    return steps / SCALE_16 * np.sin(2 * np.pi * BIN * np.arange(FRAME * FRAMES) / FRAME)


def harmonics_over_noise_db(integers: np.ndarray) -> float:
    """Return the highest harmonic's bin re white noise of a quarter step squared."""
    power = np.mean(np.abs(np.fft.rfft(integers.reshape(FRAMES, FRAME), axis=1)) ** 2, axis=0)
    return float(max(10 * np.log10(power[h * BIN] / (0.25 * FRAME) + 1e-12) for h in HARMONICS))


def test_no_harmonics():
    signal = quiet_sine(1.3)
    assert harmonics_over_noise_db(to_int16(signal, 5).astype(float)) < tol.HARMONIC_OVER_NOISE_DB


def test_without_dither_there_are_harmonics():
    """The twin: plain rounding of the same sine fails the same check."""
    undithered = np.rint(quiet_sine(1.3) * SCALE_16)
    assert not harmonics_over_noise_db(undithered) < tol.HARMONIC_OVER_NOISE_DB


@pytest.mark.parametrize("steps", [0.0, 0.3, 1.3, 1000.0])
def test_variance_is_a_quarter_step_squared(steps):
    signal = quiet_sine(steps)
    error = to_int16(signal, 6) - signal * SCALE_16
    assert error.var() == pytest.approx(0.25, rel=tol.DITHER_VARIANCE)
    assert np.abs(error).max() < 1.5
    rounded_only = np.rint(quiet_sine(1000.0) * SCALE_16) - quiet_sine(1000.0) * SCALE_16
    assert rounded_only.var() != pytest.approx(0.25, rel=tol.DITHER_VARIANCE)


def test_error_does_not_follow_the_signal():
    signal = quiet_sine(0.4)
    error = to_int16(signal, 7) - signal * SCALE_16
    assert abs(np.corrcoef(signal, error)[0, 1]) < 5 / np.sqrt(len(signal))
    rounded = np.rint(signal * SCALE_16) - signal * SCALE_16
    assert abs(np.corrcoef(signal, rounded)[0, 1]) > 0.9


def test_the_seed_matters_and_blocks_do_not():
    signal = quiet_sine(20.0)[:5000].reshape(-1, 2)
    dither = Dither(8)
    in_blocks = np.concatenate([dither.to_int16(piece) for piece in np.split(signal, [1, 10, 1999])])
    np.testing.assert_array_equal(in_blocks, to_int16(signal, 8))
    assert np.any(to_int16(signal, 9) != to_int16(signal, 8))


def test_full_scale_neither_wraps_nor_clips():
    top = np.tile([LARGEST_16, -LARGEST_16], 50000)
    integers = to_int16(top, 10).astype(int)
    assert integers[::2].min() >= 32764
    assert integers[1::2].max() <= -32764
    assert set(to_int24(np.array([LARGEST_24, -LARGEST_24])) >> 8) == {SCALE_24 - 1, 1 - SCALE_24}


@pytest.mark.parametrize("quantise", [lambda x: to_int16(x, 1), to_int24])
@pytest.mark.parametrize("bad", [1.0, -1.0, 1.0001, 7.0, np.inf, np.nan])
def test_what_does_not_fit_is_refused(quantise, bad):
    with pytest.raises(InputError, match="bit samples"):
        quantise(np.array([0.0, bad]))


def test_24_bits_are_rounded():
    signal = np.random.default_rng(1).uniform(-0.9, 0.9, 1000)
    assert np.abs(to_int24(signal) / 2**31 - signal).max() <= 0.5 / SCALE_24
    assert not np.any(to_int24(signal) & 0xFF)
