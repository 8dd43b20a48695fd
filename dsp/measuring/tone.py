"""The tone that the rig plays: sines at whole hertz, clear of the mains and its harmonics."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 20, 20_000
PLACES = 121
"""On a logarithmic scale. Each becomes a line if there is room: 119 in all, 12 an octave."""
APART_HZ = 2
"""Lines nearer than this would not be told apart by blocks of two seconds."""
REACH_HZ = 5
MAINS_HZ = (50, 60)
MAINS_CLEAR_HZ = 2
"""A line keeps farther than this from every harmonic of both mains: hum would pass for signal."""
PEAK_DBFS = -12.0
"""Room for an interface whose input is louder than its output."""
TRIES = 20
"""Sets of phases; the one with the smallest crest factor is played. Random phases reach 3.8."""
SEED = 2026


def tone_lines() -> Floats:
    """Frequencies of the tone in hertz, rising, shape (lines,).

    Examples
    --------
    >>> lines = tone_lines()
    >>> float(lines[0]), float(lines[-1]), bool((lines == lines.round()).all())
    (20.0, 19997.0, True)
    """
    found: list[int] = []
    for place in np.geomspace(LOWEST_HZ, HIGHEST_HZ, PLACES):
        lowest = found[-1] + APART_HZ if found else LOWEST_HZ
        near = range(max(lowest, int(place) - REACH_HZ), min(HIGHEST_HZ, int(place) + REACH_HZ) + 1)
        clear = [hz for hz in near if is_clear(hz)]
        if clear:
            found.append(min(clear, key=lambda hz: abs(hz - place)))
    return np.array(found, float)


def is_clear(frequency_hz: float) -> bool:
    """Whether a frequency keeps clear of both mains and of their harmonics."""
    return all(abs(frequency_hz - mains * round(frequency_hz / mains)) > MAINS_CLEAR_HZ for mains in MAINS_HZ)


def make_tone(rate_hz: int, seconds: int) -> Floats:
    """Return the tone, its peak at `PEAK_DBFS`, shape (rate times seconds,).

    It repeats every second, so that any whole number of seconds holds whole periods.
    """
    lines = tone_lines()
    lines = lines[lines < 0.45 * rate_hz]
    random = np.random.default_rng(SEED)
    spectra = np.zeros((TRIES, rate_hz // 2 + 1), complex)
    spectra[:, lines.astype(int)] = np.exp(2j * np.pi * random.random((TRIES, len(lines))))
    periods = np.fft.irfft(spectra, rate_hz)
    peaks = np.abs(periods).max(axis=1)
    best = periods[peaks.argmin()] / peaks.min()
    return np.asarray(10 ** (PEAK_DBFS / 20) * np.tile(best, seconds))
