"""Where on a string a note sounds, and how strongly each coil senses its partials there."""

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
"""Semitones by which a note may be flat of its fret; beyond, it is the fret below, bent."""
HIGHEST_FRET = 36
WIDEST_BEND = 4.0
"""Semitones; a pitch that moves further has slid along the string, whose length then follows it."""


@dataclass(frozen=True)
class Place:
    """A sounding string: which, how long, how high, how stiff.

    Attributes
    ----------
    string : int
        Index in the instrument's list, 0 the lowest.
    length_m : float
        From the bridge to the fret.
    pitch_hz : float
        f0 of f_n = n f0 sqrt(1 + B n^2).
    stiffness : float
        B.
    """

    string: int
    length_m: float
    pitch_hz: float
    stiffness: float = 0.0


def fret_of(string: GuitarString, pitch_hz: float) -> int:
    """The fret at or next below a pitch; negative if the string is too high."""
    return floor(12.0 * log2(pitch_hz / string.pitch_hz) + FLAT_BY)


def choose_string(instrument: Instrument, pitch_hz: float, allowed: Sequence[int] = ()) -> int | None:
    """The string on which a pitch lies lowest on the neck.

    Parameters
    ----------
    instrument : Instrument
    pitch_hz : float
        Lowest pitch of the note.
    allowed : sequence of int
        Indices to choose from, 0 the lowest string; all where empty.

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
    """The sounding string at one moment of a note.

    Parameters
    ----------
    instrument : Instrument
    string : int
        Index, 0 the lowest.
    lowest_hz, highest_hz : float
        Of the whole note. A span up to `WIDEST_BEND` is a bend from the fret of the lowest
        pitch: the length stays. A wider one is a slide: the tension stays, so the length follows.
    pitch_hz : float
        At the moment.
    stiffness : float or None
        Measured; None for the gauge's.
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
    """n of f = n f0 sqrt(1 + B n^2) for every frequency, shape as given."""
    ratio = frequencies_hz / place.pitch_hz
    if place.stiffness < 1e-9:
        return ratio
    root = np.sqrt(1.0 + 4.0 * place.stiffness * np.square(ratio))
    numbers: Floats = np.sqrt((root - 1.0) / (2.0 * place.stiffness))
    return numbers


def partial_hz(place: Place, numbers: Floats) -> Floats:
    """Frequency of each partial, shape as given, Hz."""
    found: Floats = numbers * place.pitch_hz * np.sqrt(1.0 + place.stiffness * np.square(numbers))
    return found


def sensed(coil: Coil, place: Place, numbers: Floats) -> Floats:
    """EMF per m/s of each partial of the string's velocity, V.

    Parameters
    ----------
    coil : Coil
        With a place.
    place : Place
    numbers : ndarray, shape (n,)
        Partials; between them the same function.

    Returns
    -------
    ndarray, shape (n,)
    """
    assert coil.at_m is not None  # checked before any sound is read
    share = place_factor(coil.at_m, coil.aperture_m, numbers, place.length_m)
    return coil_sensitivity(coil, place.string) * share


def flat_sensor(at_m: float, place: Place, numbers: Floats) -> Complex:
    """What a flat sensor gives per m/s of each partial of the velocity.

    At the bridge itself it feels the string's slope: every partial alike, a quarter of a
    period from the velocity along the string.

    Parameters
    ----------
    at_m : float
        From the bridge.
    place : Place
    numbers : ndarray, shape (n,)
        Partials.

    Returns
    -------
    ndarray, shape (n,)
    """
    if at_m <= 0.0:
        return np.full(np.shape(numbers), -1j)
    found: Complex = np.sin(pi * numbers * (at_m / place.length_m)).astype(complex)
    return found
