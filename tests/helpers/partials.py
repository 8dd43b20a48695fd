"""Measure frequency, level and decay of one partial in a recording."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve, firwin

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """A spectral line over a span of time."""

    hz: float
    t60_s: float
    level: float
    wobble_db: float


def line(
    samples: Floats, rate_hz: float, near_hz: float, span_s: tuple[float, float], width_hz: float
) -> Line:
    """Measure one partial: move it to 0 Hz, low-pass it, fit lines to phase and level.

    ``level`` is the fitted amplitude at the start of the samples.
    """
    time_s = np.arange(len(samples)) / rate_hz
    moved = samples * np.exp(-2j * np.pi * near_hz * time_s)
    taps = firwin(round(4.0 * rate_hz / width_hz) | 1, width_hz, fs=rate_hz, window=("kaiser", 10.0))
    slow = 2.0 * fftconvolve(moved, taps, mode="same")
    within = slice(round(span_s[0] * rate_hz), round(span_s[1] * rate_hz))
    time_s, slow = time_s[within], slow[within]
    offset_hz = np.polyfit(time_s, np.unwrap(np.angle(slow)), 1)[0] / (2.0 * np.pi)
    levels_db = 20.0 * np.log10(np.abs(slow))
    slope, start_db = np.polyfit(time_s, levels_db, 1)
    wobble = float(np.std(levels_db - np.polyval([slope, start_db], time_s)))
    return Line(near_hz + offset_hz, -60.0 / slope, float(10.0 ** (start_db / 20.0)), wobble)
