"""The scale and strings of the instrument that a wiring is for."""

from __future__ import annotations

import re
from dataclasses import dataclass

from dsp.errors import InputError

_NOTE = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?\d)")
_SEMITONE = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHIFT = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}


WRAPS = ("nickel-plated steel", "pure nickel", "stainless steel")
"""What wound strings are wrapped with; the first is the usual one (common practice)."""


@dataclass(frozen=True)
class GuitarString:
    """One string.

    Attributes
    ----------
    gauge_m : float
        Outer diameter.
    core_m : float or None
        Diameter of a wound string's core; None for the usual one of its gauge.
    wrap : str
        One of `WRAPS`; of a wound string alone.
    """

    pitch_hz: float
    gauge_m: float
    wound: bool = False
    note: str = ""
    core_m: float | None = None
    wrap: str = WRAPS[0]


@dataclass(frozen=True)
class Instrument:
    """Scale length from nut to bridge, and the strings, lowest first."""

    scale_m: float
    strings: tuple[GuitarString, ...] = ()


def pitch_hz(note: str, where: str = "note") -> float:
    """Return the frequency of a note such as B1 or F#3, in hertz.

    Tuning is equal temperament with A4 = 440 Hz.

    Raises
    ------
    InputError
        If the text is not a note name with an octave from 0 to 8.

    References
    ----------
    ISO 16:1975 for A4 = 440 Hz. Octave numbers follow scientific pitch notation.

    Examples
    --------
    >>> round(pitch_hz("B1"), 2)
    61.74
    """
    match = _NOTE.fullmatch(note.strip())
    if match is None or not 0 <= int(match[3]) <= 8:
        raise InputError(where, f"'{note}'", "a note with its octave, such as B1, F#3 or Bb2")
    semitone = _SEMITONE[match[1].upper()] + _SHIFT[match[2]] + 12 * (int(match[3]) + 1)
    return float(440.0 * 2.0 ** ((semitone - 69) / 12.0))
