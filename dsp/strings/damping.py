"""Decay rates of a string's partials: the string's own, and what ends and hands add."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from dsp.strings.tuned import RUBS_AT_HZ, TunedString

Floats = NDArray[np.float64]

AIR_PA_S = 1.8e-5
AIR_KG_M3 = 1.2
PALM_M = 0.03
"""Length of string under a palm laid on the bridge."""
PALM_PER_S = 1200.0
"""Decay rate from a whole palm over a partial's belly; set by ear, no source."""
DEAD_PER_S = 40.0
"""Decay rate from fingers laid across the string: a thud of some 0.15 s; set by ear, no source."""
TOUCH_PER_S = 300.0
"""Decay rate from a fingertip on a belly; set by ear, no source."""


def decay_rate(string: TunedString, partials_hz: Floats) -> Floats:
    """Return the decay rates of partials of an isolated string.

    Parameters
    ----------
    partials_hz : ndarray, any shape, Hz

    Returns
    -------
    ndarray, same shape, 1/s
        Amplitudes fall as exp(-rate t).

    References
    ----------
    C. Issanchou et al., J. Sound Vib. 393 (2017) 229-251, eq. 12: air by viscosity, bending,
    and a constant part. `dsp.strings.tuned.Loss` says what a wound string has beyond that.
    """
    air_kg_s = 2.0 * pi * AIR_PA_S + 2.0 * pi * string.diameter_m * np.sqrt(
        pi * AIR_PA_S * AIR_KG_M3 * partials_hz
    )
    by_air = air_kg_s / (2.0 * pi * string.weight_kg_m * partials_hz)
    angle = string.loss.bending + string.loss.rubbing * RUBS_AT_HZ / partials_hz
    by_bending = (
        4.0
        * pi**2
        * string.weight_kg_m
        * string.stiffness_nm2
        * angle
        * (partials_hz / string.tension_n) ** 2
    )
    return pi * partials_hz * (by_air + by_bending + string.loss.friction)


def end_rate(string: TunedString, pitch_hz: Floats | float, conductance_s_kg: float) -> Floats:
    """Return the decay rate that a yielding end adds to every partial.

    Each round trip leaves 1 - 2 Z G of the amplitude (Z wave impedance, G conductance), and the
    pitch is the number of round trips a second. The loss adds to the string's own:
    A. Pate, J.-L. Le Carrou, B. Fabre, J. Acoust. Soc. Am. (2014).

    Parameters
    ----------
    pitch_hz : ndarray or float, Hz
    conductance_s_kg : float
        Of the end, the inverse of its resistance to motion.

    Returns
    -------
    ndarray, shape of pitch_hz, 1/s
    """
    return np.asarray(2.0 * string.impedance_kg_s * conductance_s_kg * pitch_hz)


def palm_rate(numbers: Floats, length_m: Floats | float, mute: float) -> Floats:
    """Return the decay rate that a palm on the strings at the bridge adds.

    The palm damps evenly over its width, so each partial loses in proportion to the mean of
    sin^2 over that width.

    Parameters
    ----------
    numbers : ndarray
        Partial numbers.
    length_m : ndarray or float
        Sounding length, broadcast with the numbers.
    mute : float
        0 to 1.

    Returns
    -------
    ndarray, broadcast shape, 1/s
    """
    if mute <= 0.0:
        return np.zeros(np.broadcast(numbers, length_m).shape)
    width = np.minimum(PALM_M, length_m)
    phase = 2.0 * pi * numbers * width / length_m
    return np.asarray(mute * PALM_PER_S * 0.5 * (1.0 - np.sinc(phase / pi)))


def touch_rate(numbers: Floats, harmonic: int) -> Floats:
    """Return the decay rate that a fingertip at a node adds.

    Parameters
    ----------
    numbers : ndarray
        Partial numbers.
    harmonic : int
        The finger touches at length / ``harmonic``; 1 for no touch. Partials with a node there
        are not damped.

    Returns
    -------
    ndarray, shape of numbers, 1/s
    """
    return np.asarray(TOUCH_PER_S * np.sin(pi * numbers / harmonic) ** 2) * (harmonic > 1)
