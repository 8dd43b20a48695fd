"""Where strums start and how loud they are, on sounds whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.timbre import ear_bands
from dsp.verifying.strums import LEAD_S, RATE_HZ, WINDOWS_S, find_starts, measure, window_of

Floats = NDArray[np.float64]
STARTS_S = (0.6, 2.3, 4.1, 5.9)
PARTIALS_HZ = (110.0, 165.0, 220.0, 330.0, 440.0, 660.0, 990.0, 1480.0, 2220.0, 3330.0)


def strummed(*, seconds: float = 8.0, noise: float = 1e-4, levels: tuple[float, ...] = (1.0,) * 4) -> Floats:
    """Return decaying partials that start anew at known times."""
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    sound = noise * np.random.default_rng(3).standard_normal(len(time_s))
    for start_s, level in zip(STARTS_S, levels, strict=True):
        since = time_s - start_s
        for number, hz in enumerate(PARTIALS_HZ):
            wave = np.sin(2 * np.pi * hz * since + number) * np.exp(-(1.2 + hz / 800) * since)
            sound += np.where(since >= 0, 0.1 * level * wave / (1 + number), 0.0)
    return sound


def test_starts_are_found_where_they_are() -> None:
    starts = find_starts(strummed(), "a.wav") / RATE_HZ
    assert starts == pytest.approx(STARTS_S, abs=0.05)


def test_a_soft_strum_counts_and_hum_alone_is_none() -> None:
    assert len(find_starts(strummed(levels=(1.0, 0.3, 1.0, 0.5)), "a.wav")) == 4
    time_s = np.arange(6 * RATE_HZ) / RATE_HZ
    assert len(find_starts(0.1 * np.sin(2 * np.pi * 50 * time_s), "hum.wav")) == 0


def test_a_short_recording_is_refused() -> None:
    with pytest.raises(InputError, match=r"2\.0 s long"):
        find_starts(strummed()[: 2 * RATE_HZ], "short.wav")


@pytest.mark.parametrize(("gap_s", "window_s"), [(2.2, 2.0), (1.5, 1.3), (0.7, 0.6), (0.5, 0.0)])
def test_the_window_is_the_longest_that_rings(gap_s: float, window_s: float) -> None:
    starts = np.round((0.5 + gap_s * np.arange(4)) * RATE_HZ).astype(int)
    assert window_of(starts, round((0.5 + gap_s * 4) * RATE_HZ)) == window_s
    assert window_of(starts[:2], 10 * RATE_HZ) == 0.0  # two strums tell nothing of their scatter


def test_levels_are_those_of_the_sound() -> None:
    """A steady sine of 1 kHz: its energy lies in its band, a tenth of it 20 dB lower."""
    window_s = WINDOWS_S[3]
    time_s = np.arange(6 * RATE_HZ) / RATE_HZ
    sine = np.where(time_s > 1.0, np.sin(2 * np.pi * 1000.0 * time_s), 0.0)
    noise = 1e-3 * np.random.default_rng(4).standard_normal(len(time_s))
    starts = np.array([1.5, 3.0, 4.5]) * RATE_HZ
    loud, soft = (measure(level * sine + noise, starts.astype(int), window_s) for level in (1.0, 0.1))
    band = int(np.searchsorted(ear_bands().edges_hz, 1000.0)) - 1
    energy = 0.25 * (window_s + LEAD_S - 0.04) * RATE_HZ  # half the power, half of it at positive frequencies
    assert loud.levels_db[:, band] == pytest.approx(10 * np.log10(energy), abs=0.15)
    assert loud.levels_db[:, band] - soft.levels_db[:, band] == pytest.approx(20.0, abs=0.05)
    assert loud.over_noise_db > 40
    assert not loud.silent


def test_noise_is_taken_off() -> None:
    """A band in which strums stand as high as the noise reads what the strums alone would."""
    clean, loud = strummed(noise=1e-6), strummed(noise=2e-4)
    starts = find_starts(clean, "a.wav")
    quiet, noisy = measure(clean, starts, 1.3), measure(loud, starts, 1.3)
    counts = (quiet.levels_db.mean(axis=0) > noisy.noise_db + 6) & (quiet.levels_db.mean(axis=0) > -40)
    assert counts.sum() > 6
    away = noisy.levels_db.mean(axis=0) - quiet.levels_db.mean(axis=0)
    assert np.abs(away[counts]).max() < 1.0


def test_a_recording_without_strums_is_silent() -> None:
    noise = np.random.default_rng(5).standard_normal(5 * RATE_HZ)
    assert measure(noise, find_starts(noise, "noise.wav"), 1.0).silent
