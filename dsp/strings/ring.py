"""Sum decaying sines fast: rows of modes to rows of samples.

A mode is z^t with z = exp(rate / sampling rate). Over blocks of equal length the sum is a
product of two matrices, (rows and blocks) x modes and modes x (samples of a block), about a
thousand times faster than a loop over modes and samples. Modes leave the product once they
have decayed below hearing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

FLOOR_DB = -110.0
"""Level, relative to the start of the loudest mode, at which a mode is dropped."""
BLOCK = 128
BLOCKS_AT_ONCE = 48
SEGMENT = 32
"""Samples between two points at which a moving mode's rate is given."""
SEGMENTS_AT_ONCE = 64
STEADY = ((math.inf, 1.0),)
"""No change of pitch."""


def lifetimes_s(rates: Complexes, rows: Complexes, floor_db: float = FLOOR_DB) -> Floats:
    """Return how long each mode lasts, shape (n_modes,), s.

    Parameters
    ----------
    rates : ndarray, shape (n_modes,), 1/s
    rows : ndarray, shape (n_rows, n_modes)
        Amplitudes at the start.
    floor_db : float
        Level at which a mode has died, relative to the start of the loudest.
    """
    level = _levels(rows)
    above = np.log(np.maximum(level, 1e-300)) - floor_db / 20.0 * np.log(10.0)
    return np.asarray(np.maximum(above, 0.0) / np.maximum(-rates.real, 1e-9))


def _levels(rows: Complexes) -> Floats:
    """Return the largest amplitude of each mode, relative to the loudest of its row."""
    sizes = np.abs(rows)
    return np.asarray((sizes / np.maximum(sizes.max(axis=1, keepdims=True), 1e-300)).max(axis=0))


