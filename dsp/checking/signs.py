"""What readings by an exciter leave open: which way round it lies, and how much it induces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.checking.points import Point

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

SURE_SIGN = -1
"""Number of no group."""


def sign_groups(points: Sequence[Point], *, sides_kept: bool = True) -> Integers:
    """Return which readings share an unknown sign, shape (n_points,).

    Nobody knows which way round an exciter is wound, or a coil pulled at is recorded.

    Parameters
    ----------
    sides_kept : bool
        Whether the exciter lay on every coil with the same side down; else each coil has a sign of its
        own, and only those between settings tell.

    Returns
    -------
    ndarray
        Groups count from 0; `SURE_SIGN` where there is no doubt.
    """
    names: dict[tuple[str, str], int] = {}
    found = np.full(len(points), SURE_SIGN)
    for i, point in enumerate(points):
        if point.coil:
            own = "" if sides_kept or point.kind == "blade" else point.coil
            found[i] = names.setdefault((point.kind, own), len(names))
    return found


def turn_signs(levels: Floats, read: Floats, groups: Integers) -> Floats:
    """Return the signs that bring readings nearest to levels.

    Parameters
    ----------
    levels : ndarray, shape (n, n_points)
    read : ndarray, shape (n_points,)
    groups : ndarray, shape (n_points,)
        By `sign_groups`.

    Returns
    -------
    ndarray, shape (n, n_points)
        1 or -1, alike in each group.
    """
    found = np.ones(levels.shape)
    for group in range(groups.max(initial=SURE_SIGN) + 1):
        here = groups == group
        found[:, here] = np.where(levels[:, here] @ read[here] < 0.0, -1.0, 1.0)[:, None]
    return found


def without_level(off: Floats, toward: Floats, points: Sequence[Point], most: float) -> Floats:
    """Return differences of levels without those of the coils' own levels.

    Parameters
    ----------
    off : ndarray, shape (..., n_points)
        Differences.
    toward : ndarray, shape (..., n_points)
        Levels whose signs tell which way a louder exciter moves them.
    most : float
        By which a coil's level may move, a logarithm.

    Returns
    -------
    ndarray, shape (..., n_points)
    """
    coils = [point.coil if point.kind == "exciter" else "" for point in points]
    found = off
    for coil in dict.fromkeys(coils):
        here = [i for i, one in enumerate(coils) if one and one == coil]
        if not here:
            continue
        way = np.sign(toward[..., here])
        moved = np.sum(off[..., here] * way, axis=-1) / np.maximum(np.sum(np.abs(way), axis=-1), 1.0)
        found = found.copy() if found is off else found
        found[..., here] -= np.clip(moved, -most, most)[..., None] * way
    return found
