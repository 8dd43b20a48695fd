"""A limiter: takes peaks down by a few decibels so that a clip can be louder. Off unless asked for.

It looks ahead, so that the gain has fallen before the peak comes, and knows the peaks between the samples.
The gain at a sample is the least that any peak within `AHEAD_S` needs, then rises within `RELEASE_S`, and
is smoothed over `AHEAD_S` again. Times and the largest reduction are our own choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from dsp.chain.stream import add_zeros, cut_evenly
from dsp.sound.levels import db
from dsp.sound.peak import CEILING_DBTP, HALF_TAPS, MARGIN_DB, interpolator, oversampling

Floats = NDArray[np.float64]

AHEAD_S = 1.5e-3
RELEASE_S = 80e-3
MOST_DB = 6.0
"""Largest reduction. Where a set would need more, all of it comes down together."""
LIMIT_DBTP = CEILING_DBTP - MARGIN_DB
TRIED_DB = (1.5, 3.0, 4.5, MOST_DB)
"""Reductions at which a clip's loss of loudness is measured."""
TINY = 1e-300
NO_FALL = 1e-12


def reduction_db(true_peak: float, gain: float) -> float:
    """Return what the limiter takes off the highest peak, dB.

    Parameters
    ----------
    true_peak : float
        Before the gain, full scale 1.
    gain : float
        Factor before the limiter.

    Examples
    --------
    >>> round(reduction_db(1.0, 1.0), 6), reduction_db(0.5, 1.0)
    (1.1, 0.0)
    """
    return max(db(true_peak * gain) - LIMIT_DBTP, 0.0) if true_peak * gain > 0.0 else 0.0


def gain_reducing(true_peak: float, reduced_db: float) -> float:
    """Return the gain at which the highest peak is taken down by so much.

    Parameters
    ----------
    true_peak : float
        More than 0.
    """
    return float(10.0 ** ((LIMIT_DBTP + reduced_db) / 20.0)) / true_peak


def lost_at(reduced_db: float, lost_lu: Sequence[float]) -> float:
    """Return the loudness that a clip loses at a reduction, LU.

    Parameters
    ----------
    lost_lu : sequence of float
        What it loses at `TRIED_DB`.
    """
    return float(np.interp(reduced_db, (0.0, *TRIED_DB), (0.0, *lost_lu)))


class Limiter:
    """Limits one clip.

    Parameters
    ----------
    gain : float
        Factor before the limiter.

    Attributes
    ----------
    most_db : float
        Largest reduction so far.
    """

    def __init__(self, rate_hz: float, gain: float) -> None:
        self._factor = oversampling(rate_hz)
        self._taps = interpolator(self._factor) if self._factor > 1 else _alone()
        phases = [self._taps[k :: self._factor] for k in range(self._factor)]
        self._bound = max(float(np.abs(phase).sum()) for phase in phases)
        self._ahead = max(round(AHEAD_S * rate_hz), 2)
        self._fall = 1.0 / (RELEASE_S * rate_hz)
        self._gain = gain
        self._limit = 10.0 ** (LIMIT_DBTP / 20.0)
        hann = np.hanning(self._ahead + 2)[1:-1]
        self._smooth = hann / hann.sum()
        self.most_db = 0.0

    def run(self, blocks: Iterable[Floats]) -> Iterator[Floats]:
        """Yield the limited samples, as many as come in and aligned to them.

        Parameters
        ----------
        blocks : iterable of ndarray, shape (n,)

        Yields
        ------
        ndarray, shape (m,), full scale 1
        """
        ahead = self._ahead
        late = HALF_TAPS + ahead - 1
        held = np.zeros(2 * HALF_TAPS)  # input that the interpolator still needs
        needs = np.ones(ahead - 1)  # gains that are needed later than the one in work
        falls = np.zeros(ahead - 1)  # 1 - gain of the samples before
        left = 0.0
        waiting = np.zeros(late)
        skip = late
        for piece in cut_evenly(add_zeros(blocks, late)):
            samples = self._gain * piece
            whole = np.concatenate([held, samples])
            held = whole[len(whole) - 2 * HALF_TAPS :]
            wanted = np.concatenate([needs, self._needs(whole)])
            needs = wanted[len(wanted) - ahead + 1 :]
            least = sliding_window_view(wanted, ahead).min(axis=1)
            fall = self._released(1.0 - least, left)
            left = float(fall[-1])
            smooth = np.concatenate([falls, fall])
            falls = smooth[len(smooth) - ahead + 1 :]
            gains = 1.0 - np.convolve(smooth, self._smooth, mode="valid")
            delayed = np.concatenate([waiting, samples])
            waiting = delayed[len(samples) :]
            output = delayed[: len(samples)] * gains
            self.most_db = max(self.most_db, -db(float(gains.min())))
            cut = min(skip, len(output))
            skip -= cut
            if cut < len(output):
                yield output[cut:]

    def _needs(self, whole: Floats) -> Floats:
        """Return the gain that each sample and half the way to its neighbours needs.

        Parameters
        ----------
        whole : ndarray, shape (n + 2 HALF_TAPS,)

        Returns
        -------
        ndarray, shape (n,)
        """
        from scipy.signal import upfirdn

        n = len(whole) - 2 * HALF_TAPS
        if float(np.abs(whole).max(initial=0.0)) * self._bound <= self._limit:
            return np.ones(n)
        middle = HALF_TAPS * self._factor
        dense = np.abs(upfirdn(self._taps, whole, up=self._factor))[middle:]
        half = self._factor // 2
        around = sliding_window_view(dense, 2 * half + 1)
        first = HALF_TAPS * self._factor - half
        peaks = around[first : first + n * self._factor : self._factor].max(axis=1)
        return np.asarray(np.minimum(1.0, self._limit / np.maximum(peaks, TINY)))

    def _released(self, falls: Floats, left: float) -> Floats:
        """Return falls that die away exponentially, each unless a later one is deeper."""
        if left == 0.0 and not falls.any():
            return falls
        away = self._fall * np.arange(1, len(falls) + 1)
        start = math.log(left) if left > 0.0 else -math.inf
        with np.errstate(divide="ignore"):
            logs = np.maximum(np.log(falls) + away, start)
        found = np.exp(np.maximum.accumulate(logs) - away)
        released: Floats = np.where(found < NO_FALL, 0.0, found)
        return released


def _alone() -> Floats:
    """Return the taps that leave the samples as they are, where none lie between."""
    taps = np.zeros(2 * HALF_TAPS + 1)
    taps[HALF_TAPS] = 1.0
    return taps