def sum_modes(
    rates: Complexes,
    rows: Complexes,
    n_samples: int,
    rate_hz: float,
    *,
    pitch: Sequence[tuple[float, float]] = STEADY,
    floor_db: float = FLOOR_DB,
) -> NDArray[np.float32]:
    """Sum modes; return the real part.

    Parameters
    ----------
    rates : ndarray, shape (n_modes,), 1/s
        -decay + j angular frequency.
    rows : ndarray, shape (n_rows, n_modes)
        Complex amplitude at sample 0.
    pitch : sequence of (float, float)
        Until when, s, and the ratio of all frequencies to that of ``rates``; phases run on. The last
        holds for good.
    floor_db : float
        Level at which a mode is dropped, relative to the start of the loudest.

    Returns
    -------
    ndarray, shape (n_rows, n_samples)
        32-bit: errors stay some 120 dB below the peak.
    """
    life = np.ceil(lifetimes_s(rates, rows, floor_db) * rate_hz / BLOCK)
    order = np.argsort(-life, kind="stable")
    rates, rows, life = rates[order] / rate_hz, rows[:, order], life[order]
    n_blocks = -(-n_samples // BLOCK)
    found = np.zeros((len(rows), n_blocks, BLOCK), np.float32)
    first, travelled = 0, np.zeros(len(rates), complex)
    for until_s, ratio in pitch:
        last = n_blocks if until_s == math.inf else min(round(until_s * rate_hz / BLOCK), n_blocks)
        alive = int(np.searchsorted(-life, -first, side="left"))
        if last <= first or not alive:
            continue
        turned = rates[:alive].real + 1j * ratio * rates[:alive].imag
        _sum_blocks(found, first, last, turned, rows[:, :alive] * np.exp(travelled[:alive]), life[:alive])
        travelled[:alive] += turned * BLOCK * (last - first)
        first = last
    return found.reshape(len(rows), -1)[:, :n_samples]


def _sum_blocks(
    found: NDArray[np.float32], first: int, last: int, rates: Complexes, rows: Complexes, life: Floats
) -> None:
    """Fill blocks from ``first`` on with modes whose ``rows`` hold there; rates per sample."""
    # The real part of a complex product as one real product, of real and imaginary parts by turns.
    within = _powers(rates, BLOCK, np.complex64)
    parts = np.empty((len(rates), 2, BLOCK), np.float32)
    parts[:, 0] = within.real
    np.negative(within.imag, out=parts[:, 1])
    ahead = _powers(rates * BLOCK, min(BLOCKS_AT_ONCE, last - first), np.complex128).T.copy()
    for start in range(first, last, BLOCKS_AT_ONCE):
        alive = int(np.searchsorted(-life, -start, side="left"))
        if not alive:
            break
        count = min(BLOCKS_AT_ONCE, last - start)
        here = rows[:, None, :alive] * np.exp((start - first) * BLOCK * rates[:alive])
        at_start = np.empty((len(rows), count, alive), np.complex64)
        np.multiply(here, ahead[:count, :alive], out=at_start, casting="same_kind")
        both = at_start.view(np.float32)
        np.matmul(both, parts[:alive].reshape(2 * alive, BLOCK), out=found[:, start : start + count])


def _powers(exponents: Complexes, count: int, kind: type[np.complexfloating[Any, Any]]) -> NDArray[Any]:
    """Return exp of 0, 1, ... count - 1 times each exponent, shape (n, count).

    Most are products of a few steps and strides, at a tenth of the cost of an exponential.
    """
    stride = math.isqrt(count - 1) + 1
    steps = np.exp(exponents[:, None, None] * np.arange(stride)).astype(kind)
    strides = np.exp(exponents[:, None, None] * stride * np.arange(-(-count // stride))[:, None]).astype(kind)
    return np.asarray((strides * steps).reshape(len(exponents), -1)[:, :count])


def sum_moving_modes(
    rates: Complexes, rows: Complexes, n_samples: int, rate_hz: float
) -> NDArray[np.float32]:
    """Sum modes of moving rates and amplitudes; return the real part.

    Parameters
    ----------
    rates : ndarray, shape (n_points, n_modes), 1/s
        At every `SEGMENT`-th sample, linear between.
    rows : ndarray, shape (n_rows, n_points, n_modes)
        Amplitudes without the decay, at the same samples, linear between.
    n_samples : int
        At most ``SEGMENT * (n_points - 1)``.

    Returns
    -------
    ndarray, shape (n_rows, n_samples)
    """
    per_sample = rates / rate_hz
    travelled = np.zeros_like(per_sample)
    travelled[1:] = np.cumsum(0.5 * SEGMENT * (per_sample[1:] + per_sample[:-1]), axis=0)
    level = _levels(rows.reshape(-1, rows.shape[2]))
    n_segments = -(-n_samples // SEGMENT)
    found = np.zeros((len(rows), n_segments, SEGMENT), np.float32)
    share = (np.arange(SEGMENT) / SEGMENT).astype(np.float32)
    for first in range(0, n_segments, SEGMENTS_AT_ONCE):
        at = np.arange(first, min(first + SEGMENTS_AT_ONCE, n_segments))
        alive = level * np.exp(travelled[first].real) > 10.0 ** (FLOOR_DB / 20.0)
        if not alive.any():
            break
        turns = _segments(travelled[at][:, alive], per_sample[at][:, alive], per_sample[at + 1][:, alive])
        before, after = (rows[:, which][:, :, alive].transpose(1, 0, 2) for which in (at, at + 1))
        start = (before.astype(np.complex64) @ turns).real
        end = (after.astype(np.complex64) @ turns).real
        found[:, at] = (start + share * (end - start)).transpose(1, 0, 2)
    return found.reshape(len(rows), -1)[:, :n_samples]


def _segments(travelled: Complexes, before: Complexes, after: Complexes) -> NDArray[np.complex64]:
    """Return exp of the rates' integral at every sample, (n_segments, n_modes, SEGMENT).

    Rates are linear within a segment, so each sample's factor is the previous one times a step
    that itself grows by a constant factor.
    """
    slope = (after - before) / SEGMENT
    factor, step = np.exp(travelled), np.exp(before + 0.5 * slope)
    growth = np.exp(slope)
    found = np.empty((*travelled.shape, SEGMENT), np.complex64)
    for i in range(SEGMENT):
        found[:, :, i] = factor
        factor = factor * step
        step = step * growth
    return found
