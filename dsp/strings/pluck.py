"""Excitation of each partial by a pluck: place, width, release, force."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]

HARD_N_PER_N = 2.0 / 80.0
"""Force of a hard stroke relative to the string's tension: 2 N on a string of 80 N bends it by about
3 mm at a fifth of its length, as hard plucks do (from memory)."""


LEFT = "left"
"""What plucks in a hammer-on or a pull-off."""


@dataclass(frozen=True)
class Hand:
    """The pick or finger that releases the string.

    Attributes
    ----------
    width_m : float
        Length of string under it.
    release_s : float
        Time in which the force falls to zero, as half a cosine.
    """

    width_m: float
    release_s: float


HANDS = {
    "pick": Hand(0.0015, 0.0001),
    "thin pick": Hand(0.002, 0.0003),
    "thick pick": Hand(0.001, 0.00005),
    "finger": Hand(0.008, 0.0005),
    "thumb": Hand(0.012, 0.0008),
}
"""Orders of magnitude from pluck studies (from memory). A plectrum's release is published as gradual, up to
several ms (M. Zollner, Tonmeistertagung 2010); the attack of real notes above 1.5 kHz asks for less."""
FRET_HAND = Hand(0.01, 0.0005)
"""The fingertip of the left hand, in a hammer-on or a pull-off (our choice)."""


def pluck_velocity(
    string: TunedString,
    numbers: Floats,
    partials_hz: Floats,
    *,
    length_m: float,
    at_m: float,
    force: float,
    hand: str,
) -> Floats:
    """Return the velocity of each partial at its belly after a pluck.

    A force at one point that vanishes at once leaves 2 F sin(n pi x/l) / (m l w), with m the mass per
    length and w the angular frequency of the partial: on a flexible string 2 F sin(n pi x/l) / (pi Z n).

    Parameters
    ----------
    numbers : ndarray, shape (n,)
        Partial numbers.
    partials_hz : ndarray, shape (n,), Hz
    length_m : float
        Sounding length.
    at_m : float
        Place of the pluck, from the bridge.
    force : float
        0 to 1; 1 is a hard stroke.
    hand : str
        A key of `HANDS`, or `LEFT` for the left hand's.

    Returns
    -------
    ndarray, shape (n,), m/s

    References
    ----------
    N. Fletcher, T. Rossing, The Physics of Musical Instruments, ideal plucked string (from memory).
    """
    held = FRET_HAND if hand == LEFT else HANDS[hand]
    struck = strike_velocity(string, numbers, length_m=length_m, at_m=at_m, width_m=held.width_m)
    pushed = pluck_force(string, force) / (2.0 * pi * partials_hz)
    return np.asarray(pushed * struck * _released(partials_hz * held.release_s))


def pluck_force(string: TunedString, force: float) -> float:
    """Return the force that a pluck lets go, N, from one of 0 to 1."""
    return force * HARD_N_PER_N * string.tension_n


def strike_velocity(
    string: TunedString, numbers: Floats, *, length_m: float, at_m: float, width_m: float
) -> Floats:
    """Return the velocity of each partial at its belly after a short blow.

    Parameters
    ----------
    numbers : ndarray, shape (n,)
        Partial numbers.
    length_m, at_m : float
        Sounding length, and the blow's place from the bridge.
    width_m : float
        Length of string that it meets.

    Returns
    -------
    ndarray, shape (n,), m/s per N s
    """
    width = np.sinc(numbers * width_m / (2.0 * length_m))
    return np.asarray(2.0 / (string.weight_kg_m * length_m) * np.sin(numbers * pi * at_m / length_m) * width)


def _released(cycles: Floats) -> Floats:
    """Return the spectrum of a force that falls as half a cosine over some cycles."""
    near = np.abs(cycles - 0.5) < 1e-6
    safe = np.where(near, 0.0, cycles)
    return np.where(near, pi / 4.0, np.cos(pi * safe) / (1.0 - 4.0 * safe**2))
