"""Tell signal from noise in a recording, band by band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FRAME = 4096
LOWEST_HZ, PER_OCTAVE = 40.0, 6
LOUD, QUIET = 90.0, 5.0
"""Percentiles over time: the level of the signal, and the frames that may hold noise alone."""
PAUSE_DB = 40.0
"""Quiet frames this far below the loud ones count as a pause with noise alone. A recording without
a pause shows no noise; only the steps of its samples are known."""


class BandPowers:
    """The power of a recording in sixth-octave bands, gathered frame by frame.

    Parameters
    ----------
    step : float
        Distance of neighbouring sample values; 0 for floating point.
    """

    def __init__(self, rate_hz: float, step: float = 0.0) -> None:
        count = int(PER_OCTAVE * np.log2(0.5 * rate_hz / LOWEST_HZ)) + 1
        self._edges_hz = LOWEST_HZ * 2.0 ** (np.arange(count + 1) / PER_OCTAVE)
        freqs_hz = np.fft.rfftfreq(FRAME, 1.0 / rate_hz)
        self._bands = np.searchsorted(self._edges_hz, freqs_hz) - 1
        self._used = (self._bands >= 0) & (self._bands < count)
        self._window = np.hanning(FRAME)
        self._count = count
        self._left = np.zeros(0)
        self._powers: list[Floats] = []
        flat = np.full(len(freqs_hz), step**2 / 12.0 * np.sum(np.square(self._window)))
        self._steps = self._summed(flat)

    def add(self, samples: Floats) -> None:
        """Add the next samples, shape (n,)."""
        joined = np.concatenate([self._left, samples])
        whole = len(joined) // FRAME * FRAME
        for frame in joined[:whole].reshape(-1, FRAME):
            self._powers.append(self._summed(np.square(np.abs(np.fft.rfft(frame * self._window)))))
        self._left = joined[whole:]

    def _summed(self, power: Floats) -> Floats:
        return np.asarray(np.bincount(self._bands[self._used], power[self._used], self._count), float)

    def signal_left(self, frequencies_hz: Floats) -> Floats:
        """Share of each frequency that is signal, 0 to 1.

        Parameters
        ----------
        frequencies_hz : ndarray, shape (n,), Hz

        Returns
        -------
        ndarray, shape (n,)
            1 - noise/signal in power: 0 where it may be noise alone, 1 where no noise is known.
        """
        if not self._powers:
            return np.ones(len(frequencies_hz))
        powers = np.array(self._powers)
        signal = np.percentile(powers, LOUD, axis=0)
        noise = np.maximum(self._pause(powers), self._steps)
        left = np.clip(1.0 - noise / np.maximum(signal, 1e-300), 0.0, 1.0)
        left[(signal <= 0.0) & (noise <= 0.0)] = 1.0
        centres = np.sqrt(self._edges_hz[1:] * self._edges_hz[:-1])
        found: Floats = np.interp(np.log(frequencies_hz), np.log(centres), left)
        return found

    def _pause(self, powers: Floats) -> Floats:
        """Mean power of the quiet frames per band; 0 without a pause."""
        totals = np.sum(powers, axis=1)
        quiet = totals <= np.percentile(totals, QUIET)
        loud = np.percentile(totals, LOUD)
        found: Floats = np.mean(powers[quiet], axis=0)
        return found if np.mean(totals[quiet]) <= loud * 10.0 ** (-PAUSE_DB / 10.0) else np.zeros_like(found)
