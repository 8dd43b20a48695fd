"""Place a note on a string, and compute how strongly each coil senses its partials there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log2, pi

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.parts.instrument import GuitarString, Instrument
from dsp.strings.sensing import coil_sensitivity, place_factor
from dsp.strings.tuned import tune

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

FLAT_BY = 0.35
"""A note may be this many semitones flat of its fret; a flatter one is the fret below, bent."""
HIGHEST_FRET = 36
WIDEST_BEND = 4.0
"""Semitones; a pitch that moves further is a slide, and the sounding length follows it."""


@dataclass(frozen=True)
class Place:
    """A sounding string: its index, length, pitch and stiffness.

    Attributes
    ----------
    string : int
        Index in the instrument's list, 0 the lowest.
    length_m : float
        Distance from the bridge to the fret.
    pitch_hz : float
        f0 of f_n = n f0 sqrt(1 + B n^2).
    stiffness : float
        B.
    clear : tuple of float
        Measured share of each partial in what is heard at its place, from the first up; 1 to 0. Empty
        if it was not measured.
    """

    string: int
    length_m: float
    pitch_hz: float
    stiffness: float = 0.0
    clear: tuple[float, ...] = ()


def fret_of(string: GuitarString, pitch_hz: float) -> int:
    """Return the fret at or below a pitch; negative below the open string.

    Examples
    --------
    >>> low_e = GuitarString(82.41, 1.17e-3)
    >>> fret_of(low_e, 110.0), fret_of(low_e, 112.0), fret_of(low_e, 65.4)
    (5, 5, -4)
    """
    return floor(12.0 * log2(pitch_hz / string.pitch_hz) + FLAT_BY)


def choose_string(instrument: Instrument, pitch_hz: float, allowed: Sequence[int] = ()) -> int | None:
    """Choose the string on which a pitch lies lowest on the neck.

    Parameters
    ----------
    pitch_hz : float
        Lowest pitch of the note.
    allowed : sequence of int
        Indices to choose from, 0 the lowest string; empty for all.

    Returns
    -------
    int or None
        Index of the string; None if none can play it.
    """
    strings = instrument.strings
    frets = {i: fret_of(strings[i], pitch_hz) for i in allowed or range(len(strings))}
    playable = {i: fret for i, fret in frets.items() if 0 <= fret <= HIGHEST_FRET}
    return min(playable, key=lambda i: playable[i]) if playable else None


def place_of(
    instrument: Instrument,
    string: int,
    lowest_hz: float,
    highest_hz: float,
    pitch_hz: float,
    stiffness: float | None = None,
) -> Place:
    """Return the sounding string at one moment of a note.

    Parameters
    ----------
    string : int
        Index, 0 the lowest.
    lowest_hz, highest_hz : float
        Limits of the whole note. A span up to `WIDEST_BEND` is a bend from the fret of the lowest
        pitch: the length stays. A wider one is a slide: the tension stays, so the length follows.
    pitch_hz : float
        Pitch at the moment.
    stiffness : float or None
        As measured; None computes it from the gauge.
    """
    open_string = instrument.strings[string]
    if 12.0 * log2(highest_hz / lowest_hz) > WIDEST_BEND:
        share = open_string.pitch_hz / pitch_hz
    else:
        share = 2.0 ** (-min(max(fret_of(open_string, lowest_hz), 0), HIGHEST_FRET) / 12.0)
    if stiffness is None:
        length_m = instrument.scale_m * share
        stiffness = tune(open_string, instrument.scale_m).inharmonicity(length_m)
    return Place(string, instrument.scale_m * share, pitch_hz, stiffness)


def partial_numbers(place: Place, frequencies_hz: Floats) -> Floats:
    """Solve f = n f0 sqrt(1 + B n^2) for n at every frequency, shape as given."""
    ratio = frequencies_hz / place.pitch_hz
    if place.stiffness < 1e-9:
        return ratio
    root = np.sqrt(1.0 + 4.0 * place.stiffness * np.square(ratio))
    numbers: Floats = np.sqrt((root - 1.0) / (2.0 * place.stiffness))
    return numbers


def partial_hz(place: Place, numbers: Floats) -> Floats:
    """Frequency of each partial, shape as given, Hz.

    Examples
    --------
    >>> place = Place(0, 0.648, 82.41, 1e-4)
    >>> partial_hz(place, np.array([1.0, 10.0])).round(2).tolist()
    [82.41, 828.21]
    >>> partial_numbers(place, np.array([828.21])).round(3).tolist()
    [10.0]
    """
    found: Floats = numbers * place.pitch_hz * np.sqrt(1.0 + place.stiffness * np.square(numbers))
    return found


def sensed(coil: Coil, place: Place, numbers: Floats) -> Floats:
    """EMF of a coil per m/s of each partial of the string's velocity, V.

    Parameters
    ----------
    coil : Coil
        With a place.
    numbers : ndarray, shape (n,)
        Numbers of partials; fractions are allowed.

    Returns
    -------
    ndarray, shape (n,)
    """
    if coil.dummy:
        return np.zeros(len(numbers))
    assert coil.at_m is not None  # require_places has checked it
    share = place_factor(coil.at_m, coil.aperture_m, numbers, place.length_m)
    return coil_sensitivity(coil, place.string) * share


def flat_sensor(at_m: float, place: Place, numbers: Floats) -> Complex:
    """Output of a flat sensor per m/s of each partial of the velocity.

    At the bridge itself it senses the slope of the string: every partial alike, a quarter of a
    period from the velocity along the string.

    Parameters
    ----------
    at_m : float
        Distance from the bridge.
    numbers : ndarray, shape (n,)
        Numbers of partials.

    Returns
    -------
    ndarray, shape (n,)
    """
    if at_m <= 0.0:
        return np.full(np.shape(numbers), -1j)
    found: Complex = np.sin(pi * numbers * (at_m / place.length_m)).astype(complex)
    return found
