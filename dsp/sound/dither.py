"""Convert floating point to integer samples: dither at 16 bits, rounding at 24.

The scale is 2**(bits - 1), by which readers divide, so that samples read back are within a step
of those written. Full scale itself cannot be reached, since the largest integer is one less.
Nothing wraps or clips: a sample that does not fit is an error.

References
----------
S. P. Lipshitz, R. A. Wannamaker, J. Vanderkooy, "Quantization and Dither: A Theoretical
Survey", J. Audio Eng. Soc. 40(5), 355-375 (1992), from memory: triangular dither of two steps
peak to peak makes the mean and the variance of the total error independent of the signal;
its variance is 1/12 + 2/12 = 1/4 step squared.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError

Floats = NDArray[np.float64]

SCALE_16 = 2**15
SCALE_24 = 2**23
LARGEST_16 = (SCALE_16 - 2) / SCALE_16  # one step for the dither, one because integers end at 32767
LARGEST_24 = (SCALE_24 - 1) / SCALE_24


class Dither:
    """Converts blocks to 16-bit integers; the block size does not matter.

    Parameters
    ----------
    seed : int
        The same seed gives the same file.
    """

    def __init__(self, seed: int) -> None:
        self._random = np.random.Generator(np.random.PCG64(seed))

    def to_int16(self, samples: Floats) -> NDArray[np.int16]:
        """Convert the next block to 16-bit integers, same shape; see `to_int16`."""
        _must_fit(samples, LARGEST_16, bits=16)
        pairs = self._random.random((*samples.shape, 2))
        dithered = samples * SCALE_16 + (pairs[..., 0] - pairs[..., 1])
        return np.rint(dithered).astype(np.int16)


def to_int16(samples: Floats, seed: int) -> NDArray[np.int16]:
    """Convert samples to 16-bit integers with triangular dither, same shape.

    Parameters
    ----------
    samples : ndarray, any shape, full scale 1
        Magnitudes up to ``LARGEST_16`` (-0.0005 dB).

    Returns
    -------
    ndarray of int16
        ``round(32768 * samples + dither)``, the dither triangular over -1 to 1 step.

    Raises
    ------
    InputError
        When a sample does not fit, or is not a number.
    """
    return Dither(seed).to_int16(samples)


def to_int24(samples: Floats) -> NDArray[np.int32]:
    """Round samples to 24 bits, in the upper three bytes; same shape.

    No dither: a step of 24 bits is at -138 dB, below the thermal noise of any resistor in a guitar.

    Raises
    ------
    InputError
        When a sample does not fit, or is not a number.
    """
    _must_fit(samples, LARGEST_24, bits=24)
    return np.rint(samples * SCALE_24).astype(np.int32) << np.int32(8)


def _must_fit(samples: Floats, largest: float, *, bits: int) -> None:
    top = float(np.max(np.abs(samples), initial=0.0))
    if not top <= largest:  # also true for NaN
        raise InputError(
            f"{bits}-bit samples",
            f"{top:.6g}",
            f"magnitudes up to {largest:.6f}",
            "lower the gain of the set",
        )
