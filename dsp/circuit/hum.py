"""Hum left at the loaded output."""

from __future__ import annotations

import numpy as np

from dsp.circuit.reduction import Complex, Floats

HUM_HZ = np.array([50.0, 60.0, 100.0, 120.0, 150.0, 180.0, 250.0, 300.0])
"""Mains frequencies and the strongest harmonics of stray fields."""
NO_HUM_DB = -200.0
"""A residual below this is rounding."""
NOTHING_DB = -300.0
"""Stands for a residual of exactly zero."""


def hum_residual_db(coil: Complex, weights: Floats) -> float:
    """Compute the hum left, against that of the same coils all adding up.

    Parameters
    ----------
    coil : ndarray, shape (n_coils, n_freqs)
        Responses at `HUM_HZ` or other frequencies of hum.
    weights : ndarray, shape (n_coils,)
        Winding x turns_area of each coil.

    Returns
    -------
    float
        dB: 0 for a single coil, `NOTHING_DB` where nothing is left.

    Examples
    --------
    Two equally loud coils wound against one another, one with a tenth fewer turns.

    >>> coil = np.ones((2, len(HUM_HZ)), complex)
    >>> round(hum_residual_db(coil, np.array([1.0, -0.9])), 1)
    -25.6
    """
    left = np.sqrt(np.mean(np.abs(weights @ coil) ** 2))
    worst = np.sqrt(np.mean(np.sum(np.abs(weights[:, None] * coil), axis=0) ** 2))
    if worst == 0.0:
        return NOTHING_DB
    return float(max(20.0 * np.log10(max(left / worst, 1e-300)), NOTHING_DB))
