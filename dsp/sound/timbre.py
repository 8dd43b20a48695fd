"""Timbre by bands as wide as the ear's, and how far two timbres are apart.

What the distance is worth: differences below about half a decibel in every band are at the edge
of what listeners notice (level differences of 0.5-1 dB in general, Open University course text);
no published threshold is known for it, and it says nothing of liking.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 50.0, 15_000.0
SUB_BANDS = 3
"""Frequencies at which a circuit is computed, per band: responses are smooth within a third of one."""
DEPTH_DB = 50.0
"""A band is counted at most so far below a sound's strongest: what is lower is not heard beside it."""


def erb_number(hz: NDArray[np.floating[Any]] | float) -> Floats:
    """ERB number of a frequency: bands of the ear counted from 0 Hz.

    Parameters
    ----------
    hz : ndarray or float, Hz

    Returns
    -------
    ndarray, shape of hz

    References
    ----------
    B. Glasberg, B. Moore, Hearing Research 47 (1990) 103-138: 21.4 log10(4.37 F + 1), F in kHz.
    """
    return np.asarray(21.4 * np.log10(4.37e-3 * np.asarray(hz) + 1.0))


def erb_hz(number: NDArray[np.floating[Any]] | float) -> Floats:
    """Frequency of an ERB number, Hz, shape of number; see `erb_number`."""
    return np.asarray((10.0 ** (np.asarray(number) / 21.4) - 1.0) / 4.37e-3)


@dataclass(frozen=True)
class Bands:
    """Bands one ERB wide, each in narrower sub-bands.

    Attributes
    ----------
    edges_hz : ndarray, shape (n_bands + 1,)
    centres_hz : ndarray, shape (n_bands * SUB_BANDS,)
        Of the sub-bands.
    """

    edges_hz: Floats
    centres_hz: Floats

    @property
    def n_bands(self) -> int:
        """How many bands there are."""
        return len(self.edges_hz) - 1

    def sub_band(self, hz: NDArray[np.floating[Any]]) -> NDArray[np.int64]:
        """Sub-band of each frequency, -1 outside all of them; shape of hz."""
        start = erb_number(self.edges_hz[0])
        found = np.floor((erb_number(hz) - start) * SUB_BANDS).astype(np.int64)
        return np.where((found >= 0) & (found < len(self.centres_hz)), found, -1)


def ear_bands() -> Bands:
    """The bands from 50 Hz to 15 kHz."""
    first = float(erb_number(LOWEST_HZ))
    n_bands = int(np.floor(float(erb_number(HIGHEST_HZ)) - first))
    middles = first + (np.arange(n_bands * SUB_BANDS) + 0.5) / SUB_BANDS
    edges = first + np.arange(n_bands + 1.0)
    return Bands(erb_hz(np.asarray(edges)), erb_hz(np.asarray(middles)))


def timbre(energy: Floats) -> Floats:
    """Band levels with the overall level taken out.

    Parameters
    ----------
    energy : ndarray, shape (..., n_bands)
        Of each band.

    Returns
    -------
    ndarray, shape (..., n_bands), dB
        The mean over the bands is 0. A sound of no energy is flat.
    """
    strongest = energy.max(axis=-1, keepdims=True)
    floor = np.maximum(strongest * 10.0 ** (-DEPTH_DB / 10.0), 1e-300)
    level_db = 10.0 * np.log10(np.maximum(energy, floor))
    return np.asarray(level_db - level_db.mean(axis=-1, keepdims=True))


def timbre_distance(first: Floats, second: Floats) -> Floats:
    """Root-mean-square difference of timbres, dB.

    Parameters
    ----------
    first, second : ndarray, shape (..., n_bands), dB
        From `timbre`.

    Returns
    -------
    ndarray, shape (...)
        Euclidean distance over the root of the number of bands: a metric.
    """
    return np.asarray(np.sqrt(np.mean((first - second) ** 2, axis=-1)))
