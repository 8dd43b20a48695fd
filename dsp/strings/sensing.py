"""How strongly a coil senses each partial of a string."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]

SECTION_KG_M = 1e-3
"""Weight per length of the string for which a coil's sensitivity is stated: 0.40 mm of plain steel."""
SECTION_POWER = 0.5
"""The signal of a string grows with its cross-section (AES e-library 19201); pole heights, as guitars
are set up, take part of that back. A square root is our assumption between level poles (1) and all
strings alike (0); `string_balance` is there for what a guitar really has."""


def place_factor(coil_at_m: float, aperture_m: float, numbers: Floats, length_m: Floats | float) -> Floats:
    """Share of a partial's belly velocity that a coil senses at its place.

    Parameters
    ----------
    coil_at_m, aperture_m : float
        Centre from the bridge, and length of string sensed.
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
    """Volts per m/s of a string in a coil, with the sign of its EMF.

    Parameters
    ----------
    index : int
        Of the string, lowest first; for the coil's balance.
    """
    return coil_sensitivity(coil, index) * section_gain(string)


def coil_sensitivity(coil: Coil, index: int | None = None) -> float:
    """Signed sensitivity of a coil to one of its strings, V per m/s.

    Parameters
    ----------
    index : int or None
        Of the string, lowest first; None where it is not known: balance is left out.
    """
    balance = coil.string_balance_db
    balance_db = balance[index] if index is not None and index < len(balance) else 0.0
    return float(coil.string_sign * coil.sensitivity * 10.0 ** (balance_db / 20.0))


def section_gain(string: TunedString) -> float:
    """Signal of a string re one of the weight sensitivities are stated for."""
    return float((string.weight_kg_m / SECTION_KG_M) ** SECTION_POWER)
