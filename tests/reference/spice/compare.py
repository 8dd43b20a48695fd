"""Comparing complex responses: level and phase where there is something, the difference below."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from tolerances import (
    FLOOR,
    FLOOR_DIFFERENCE,
    FLOOR_DIFFERENCE_OHM,
    FLOOR_OHM,
    LEVEL_DB,
    PHASE_DEG,
)

Complexes = NDArray[np.complex128]


@dataclass(frozen=True)
class Scale:
    """Where ratios end, and the largest difference allowed below, in the response's unit."""

    floor: float
    difference: float


VOLTS = Scale(FLOOR, FLOOR_DIFFERENCE)
OHMS = Scale(FLOOR_OHM, FLOOR_DIFFERENCE_OHM)


@dataclass(frozen=True)
class Deviation:
    """Worst differences between two responses: dB, degrees, and below the floor in their unit."""

    level_db: float
    phase_deg: float
    below_floor: float


def deviation(got: ArrayLike, want: Complexes, scale: Scale = VOLTS) -> Deviation:
    """The worst deviation of `got` from the reference `want`, both of shape (n_freqs,).

    Raises
    ------
    ValueError
        If the shapes differ or a value is not finite.
    """
    values = np.asarray(got, dtype=np.complex128)
    if values.shape != want.shape:
        raise ValueError(f"shape {values.shape}, reference has {want.shape}")
    if not (np.isfinite(values).all() and np.isfinite(want).all()):
        raise ValueError("a response is not finite")
    loud = np.abs(want) >= scale.floor
    if not loud.any():
        return Deviation(0.0, 0.0, float(np.abs(values - want).max()))
    if not np.abs(values[loud]).all():
        return Deviation(float("inf"), 180.0, 0.0)
    ratio = values[loud] / want[loud]
    level = np.abs(20.0 * np.log10(np.abs(ratio))).max()
    phase = np.abs(np.degrees(np.angle(ratio))).max()
    below = float(np.abs(values - want)[~loud].max(initial=0.0))
    return Deviation(float(level), float(phase), below)


def agrees(
    found: Deviation, scale: Scale = VOLTS, *, level_db: float = LEVEL_DB, phase_deg: float = PHASE_DEG
) -> bool:
    """Whether a deviation is within the tolerances."""
    return (
        found.level_db <= level_db and found.phase_deg <= phase_deg and found.below_floor <= scale.difference
    )
