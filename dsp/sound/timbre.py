"""Timbre in bands as wide as the ear's, and the distance between two timbres.

We know of no published threshold for this distance, and it does not measure preference. What is heard
follows the band that differs most: see `dsp.sound.audible`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 50.0, 15_000.0
SUB_BANDS = 3
"""Frequencies per band at which a circuit is computed; responses are smooth within a third of a band."""
LOUDNESS_EXPONENT = 0.23
"""Specific loudness of a band grows so with its energy (E. Zwicker; from memory)."""
DEPTH_DB = 50.0
"""Floor of a band's level, relative to the sound's strongest band, which masks what is below."""


def erb_number(hz: NDArray[np.floating[Any]] | float) -> Floats:
    """Return the ERB number of a frequency: bands of the ear from 0 Hz up.

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
    """Return the frequency of an ERB number, Hz, shape of number."""
    return np.asarray((10.0 ** (np.asarray(number) / 21.4) - 1.0) / 4.37e-3)


@dataclass(frozen=True)
class Bands:
    """Bands one ERB wide, each divided into sub-bands.

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
        """Number of bands."""
        return len(self.edges_hz) - 1

    def sub_band(self, hz: NDArray[np.floating[Any]]) -> NDArray[np.int64]:
        """Return the sub-band of each frequency, -1 outside; shape of hz."""
        start = erb_number(self.edges_hz[0])
        found = np.floor((erb_number(hz) - start) * SUB_BANDS).astype(np.int64)
        return np.where((found >= 0) & (found < len(self.centres_hz)), found, -1)


def ear_bands() -> Bands:
    """Return the bands from 50 Hz to 15 kHz.

    Examples
    --------
    >>> ear_bands().n_bands
    37
    """
    first = float(erb_number(LOWEST_HZ))
    n_bands = int(np.floor(float(erb_number(HIGHEST_HZ)) - first))
    middles = first + (np.arange(n_bands * SUB_BANDS) + 0.5) / SUB_BANDS
    edges = first + np.arange(n_bands + 1.0)
    return Bands(erb_hz(np.asarray(edges)), erb_hz(np.asarray(middles)))


def timbre(energy: Floats) -> Floats:
    """Return band levels with the overall level removed.

    Parameters
    ----------
    energy : ndarray, shape (..., n_bands)
        Of each band.

    Returns
    -------
    ndarray, shape (..., n_bands), dB
        The mean over the bands is 0. A sound without energy is flat.
    """
    strongest = energy.max(axis=-1, keepdims=True)
    floor = np.maximum(strongest * 10.0 ** (-DEPTH_DB / 10.0), 1e-300)
    level_db = 10.0 * np.log10(np.maximum(energy, floor))
    return np.asarray(level_db - level_db.mean(axis=-1, keepdims=True))


def timbre_distance(first: Floats, second: Floats) -> Floats:
    """Return the root-mean-square difference of timbres, dB.

    Parameters
    ----------
    first, second : ndarray, shape (..., n_bands), dB
        From `timbre`.

    Returns
    -------
    ndarray, shape (...)
        Euclidean distance divided by the root of the number of bands: a metric.

    Examples
    --------
    >>> flat, tilted = timbre(np.array([[1.0, 1.0], [1.0, 0.1]]))
    >>> float(timbre_distance(flat, tilted).round(3))
    5.0
    """
    return np.asarray(np.sqrt(np.mean((first - second) ** 2, axis=-1)))


def loudness_weighted_distance(first: Floats, second: Floats) -> float:
    """Return the difference of two timbres, bands weighted by loudness, dB.

    A loudspeaker takes away what is above 5 kHz. A distance without weights counts these bands like all
    others, heard or not.

    Parameters
    ----------
    first, second : ndarray, shape (n_bands,)
        Energy by band, more than 0 in some band.

    Returns
    -------
    float
        Root mean square. A band's weight is the mean of both specific loudnesses, E^0.23; the weighted
        mean of the differences is taken off as level.

    Examples
    --------
    A band 30 dB below the other counts a fifth as much:

    >>> high, low = np.array([1.0, 1e-3]), np.array([1.0, 1e-4])
    >>> round(loudness_weighted_distance(high, low), 2), round(float(np.diff(timbre(high))[0]), 1)
    (3.47, -30.0)
    """
    one, other = timbre(first), timbre(second)
    weights = sum(np.maximum(energy / energy.sum(), 0.0) ** LOUDNESS_EXPONENT for energy in (first, second))
    weights = weights / np.sum(weights)
    apart = one - other
    apart = apart - np.sum(weights * apart)
    return float(np.sqrt(np.sum(weights * apart**2)))
