"""How far the partials of a recorded note stand clear of their neighbours' sides."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dsp.tracking.places import Place, partial_hz

Floats = NDArray[np.float64]

HIGHEST = 0.45
"""Partials are measured up to this share of the rate."""
MIDWAY = 40.0 / 9.0
"""What two neighbours spread to both halfway points, re the place of the partial between. It falls with the
square of the distance: a neighbour is 1/2 and 3/2 of the fundamental away from them, 1 from that place."""


def clear_shares(samples: Floats, rate_hz: float, place: Place) -> tuple[float, ...]:
    """Measure the share of each partial in what is heard at its place.

    A note that starts and ends spreads each partial over the places of others. Halfway between two
    partials that alone is heard.

    Parameters
    ----------
    samples : ndarray, shape (n,), any unit
        The whole of a steady note.

    Returns
    -------
    tuple of float
        Of the power, 0 to 1, from the first partial up.

    Examples
    --------
    >>> t = np.arange(4000) / 16_000.0
    >>> tone = sum(np.sin(2.0 * np.pi * n * 200.0 * t) for n in (1, 2, 4, 5))
    >>> [round(share, 1) for share in clear_shares(tone[:3970], 16_000.0, Place(0, 0.6, 200.0))[:5]]
    [1.0, 1.0, 0.0, 1.0, 1.0]
    """
    size = 1 << int(np.ceil(np.log2(2 * max(len(samples), 1))))
    sums = np.concatenate([[0.0], np.cumsum(np.square(np.abs(np.fft.rfft(samples, size))))])
    edges = np.arange(len(sums), dtype=float)

    def around(numbers: Floats) -> Floats:
        middle, reach = (hz * size / rate_hz for hz in (partial_hz(place, numbers), 0.25 * place.pitch_hz))
        found: Floats = np.interp(middle + reach, edges, sums) - np.interp(middle - reach, edges, sums)
        return found

    numbers = np.arange(0.0, int(HIGHEST * rate_hz / place.pitch_hz)) + 1.0
    sides = (around(numbers - 0.5) + around(numbers + 0.5)) / MIDWAY
    shares = np.clip(1.0 - sides / np.maximum(around(numbers), 1e-300), 0.0, 1.0)
    return tuple(shares.tolist())
