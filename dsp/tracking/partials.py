"""Measure fundamental and stiffness of a steady note from the frequencies of its partials."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAD_S, LONGEST_S, SHORTEST_S = 0.02, 0.8, 0.08
"""The measured stretch: after the pick's noise, while the upper partials last."""
MOST_PARTIALS = 40
FEWEST = 5
"""Fewest partials that determine two unknowns reliably."""
VISIBLE = 1e-3
"""Share of the strongest partial; a lower peak may be noise or a side lobe of the window."""
STIFFEST = 2e-3
"""Largest B of a guitar string, fretted high."""


def fit_partials(samples: Floats, rate_hz: float, pitch_hz: float) -> tuple[float, float | None] | None:
    """Fit fundamental f0 and stiffness B of f_n = n f0 sqrt(1 + B n^2).

    Parameters
    ----------
    samples : ndarray, shape (n,), any unit
        One steady note from its onset.
    pitch_hz : float
        Within about 40 cents of the fundamental.

    Returns
    -------
    pitch_hz : float
    stiffness : float or None
        None if too few partials are visible.

    The function returns None if the note is too short or shows no partial.

    References
    ----------
    H. Fletcher, "Normal Vibration Frequencies of a Stiff Piano String", J. Acoust. Soc. Am. 36
    (1964). The fit is a weighted line through (f_n / n)^2 over n^2.

    Examples
    --------
    >>> t = np.arange(16_000) / 16_000.0
    >>> hz = [n * 110.0 * np.sqrt(1.0 + 1e-4 * n * n) for n in range(1, 20)]
    >>> pitch_hz, stiffness = fit_partials(sum(np.sin(2.0 * np.pi * f * t) for f in hz), 16_000.0, 111.0)
    >>> f"{pitch_hz:.2f} Hz, B {stiffness:.1e}"
    '110.00 Hz, B 1.0e-04'
    """
    lead = round(LEAD_S * rate_hz)
    part = samples[lead : lead + round(LONGEST_S * rate_hz)]
    if len(part) < SHORTEST_S * rate_hz or not part.any():
        return None
    size = 1 << int(np.ceil(np.log2(4 * len(part))))
    magnitude = np.abs(np.fft.rfft(part * np.hanning(len(part)), size))
    width_hz = 2.0 * rate_hz / len(part)
    return _fitted(magnitude, rate_hz / size, width_hz, pitch_hz)


def _fitted(
    magnitude: Floats, bin_hz: float, width_hz: float, pitch_hz: float
) -> tuple[float, float | None] | None:
    """Fit a line through the partials, from the lowest up, using those near their expected place."""
    found: list[tuple[int, float, float]] = []
    f0, stiffness = pitch_hz, 0.0
    floor = VISIBLE * float(np.max(magnitude))
    for n in range(1, MOST_PARTIALS + 1):
        expected = n * f0 * np.sqrt(1.0 + stiffness * n * n)
        reach = max(width_hz, 0.02 * expected) if n <= FEWEST else width_hz
        peak = _peak(magnitude, bin_hz, expected, min(reach, 0.4 * pitch_hz))
        if peak is not None and peak[1] > floor:
            found.append((n, *peak))
            f0, stiffness = _line(found, pitch_hz)
    if not found:
        return None
    return f0, stiffness if len(found) >= FEWEST and stiffness > 0.0 else None


def _peak(magnitude: Floats, bin_hz: float, near_hz: float, reach_hz: float) -> tuple[float, float] | None:
    """Frequency and height of the highest peak near a frequency; None if none is found."""
    first = max(int((near_hz - reach_hz) / bin_hz), 1)
    last = min(int((near_hz + reach_hz) / bin_hz) + 1, len(magnitude) - 1)
    if last - first < 3:
        return None
    at = first + int(np.argmax(magnitude[first:last]))
    if at in (first, last - 1):
        return None
    a, b, c = np.log(magnitude[at - 1 : at + 2] + 1e-300)
    return float(at + 0.5 * (a - c) / (a - 2.0 * b + c)) * bin_hz, float(magnitude[at])


def _line(found: list[tuple[int, float, float]], pitch_hz: float) -> tuple[float, float]:
    """Fit f0 and B by weighted least squares; B is 0 for too few partials."""
    n, freqs_hz, heights = (np.array(column, float) for column in zip(*found, strict=True))
    squares = np.square(freqs_hz / n)
    weights = np.minimum(heights / np.max(heights), 0.1) * np.square(n)
    if len(found) < FEWEST:
        return float(np.sqrt(np.sum(weights * squares) / np.sum(weights))), 0.0
    mean_n, mean_s = np.average(n * n, weights=weights), np.average(squares, weights=weights)
    slope = np.sum(weights * (n * n - mean_n) * (squares - mean_s)) / np.sum(
        weights * np.square(n * n - mean_n)
    )
    base = max(mean_s - slope * mean_n, (0.9 * pitch_hz) ** 2)
    stiffness = min(max(slope / base, 0.0), STIFFEST)
    return float(np.sqrt(mean_s / (1.0 + stiffness * mean_n))), float(stiffness)
