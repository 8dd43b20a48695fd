"""The fingerboard as a hand meets it: pitches of strings, places of frets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import log2

from dsp.parts.instrument import Instrument

OCTAVE = 12
FINGERS = 4
LEAST_COURSES = 4
"""Fewer pairs than that are taken for single strings."""


@dataclass(frozen=True)
class Board:
    """Strings, or courses of two, and frets.

    Attributes
    ----------
    keys : tuple of int
        MIDI key of each open string, lowest string first; of a course that of its lower string.
    reach_m : float
        Widest distance between the frets that one hand holds down together.
    """

    keys: tuple[int, ...]
    scale_m: float
    highest_fret: int
    reach_m: float

    @cached_property
    def frets_m(self) -> tuple[float, ...]:
        """Distance of each fret from the bridge, that of the nut first."""
        return tuple(self.scale_m * 2.0 ** (-fret / 12.0) for fret in range(self.highest_fret + 1))

    def span_m(self, low: int, high: int) -> float:
        """Return the distance from fret to fret."""
        return self.frets_m[low] - self.frets_m[high]

    def name(self, string: int) -> str:
        """Name a string as players count: 1 is the highest."""
        return f"string {len(self.keys) - string}"


def board_of(instrument: Instrument, courses: int | None, highest_fret: int, reach_m: float) -> Board:
    """Return the fingerboard of an instrument.

    Parameters
    ----------
    instrument : Instrument
        With strings.
    courses : int or None
        None finds courses by their tuning.
    """
    keys = [round(69.0 + 12.0 * log2(string.pitch_hz / 440.0)) for string in instrument.strings]
    count = courses_of(keys) if courses is None else courses
    each = len(keys) // count if count and len(keys) % count == 0 else 1
    lowest = tuple(min(keys[index : index + each]) for index in range(0, len(keys), each))
    return Board(lowest, instrument.scale_m, highest_fret, reach_m)


def courses_of(keys: list[int]) -> int:
    """Count courses: pairs in unison or an octave apart, or every string."""
    pairs = [abs(a - b) for a, b in zip(keys[::2], keys[1::2], strict=False)]
    paired = len(keys) % 2 == 0 and len(pairs) >= LEAST_COURSES and set(pairs) <= {0, OCTAVE}
    return len(pairs) if paired else len(keys)


def fingers(frets: dict[int, int]) -> int:
    """Count the fingers that some strings' frets need; 0 is open.

    One finger holds a fret on neighbouring strings, and across strings that are not struck or held down
    nearer to the bridge.

    Examples
    --------
    >>> fingers({0: 1, 1: 3, 2: 3, 3: 2, 4: 1, 5: 1})
    3
    >>> fingers({0: 3, 1: 0, 2: 3})
    2
    """
    found = 0
    for fret in {fret for fret in frets.values() if fret}:
        lies = False
        for string in sorted(frets):
            if frets[string] < fret:
                lies = False
            elif frets[string] == fret and not lies:
                found += 1
                lies = True
    return found
