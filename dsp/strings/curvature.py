"""The field of a magnet falls with distance: a string is louder as it swings closer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import ceil

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

NEAREST = 0.9
"""Share of the law's distance that a displacement is limited to."""
PLAIN_RATE_HZ = 40_000.0
"""Sampling rates from twice this rate down compute the flux at every second sample, and so on."""
TOP_SHARE = 0.2
"""Of the flux's own rate: displacements above it are small, and their squares would alias; left out."""
REACH = 16
"""Samples of the flux on either side that its slope is computed from."""
PASSES, STOPS = 0.42, 0.58
"""Shares of the flux's own rate between which the slope fades out."""
KAISER = 7.0
WHOLE_POWERS = (1.0, 2.0, 4.0, 8.0, 16.0)
"""Exponents that need no logarithm."""
AT_ONCE = 64
"""Samples of the flux per product."""


@dataclass(frozen=True)
class Curvature:
    """Flux through a coil by a power law of the string's distance.

    Attributes
    ----------
    distance_m : float
        From the string at rest to the pole of the law.
    power : float
        Exponent. With a large one the law is nearly exponential: distortion then follows the amplitude, and
        the height of the magnet hardly matters, as published (JAES 65(9):711, 2017). Sensitivity grows by
        (power + 1) / distance = 0.8 per mm at rest, our calculation for the flux of a pole 4.8 mm across,
        3.5 mm below the string.

    References
    ----------
    Static law of distance, then the derivative in time: A. Novak et al., Appl. Sci. 7(1):50
    (2017), who question whether that suffices; forms: R. Paiva et al., J. Audio Eng. Soc. 60 (2012).
    No measured constants are published.
    """

    distance_m: float = 0.01125
    power: float = 8.0

    def bent_flux(self, towards_m: Singles) -> Singles:
        """Return the part of the flux that does not follow the displacement.

        With flux (d - z)^-p, scaled so that its slope at rest is 1, less z itself.

        Parameters
        ----------
        towards_m : ndarray, any shape, metre
            Displacement towards the coil, limited to nine tenths of the distance.

        Returns
        -------
        ndarray, same shape, metre
        """
        distance = np.float32(self.distance_m)
        near = np.minimum(towards_m * (np.float32(1.0) / distance), np.float32(NEAREST))
        if self.power == 0.0:
            return np.asarray(-distance * (np.log1p(-near) + near), np.float32)
        if self.power not in WHOLE_POWERS:
            risen = (np.float32(1.0) - near) ** np.float32(-self.power)
            return np.asarray(
                distance * ((risen - np.float32(1.0)) / np.float32(self.power) - near), np.float32
            )
        return np.asarray(distance * (near * _excess(near, self.power)), np.float32)


def _excess(near: Singles, power: float) -> Singles:
    """Return ((1 - near)^-power - 1) / (power near) - 1, power a whole power of two.

    With d = (1 - near)^-1 - 1 it is (1 + d) (1 + d/2) (1 + e/2) (1 + f/2) ... - 1, where 1 + e is the square
    of 1 + d, and 1 + f that of 1 + e. No step takes two near values from each other, so that single
    precision keeps small swings.
    """
    above = near / (np.float32(1.0) - near)
    excess = above.copy()
    for _ in range(WHOLE_POWERS.index(power)):
        half = np.float32(0.5) * above
        excess += half + excess * half
        above = above * (np.float32(2.0) + above)
    return excess


def step_of(rate_hz: float) -> int:
    """Return how many samples lie between two of the flux: a power of two."""
    step = 1
    while rate_hz / step >= PLAIN_RATE_HZ:
        step *= 2
    return step


def slope(flux: Singles, first: int, n_samples: int, rate_hz: float) -> Singles:
    """Return the derivative of a flux in time at the full sampling rate.

    Parameters
    ----------
    flux : ndarray, shape (n_rows, m)
        At every `step_of` samples; entry `REACH` belongs to sample ``first``.
    first : int
        Samples by which the first result lies after entry `REACH`, below the step.
    n_samples : int
        To return.

    Returns
    -------
    ndarray, shape (n_rows, n_samples), units of the flux per second
    """
    step = step_of(rate_hz)
    taps = _slope_taps(step) * np.float32(rate_hz / step)
    n_chunks = ceil((first + n_samples) / step / AT_ONCE)
    wanted = n_chunks * AT_ONCE + 2 * REACH
    padded = np.pad(flux[:, :wanted], ((0, 0), (0, max(wanted - flux.shape[1], 0))))
    windows = np.lib.stride_tricks.sliding_window_view(padded, AT_ONCE + 2 * REACH, axis=1)[:, ::AT_ONCE]
    found = windows.reshape(-1, AT_ONCE + 2 * REACH) @ taps
    return found.reshape(len(flux), -1)[:, first : first + n_samples]


@cache
def _slope_taps(step: int) -> Singles:
    """Return a matrix from a window of flux to its slope at ``step`` times as many samples.

    A windowed sinc, differentiated: shape (AT_ONCE + 2 REACH, AT_ONCE step), for samples 1 s apart.
    """
    at = np.arange(AT_ONCE * step)[None, :] / step + REACH - np.arange(AT_ONCE + 2 * REACH)[:, None]
    small = 1e-4
    ahead, behind = (_interpolated(at + d) for d in (small, -small))
    return np.asarray((ahead - behind) / (2.0 * small), np.float32)


def _interpolated(at: Floats) -> Floats:
    inside = np.sqrt(np.maximum(1.0 - (at / REACH) ** 2, 0.0))
    window = np.i0(KAISER * inside) / np.i0(KAISER) * (np.abs(at) < REACH)
    return np.asarray((PASSES + STOPS) * np.sinc((PASSES + STOPS) * at) * window)
