"""A stiff string by finite differences, to judge the string model: nothing of it is known here.

The explicit scheme of S. Bilbao, Numerical Sound Synthesis (2009), ch. 7, from memory: second differences in
time and space, the fourth difference for the stiffness, ends supported. It keeps a discrete energy, which
is returned.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import diags_array, eye_array
from scipy.sparse.linalg import spsolve

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Run:
    """What a coil senses, m/s, and the energy at every sample, joule."""

    velocity: Floats
    energy: Floats


def finest_cells(
    *, length_m: float, tension_n: float, weight_kg_m: float, stiffness_nm2: float, rate_hz: int
) -> int:
    """Return the most grid cells that are stable at a rate, an even number."""
    least2 = tension_n / weight_kg_m / rate_hz**2
    bends2 = stiffness_nm2 / weight_kg_m / rate_hz**2
    finest_m = sqrt(0.5 * (least2 + sqrt(least2**2 + 16.0 * bends2)))
    return int(length_m / finest_m) // 2 * 2


def pluck(
    *,
    length_m: float,
    tension_n: float,
    weight_kg_m: float,
    stiffness_nm2: float,
    newton: float,
    at_m: float,
    width_m: float,
    release_s: float,
    coil_m: float,
    cells: int,
    rate_hz: int,
    seconds: float,
) -> Run:
    """Pull a string aside by a force over a width, let the force fall as half a cosine, and listen."""
    step_s, grid_m = 1.0 / rate_hz, length_m / cells
    speed2, stiff2 = tension_n / weight_kg_m, stiffness_nm2 / weight_kg_m
    second = diags_array([1.0, -2.0, 1.0], offsets=[-1, 0, 1], shape=(cells - 1, cells - 1)) / grid_m**2
    restoring = (speed2 * second - stiff2 * (second @ second)).tocsr()
    pull = newton * _spread(at_m, width_m, grid_m, cells) / (weight_kg_m * grid_m)
    now = spsolve(-restoring.tocsc(), pull)
    before = now.copy()
    ear = _spread(coil_m, 0.0, grid_m, cells)
    update = (2.0 * eye_array(cells - 1) + step_s**2 * restoring).tocsr()
    n = round(seconds * rate_hz)
    place, energy = np.zeros(n + 1), []
    for i in range(n):
        after = update @ now - before
        if i * step_s < release_s:
            after += step_s**2 * (0.5 + 0.5 * cos(pi * i * step_s / release_s)) * pull
        if i % 256 == 0:
            moving = np.sum(((now - before) / step_s) ** 2)
            energy.append(0.5 * weight_kg_m * grid_m * float(moving - before @ (restoring @ now)))
        place[i] = ear @ now
        before, now = now, after
    place[n] = ear @ now
    return Run(np.diff(place) / step_s, np.array(energy))


def _spread(at_m: float, width_m: float, grid_m: float, cells: int) -> Floats:
    """Share of a load over a width at every inner point of the grid, linear between points."""
    points = (
        at_m
        + width_m * (np.arange(ceil(width_m / grid_m) * 8 + 1) + 0.5) / (ceil(width_m / grid_m) * 8 + 1)
        - 0.5 * width_m
    )
    inner = np.arange(1, cells) * grid_m
    shares = np.maximum(1.0 - np.abs(points[:, None] - inner) / grid_m, 0.0)
    return np.asarray(shares.mean(axis=0))
