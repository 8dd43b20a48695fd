"""How loud the strings of a set are beside one another: what a magnet magnetises of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import pi

import numpy as np

from dsp.parts.instrument import GuitarString
from dsp.strings.tuned import TunedString, core_diameter, tune, wrap_section

WRAP_COUNTS = 0.1
"""Share of a wrap's metal that counts beside the core. Published: the signal of plain strings grows with
their section, wound ones give a weaker fundamental, and the material has no influence (JAES 65(9):711, 2017,
abstract). Flux runs along a core, and from turn to turn of a wrap through the gaps between them, whatever
these are made of. By their whole section wound bass strings would be some 15 dB above the plain ones over
level poles; sets are about even there (common practice). The tenth itself is our own choice."""


def magnetised_section(string: GuitarString, scale_m: float) -> float:
    """Return the section of a string that a magnet magnetises, m².

    A core counts whole, its wrap by `WRAP_COUNTS`.

    Parameters
    ----------
    scale_m : float
        Tells a bass from a guitar.
    """
    core_m2 = pi * core_diameter(string, scale_m) ** 2 / 4.0
    return core_m2 + WRAP_COUNTS * wrap_section(string, scale_m)


def tune_set(strings: Sequence[GuitarString], scale_m: float) -> list[TunedString]:
    """Tune the strings of an instrument, and balance them as level poles do.

    The signal of each grows with its `magnetised_section`. A coil's sensitivity is that to the mean of
    the set, so that another set changes the balance and not the coil. Pole heights are the coil's
    `string_balance`.

    Examples
    --------
    >>> plain = [GuitarString(196.0, 0.4e-3), GuitarString(330.0, 0.2e-3)]
    >>> [round(string.signal, 3) for string in tune_set(plain, 0.648)]
    [1.6, 0.4]
    """
    sections = np.array([magnetised_section(string, scale_m) for string in strings])
    signals = sections / sections.mean() if len(sections) else sections
    return [
        replace(tune(string, scale_m), signal=float(signal))
        for string, signal in zip(strings, signals, strict=True)
    ]
