"""Half-band filters: twice the sampling rate and back, block by block.

Every other tap of a half-band filter is zero but the middle one, a half. So twice the rate costs one short
filter on the samples themselves; the samples between are the samples, delayed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from dsp.circuit.reduction import Floats

PASS_SHARE = 20.0 / 48.0
"""Of the chain's sampling rate: 20 kHz at 48 kHz, 18.4 kHz at 44.1 kHz, are kept and stay free of images."""
TAPS = (83, 23, 15)
"""Of each doubling, for 110 dB: the rate grows, and with it the gap between signal and image."""


@cache
def half_band_taps(doubling: int) -> Floats:
    """Design the filter of a doubling, 0 the first, shape (TAPS[doubling],).

    Equiripple: a filter of half the length that passes up to twice the pass band, spread out, and a half in
    the middle (the usual construction from one band).
    """
    from scipy.signal import remez

    n_taps = TAPS[doubling]
    upper_rate = 2.0 * 2.0**doubling
    dense = remez((n_taps + 1) // 2, [0.0, 2.0 * PASS_SHARE], [1.0], fs=upper_rate)
    taps = np.zeros(n_taps)
    taps[::2] = 0.5 * dense
    taps[n_taps // 2] = 0.5
    return taps


@dataclass(frozen=True)
class Memory:
    """What a doubling or halving keeps between blocks.

    Attributes
    ----------
    filtered : ndarray, shape (n_taps // 2,)
        Of the short filter.
    passed : ndarray, shape (n_delay,)
        The samples that are only delayed.
    """

    filtered: Floats
    passed: Floats


def _filter(taps: Floats, samples: Floats, memory: Floats) -> tuple[Floats, Floats]:
    from scipy.signal import lfilter

    filtered, memory = lfilter(taps, [1.0], samples, zi=memory)
    return np.asarray(filtered), np.asarray(memory)


def delay_samples(samples: Floats, passed: Floats) -> tuple[Floats, Floats]:
    """Delay a block by as many samples as are kept.

    Parameters
    ----------
    samples : ndarray, shape (n,)
    passed : ndarray, shape (n_delay,)
        The last samples of the block before.

    Returns
    -------
    delayed : ndarray, shape (n,)
    passed : ndarray, shape (n_delay,)
        For the next block.
    """
    whole = np.concatenate([passed, samples])
    return whole[: len(samples)], whole[len(samples) :]


class Doubling:
    """Doubles the sampling rate, or halves it."""

    def __init__(self, doubling: int) -> None:
        taps = half_band_taps(doubling)
        self.short = taps[::2]
        self.middle = len(taps) // 2
        """The delay of a doubling or halving, in samples of the upper rate."""

    def initial_up(self) -> Memory:
        """Return the memory of a doubling before any sample."""
        return Memory(np.zeros(len(self.short) - 1), np.zeros(self.middle // 2))

    def initial_down(self) -> Memory:
        """Return the memory of a halving before any sample."""
        return Memory(np.zeros(len(self.short) - 1), np.zeros((self.middle + 1) // 2))

    def up(self, samples: Floats, memory: Memory) -> tuple[Floats, Memory]:
        """Return twice as many samples, shape (2 n,), and the memory."""
        even, filtered = _filter(2.0 * self.short, samples, memory.filtered)
        odd, passed = delay_samples(samples, memory.passed)
        return np.stack([even, odd], axis=1).ravel(), Memory(filtered, passed)

    def down(self, samples: Floats, memory: Memory) -> tuple[Floats, Memory]:
        """Return half as many samples, shape (n / 2,), and the memory."""
        even, filtered = _filter(self.short, samples[::2], memory.filtered)
        odd, passed = delay_samples(samples[1::2], memory.passed)
        return even + 0.5 * odd, Memory(filtered, passed)
