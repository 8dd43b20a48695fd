"""Fewer candidates in place of many, at a known cost."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

NOISE_DB2 = 1e-9
"""Square of a distance, in bands, below which two points are the same."""
Floats = NDArray[np.float64]


def thin(points: Floats, kind: NDArray[np.int64], most: int) -> tuple[list[int], float]:
    """Return well-separated points, and the distance that they cover.

    No other point is farther than that from the nearest kept one of its kind. Kinds are thinned
    apart, so that a point replaces only its own kind. For any set of all points, some set of the
    kept ones has distances smaller by at most twice the cover.

    Parameters
    ----------
    points : ndarray, shape (n, n_bands), dB
    kind : ndarray of int, shape (n,)
    most : int
        Points to keep, if there are two kinds or more; half as many of one.

    Returns
    -------
    list of int
    float
        dB.
    """
    kept: list[int] = []
    radius = 0.0
    different = np.unique(kind)
    for one in different:
        members = np.flatnonzero(kind == one)
        chosen, far = _farthest(points[members], min(len(members), most // max(len(different), 2)))
        kept += members[chosen].tolist()
        radius = max(radius, far)
    return kept, radius / float(np.sqrt(points.shape[1]))


def _farthest(points: Floats, most: int) -> tuple[list[int], float]:
    """Return points, each farthest from the earlier, and the distance left."""
    square = np.sum(points**2, axis=1)
    chosen = [0]
    nearest = np.full(len(points), np.inf)
    while True:
        last = chosen[-1]
        apart = points @ points[last]
        apart *= -2.0
        apart += square
        apart += square[last]
        np.minimum(nearest, apart, out=nearest)
        farthest = int(np.argmax(nearest))
        if len(chosen) == most or nearest[farthest] <= NOISE_DB2:
            return chosen, float(np.sqrt(max(nearest[farthest], 0.0)))
        chosen.append(farthest)
