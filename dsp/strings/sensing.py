"""Sensitivity of a coil to each partial of a string."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]


def place_factor(coil_at_m: float, aperture_m: float, numbers: Floats, length_m: Floats | float) -> Floats:
    """Return the share of a partial's belly velocity that a coil senses.

    Parameters
    ----------
    coil_at_m, aperture_m : float
        Centre, from the bridge, and length of string sensed.
    numbers : ndarray
        Partial numbers.
    length_m : ndarray or float
        Sounding length, broadcast with the numbers. Beyond it the string is at rest.

    Returns
    -------
    ndarray, broadcast shape

    References
    ----------
    sin(n pi x/l) and the aperture's sinc: R. Paiva, J. Pakarinen, V. Valimaki, J. Audio Eng.
    Soc. 60 (2012) 768-782, for the idea; the uniform aperture is from memory.
    """
    length = np.asarray(length_m)
    place = np.sin(numbers * pi * coil_at_m / length)
    aperture = np.sinc(numbers * aperture_m / (2.0 * length))
    return np.where(coil_at_m < length, place * aperture, 0.0)


def string_sensitivity(coil: Coil, string: TunedString, index: int) -> float:
    """Return the EMF of a coil per velocity of a string, signed, V per m/s.

    Parameters
    ----------
    string : TunedString
        Its ``signal`` is what `dsp.strings.magnetised` says of the set.
    index : int
        Of the string, lowest first; selects the coil's balance.
    """
    return coil_sensitivity(coil, index) * string.signal


def coil_sensitivity(coil: Coil, index: int | None = None) -> float:
    """Return the signed sensitivity of a coil to a string, V per m/s.

    Parameters
    ----------
    index : int or None
        Of the string, lowest first; None if unknown, which ignores the balance.
    """
    balance = coil.string_balance_db
    balance_db = balance[index] if index is not None and index < len(balance) else 0.0
    return float(coil.string_sign * coil.sensitivity * 10.0 ** (balance_db / 20.0))
