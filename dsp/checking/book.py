"""The book of a wiring's faults: what each would read, and how the parts' spreads move it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import Direction, find_directions, with_taps
from dsp.checking.exciter import EXCITER, ExciterRig, find_exciter_directions, predict_all
from dsp.checking.faults import Fault, find_faults
from dsp.checking.points import Point
from dsp.checking.symptoms import ear_levels, ear_settings
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
STEP = 0.4
"""Standard deviations by which a slope is read."""


@dataclass(frozen=True)
class Book:
    """Predictions for every fault of one wiring.

    Attributes
    ----------
    faults : tuple of Fault
        The first is none.
    levels : ndarray, shape (n_faults, n_points)
        By `predict_all`, of parts as the file states them.
    slopes : ndarray, shape (n_faults, n_directions, n_points)
        Per standard deviation.
    heard : ndarray, shape (n_faults, n_ear_settings, 4)
        From `ear_levels`.
    rig : ExciterRig
        At the jack while an exciter plays.
    """

    faults: tuple[Fault, ...]
    directions: tuple[Direction, ...]
    points: tuple[Point, ...]
    ear: tuple[Setting, ...]
    levels: Floats
    slopes: Floats
    heard: Floats
    rig: ExciterRig = field(default_factory=ExciterRig)

    @property
    def usual(self) -> NDArray[np.int64]:
        """Numbers of the points that need no exciter, shape (n,)."""
        return np.array([i for i, point in enumerate(self.points) if not point.coil], int)

    @cached_property
    def bent(self) -> Floats:
        """What the spreads of parts move readings by, squared.

        Of shape (n_faults, n_points). An exciter's level is none of them: it moves logarithms along
        straight lines.
        """
        parts = [i for i, one in enumerate(self.directions) if one.part != EXCITER]
        return np.asarray(np.sum(self.slopes[:, parts] ** 2, axis=1))


def make_book(
    wiring: Wiring,
    points: Sequence[Point],
    kept: Callable[[Callable[[], Floats]], Floats] | None = None,
    progress: Callable[[float], None] | None = None,
    heard: Sequence[Setting] = (),
    rig: ExciterRig | None = None,
) -> Book:
    """Compute the book, or open it.

    Parameters
    ----------
    kept : callable, optional
        Given what makes the book's table, shape (n_faults, n_columns); returns it, from a store
        where it lies there.
    progress : callable, optional
        Called with the share that is done.
    heard : sequence of Setting
        Where words are heard, beside `ear_settings`.
    rig : ExciterRig, optional
        At the jack while an exciter plays; the usual one unless given.
    """
    wiring, rig = with_taps(wiring), rig or ExciterRig()
    with_exciter = any(point.coil for point in points)
    faults, directions = find_faults(wiring, magnets=with_exciter), find_directions(wiring)
    if with_exciter:
        directions += find_exciter_directions(wiring)
    ear = ear_settings(wiring, heard)

    def make() -> Floats:
        rows = []
        for i, one in enumerate(faults):
            levels = ear_levels(one.wiring, ear)
            rows.append(np.concatenate([read(one, directions, points, rig=rig).ravel(), levels.ravel()]))
            if progress:
                progress((i + 1) / len(faults))
        return np.array(rows)

    table = np.asarray((kept or (lambda compute: compute()))(make), float)
    n_read = (len(directions) + 1) * len(points)
    readings = table[:, :n_read].reshape(len(faults), len(directions) + 1, len(points))
    by_ear = table[:, n_read:].reshape(len(faults), len(ear), 4)
    return Book(faults, directions, tuple(points), ear, readings[:, 0], readings[:, 1:], by_ear, rig)


def read(
    fault: Fault,
    directions: Sequence[Direction],
    points: Sequence[Point],
    at: Floats | None = None,
    rig: ExciterRig | None = None,
) -> Floats:
    """Compute levels and slopes of a fault around some instrument.

    Parameters
    ----------
    at : ndarray, shape (n_directions,), optional
        Standard deviations of the instrument's parts; those of the file unless given.
    rig : ExciterRig, optional
        As of `predict_all`.

    Returns
    -------
    ndarray, shape (1 + n_directions, n_points)
        The level, then the slopes.
    """
    n = len(directions)
    steps = np.zeros((n + 1, n)) if at is None else np.tile(at, (n + 1, 1))
    steps[1:] += STEP * np.eye(n)
    levels = predict_all(fault.wiring, points, directions, steps, rig)
    levels[1:] = (levels[1:] - levels[0]) / STEP
    return levels
