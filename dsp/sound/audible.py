"""Whether a difference between two sounds is heard, by published thresholds: the only place that says so.

The distance of two timbres is a root mean square over the bands of the ear. What listeners notice
follows the band that differs most (D. Gagne, P. Zurek, J. Acoust. Soc. Am. 83 (1988) 2293, abstract), so
that difference stands beside the distance and decides.

The limits hold for listeners who compare two sounds at once, at rest and equally loud. In music, a
minute later or through another loudspeaker, more is needed. They say nothing of preference.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.sound.timbre import timbre, timbre_distance

Floats = NDArray[np.float64]

NOT_HEARD, EDGE, HEARD = "not heard", "at the edge", "heard"
WORDS = (NOT_HEARD, EDGE, HEARD)
LEVEL_DB = (0.5, 1.0)
"""Level: half a decibel is not heard, one is barely (0.5-1 dB of noise, Open University course text;
practice of loudspeaker laboratories)."""
BAND_DB = (0.5, 1.6)
"""The band that differs most, levels matched. The lower limit is that of level. The upper one is what
the published threshold of a resonance's frequency makes of the bands: 0.8-1.6 dB for Q 1 to 6, our own
calculation (tests/reference/test_audible.py)."""
SHIFT = 0.079
"""Least shift of a resonance that is heard is `SHIFT` x frequency / sqrt(Q): Gagne and Zurek, as above, for
Q 1-36 and 0.3-2 kHz. Guitar coils peak at 2-5 kHz, beyond what was tried."""


@dataclass(frozen=True)
class Difference:
    """How far two sounds are apart.

    Attributes
    ----------
    distance_db : float
        Root mean square over the bands, level removed.
    largest_db : float
        Of the band that differs most, level removed.
    level_db : float
        Level of the second over the first.
    """

    distance_db: float
    largest_db: float
    level_db: float

    @property
    def heard(self) -> str:
        """One of `WORDS`, both sounds equally loud."""
        return word_of(self.largest_db, BAND_DB)

    @property
    def heard_as_played(self) -> str:
        """One of `WORDS`, each sound as loud as it is."""
        return max(self.heard, word_of(abs(self.level_db), LEVEL_DB), key=WORDS.index)


def word_of(size_db: float, limits_db: tuple[float, float]) -> str:
    """Return the word for a difference, by two limits.

    Examples
    --------
    >>> [word_of(size, LEVEL_DB) for size in (0.3, 0.7, 2.0)]
    ['not heard', 'at the edge', 'heard']
    """
    return WORDS[sum(size_db >= limit for limit in limits_db)]


def difference(first: Floats, second: Floats) -> Difference:
    """Compare two sounds.

    Parameters
    ----------
    first, second : ndarray, shape (n_bands,)
        Energy by band of the ear, in one unit, more than 0 in some band.
    """
    one, other = timbre(first), timbre(second)
    level_db = 10.0 * np.log10(np.sum(second) / np.sum(first))
    return Difference(
        float(timbre_distance(one, other)), float(largest_difference(one, other)), float(level_db)
    )


def largest_difference(first: Floats, second: Floats) -> Floats:
    """Return the difference of the band that differs most, dB.

    Parameters
    ----------
    first, second : ndarray, shape (..., n_bands), dB
        From `timbre`.

    Returns
    -------
    ndarray, shape (...)
    """
    return np.asarray(np.max(np.abs(first - second), axis=-1))


def least_shift_hz(frequency_hz: float, quality: float) -> float:
    """Return the least shift of a resonance that is heard, Hz.

    Parameters
    ----------
    quality : float
        Q: frequency over half-power width.

    Examples
    --------
    >>> round(least_shift_hz(2000.0, 2.0))
    112
    """
    return SHIFT * frequency_hz / float(np.sqrt(quality))


def apart_text(largest_db: float) -> str:
    """Return the largest difference of a band in words, and its verdict."""
    return f"{largest_db:.1f} dB in the band that differs most: {word_of(largest_db, BAND_DB)}"


def limits_record() -> Mapping[str, object]:
    """Return limits and words, for a page that compares timbres itself."""
    return {"band_db": list(BAND_DB), "words": list(WORDS)}
