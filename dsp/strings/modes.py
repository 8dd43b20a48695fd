"""The modes of one pluck: their complex rates and their EMF in every coil."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, radians

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.damping import decay_rate, end_rate, palm_rate, touch_rate
from dsp.strings.note import Note
from dsp.strings.pluck import pluck_velocity
from dsp.strings.sensing import place_factor, string_sensitivity
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

TOP_HZ = 20_000.0
TOP_SHARE = 0.46
"""Of the sampling rate: partials above it would alias."""
FADES_BY = 1.08
"""A moving partial fades out between the top and this multiple of it, below half of any rate."""
MOST_PARTIALS = 1000


@dataclass(frozen=True)
class Plane:
    """One polarisation of the string.

    Attributes
    ----------
    sensitivity : float
        Of a coil to this plane, 1 for the plane through the coil.
    angle : float
        From the usual direction of the pluck to the plane, radians.
    pitch : float
        Ratio to the nominal pitch.
    conductance_s_kg : float
        Of the ends.
    """

    sensitivity: float
    angle: float
    pitch: float
    conductance_s_kg: float

    def share(self, turned: float = 0.0) -> float:
        """Return the share of a pluck in this plane.

        Parameters
        ----------
        turned : float
            As in `dsp.strings.note.Note`.
        """
        return cos(self.angle + turned)


DRAWN_AT = radians(40.0)
"""Usual angle of the pluck to the plane through the coil, our choice: between a strum and a plucked bass."""
PLANES = (
    Plane(1.0, DRAWN_AT, 1.0, 3e-3),
    Plane(0.22, DRAWN_AT - pi / 2.0, 1.00045, 5e-4),
)
"""First the plane normal to the body: coils sense it far more strongly, and the neck damps it more (A.
Pate, J.-L. Le Carrou, B. Fabre, J. Acoust. Soc. Am. 2014). Then the plane of the body. Its sensing is that of
a string 2 mm beside the pole's axis. The planes are 0.8 cent apart, as if 0.3 mm of length differed at fret,
nut and saddle, so that partials beat. Both are our choice, held to the wobble of real notes. The first
conductance is fitted to their decay (tests/reference/test_string_fit.py); no published one was found."""
ONE_PLANE = (Plane(1.0, 0.0, 1.0, 0.0),)
"""An isolated string that moves in the plane through the coil, to compare with published laws."""


@dataclass(frozen=True)
class Modes:
    """Modes of a pluck, one plane after another.

    Attributes
    ----------
    numbers : ndarray, shape (n,)
        Partial number.
    pitch : ndarray, shape (n,)
        Ratio to the nominal pitch, of the mode's plane.
    conductance_s_kg : ndarray, shape (n,)
    sensitivity : ndarray, shape (n,)
        Of coils to the mode's plane.
    belly_m_s : ndarray, shape (n,)
        Velocity amplitude at the belly, times that sensitivity.
    """

    numbers: Floats
    pitch: Floats
    conductance_s_kg: Floats
    sensitivity: Floats
    belly_m_s: Floats

    def select(self, which: NDArray[np.bool_]) -> Modes:
        """Return some of the modes.

        Parameters
        ----------
        which : ndarray, shape (n,)
        """
        kept = (self.numbers, self.pitch, self.conductance_s_kg, self.sensitivity, self.belly_m_s)
        return Modes(*(values[which] for values in kept))


def partial_frequencies(
    string: TunedString, numbers: Floats, length_m: Floats | float, bent: Floats | float = 1.0
) -> Floats:
    """Return the partials of a stiff string, f_n = n f0 sqrt(1 + B n^2).

    Parameters
    ----------
    numbers : ndarray
    length_m : ndarray or float
        Sounding length, broadcast.
    bent : ndarray or float
        Wave speed relative to rest. Tension rises with its square, so B falls.

    Returns
    -------
    ndarray, broadcast shape, Hz

    References
    ----------
    H. Fletcher, J. Acoust. Soc. Am. 36 (1964) 203.
    """
    stiff = string.inharmonicity(1.0) * (numbers / length_m) ** 2
    return np.asarray(numbers * string.speed_m_s / (2.0 * length_m) * np.sqrt(bent**2 + stiff))


def modes_of(note: Note, string: TunedString, rate_hz: float, *, planes: Sequence[Plane] = PLANES) -> Modes:
    """Return the modes that a pluck excites, up to the top of the band.

    Parameters
    ----------
    rate_hz : float
        Sampling rate; partials above 20 kHz or 46 % of it are left out.
    """
    length_m = note.length_m(string.length_m)
    numbers = np.arange(1.0, MOST_PARTIALS + 1.0)
    partials_hz = partial_frequencies(string, numbers, length_m)
    within = partials_hz * max(plane.pitch for plane in planes) < _top_hz(rate_hz)
    numbers, partials_hz = numbers[within], partials_hz[within]
    belly = pluck_velocity(
        string,
        numbers,
        partials_hz,
        length_m=length_m,
        at_m=note.pluck_at_m,
        force=-note.force if note.up else note.force,
        hand=note.hand,
    )
    return Modes(
        np.tile(numbers, len(planes)),
        np.repeat([plane.pitch for plane in planes], len(numbers)),
        np.repeat([plane.conductance_s_kg for plane in planes], len(numbers)),
        np.repeat([plane.sensitivity for plane in planes], len(numbers)),
        np.concatenate([belly * plane.share(note.turned) * plane.sensitivity for plane in planes]),
    )


def _top_hz(rate_hz: float) -> float:
    return min(TOP_HZ, TOP_SHARE * rate_hz)


def band_gain(hz: Floats, rate_hz: float) -> Floats:
    """Return the gain that fades out aliases, shape of hz.

    1 up to the top of the band. `modes_of` makes no mode above it; slides and bends can.
    """
    return np.asarray(np.clip((FADES_BY - hz / _top_hz(rate_hz)) / (FADES_BY - 1.0), 0.0, 1.0))


def mode_rates(
    modes: Modes, note: Note, string: TunedString, length_m: Floats | float, bent: Floats | float = 1.0
) -> Complexes:
    """Return the complex rates of modes: -decay + j angular frequency.

    Parameters
    ----------
    note : Note
        Its palm and touch add to the decay.
    length_m, bent : ndarray, shape (k, 1), or float
        As in `partial_frequencies`.

    Returns
    -------
    ndarray, shape (n,) or (k, n), 1/s
    """
    hz = modes.pitch * partial_frequencies(string, modes.numbers, length_m, bent)
    pitch_hz = string.speed_m_s * bent / (2.0 * length_m)
    decay = decay_rate(string, hz) + end_rate(string, pitch_hz, 1.0) * modes.conductance_s_kg
    decay = decay + palm_rate(modes.numbers, length_m, note.mute) + touch_rate(modes.numbers, note.harmonic)
    return np.asarray(-decay + 2j * pi * hz)


def mode_emfs(
    modes: Modes, string: TunedString, index: int, coils: Sequence[Coil], length_m: Floats | float
) -> Complexes:
    """Return the EMF amplitude of every mode in every coil at the pluck.

    Parameters
    ----------
    index : int
        Of the string, lowest first.
    coils : sequence of Coil
        Each with a place.
    length_m : ndarray, shape (k, 1), or float

    Returns
    -------
    ndarray, shape (n_coils, n) or (n_coils, k, n), volt
        Imaginary: the string starts from rest, so velocities start as minus a sine.
    """
    places = np.array(
        [
            string_sensitivity(coil, string, index)
            * place_factor(coil.at_m or 0.0, coil.aperture_m, modes.numbers, length_m)
            for coil in coils
        ]
    )
    return np.asarray(1j * modes.belly_m_s * places)


def mode_displacements(
    modes: Modes, coils: Sequence[Coil], length_m: Floats | float, hz: Floats
) -> Complexes:
    """Return the displacement of every mode over every coil, towards it.

    Parameters
    ----------
    length_m : ndarray, shape (k, 1), or float
    hz : ndarray, shape (n,) or (k, n), Hz
        Frequencies of the modes.

    Returns
    -------
    ndarray, shape (n_coils, n) or (n_coils, k, n), metre
        The integral of the velocity: a cosine at the pluck.
    """
    places = np.array(
        [place_factor(coil.at_m or 0.0, coil.aperture_m, modes.numbers, length_m) for coil in coils]
    )
    return np.asarray(modes.belly_m_s * places / (2.0 * pi * hz), dtype=complex)
