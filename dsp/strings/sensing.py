"""Sensitivity of a coil to each partial of a string."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.parts.instrument import WRAPS
from dsp.strings.tuned import STEEL_PA, WRAP_FILL, TunedString

Floats = NDArray[np.float64]

SECTION_KG_M = 1e-3
"""Mass per length of the string to which a coil's sensitivity refers: 0.40 mm of plain steel."""
SECTION_POWER = 0.5
"""The signal of a string grows with its cross-section (AES e-library 19201), and pole heights usually
compensate for part of that. We assume a square root, between level poles (1) and equal strings (0).
`string_balance` states what a given guitar has. `level_pole_gain` is the signal over level poles."""
SECTION_M2 = pi * 0.4e-3**2 / 4.0
"""Magnetised section of the same string."""
WRAP_COUNTS = dict.fromkeys(WRAPS, 0.1)
"""Share of a wrap's metal that counts beside the core. Published: the signal of plain strings grows with
their section, wound ones give a weaker fundamental, and the wrap's material has no influence (JAES
65(9):711, 2017, abstract). By their whole section wound bass strings would be some 15 dB above the plain
ones over level poles; sets are about even there (common practice). The tenth is our own choice."""


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
    index : int
        Of the string, lowest first; selects the coil's balance.
    """
    return coil_sensitivity(coil, index) * section_gain(string)


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


def section_gain(string: TunedString) -> float:
    """Return the signal of a string relative to one of `SECTION_KG_M`."""
    return float((string.weight_kg_m / SECTION_KG_M) ** SECTION_POWER)


def level_pole_gain(string: TunedString, wrap: str = WRAPS[0]) -> float:
    """Return the signal of a string over level poles, re `SECTION_M2`.

    The core magnetises whole, the wrap by `WRAP_COUNTS`.

    Parameters
    ----------
    wrap : str
        One of `WRAPS`; a plain string has none to count.
    """
    core_m2 = pi * sqrt(4.0 * string.stiffness_nm2 / (pi * STEEL_PA))  # of E I = E pi d^4 / 64
    wrap_m2 = WRAP_FILL * max(pi * string.diameter_m**2 / 4.0 - core_m2, 0.0)
    return (core_m2 + WRAP_COUNTS[wrap] * wrap_m2) / SECTION_M2
