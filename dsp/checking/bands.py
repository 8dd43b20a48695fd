"""Bands that a sound instrument keeps: drawn by its parts' spreads, never drawn straight.

A resonance bends what a part's value does to a reading, so that a band from straight lines accuses
half of all sound instruments. Here whole instruments are drawn and computed. The bands are as wide
together as it takes for `HELD` of them to keep every band at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import SEED, draw_steps, find_directions, make_copies, with_taps
from dsp.checking.points import Point, level_of, noise_of, ohm_of, predict
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]

Side = Literal["within", "too low", "too high"]
HELD = 0.975
"""Share of sound instruments that keep all of their bands."""
DRAWS = 4096
LEAST = 1e-6
"""Least half width: a jack that is open in every draw has none."""


@dataclass(frozen=True)
class Band:
    """What a reading of a sound instrument lies in.

    Attributes
    ----------
    typical_ohm, low_ohm, high_ohm : float
        The middle and the ends; beyond 18 MΩ a meter shows nothing.
    """

    point: Point
    typical_ohm: float
    low_ohm: float
    high_ohm: float

    def judge(self, ohm: float) -> Side:
        """Return on which side of it a reading, ``ohm``, lies."""
        level, low, high = level_of(np.array([ohm, self.low_ohm, self.high_ohm]))
        if level < low - 1e-9:
            return "too low"
        return "too high" if level > high + 1e-9 else "within"

    def holds(self, ohm: float) -> bool:
        """Return whether a reading, ``ohm``, lies in it."""
        return self.judge(ohm) == "within"


def find_bands(wiring: Wiring, points: Sequence[Point]) -> tuple[Band, ...]:
    """Return the band of every reading."""
    wiring = with_taps(wiring)
    directions = find_directions(wiring)
    copies = make_copies(wiring, directions, draw_steps(DRAWS, len(directions)))
    levels = predict(wiring, points, copies)
    levels = read_with_noise(levels, points, SEED + 1)
    middle, below, above = _widths(levels)
    beyond = np.maximum((levels - middle) / above, (middle - levels) / below).max(axis=1)
    wide = float(np.quantile(beyond, HELD))
    return tuple(
        Band(point, *(float(ohm_of(np.array(one))) for one in (at, at - wide * down, at + wide * up)))
        for point, at, down, up in zip(points, middle, below, above, strict=True)
    )


def read_with_noise(levels: Floats, points: Sequence[Point], seed: int) -> Floats:
    """Return levels as they are read: with errors, within the meter's range.

    Parameters
    ----------
    levels : ndarray, shape (count, n_points)

    Returns
    -------
    ndarray, shape (count, n_points)
    """
    error = noise_of(levels, points) * np.random.default_rng(seed).standard_normal(levels.shape)
    return level_of(ohm_of(levels + error))


def _widths(levels: Floats) -> tuple[Floats, Floats, Floats]:
    """Middle and half widths of each reading, which need not be alike on both sides."""
    low, middle, high = np.quantile(levels, (1 - HELD, 0.5, HELD), axis=0)
    return middle, np.maximum(middle - low, LEAST), np.maximum(high - middle, LEAST)
