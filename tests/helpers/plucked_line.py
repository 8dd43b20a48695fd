"""A plucked line computed partial by partial, without the product's string model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SCALE_M = 0.686
PLUCK = 0.19
TOP_HZ = 20_000.0


@dataclass(frozen=True)
class Pluck:
    """One note: when, for how long, on which open pitch and fret, how stiff when open."""

    start_s: float
    lasts_s: float
    open_hz: float
    fret: int = 0
    stiffness: float = 6e-5

    @property
    def pitch_hz(self) -> float:
        return self.open_hz * 2.0 ** (self.fret / 12.0)

    @property
    def length_m(self) -> float:
        return SCALE_M * 2.0 ** (-self.fret / 12.0)

    @property
    def b(self) -> float:
        return self.stiffness * 2.0 ** (self.fret / 6.0)


LINE = (
    Pluck(0.2, 0.5, 82.407, 3, 8e-5),
    Pluck(0.7, 0.4, 110.0),
    Pluck(1.1, 0.4, 110.0, 3),
    Pluck(1.5, 0.5, 146.832, 2, 5e-5),
    Pluck(2.0, 0.25, 184.997, 0, 7e-5),
    Pluck(2.25, 0.25, 146.832, 0, 5e-5),
    Pluck(2.5, 0.8, 61.735, 2, 9e-5),
    Pluck(3.3, 0.9, 110.0, 2),
)
"""On the demo baritone each of these lies lowest on its intended string."""


def heard(
    line: Sequence[Pluck], places_m: Sequence[float], rate_hz: int, *, aperture_m: float = 0.01
) -> Floats:
    """Return the velocity sensed at each place, shape (n_places, n).

    A place of 0 is the bridge itself: the string's slope there, each partial in quadrature to the
    velocity along the string.
    """
    n = round((line[-1].start_s + line[-1].lasts_s + 0.5) * rate_hz)
    found = np.zeros((len(places_m), n))
    for note in line:
        at = round(note.start_s * rate_hz)
        one = _note(note, places_m, rate_hz, aperture_m)[:, : n - at]
        found[:, at : at + one.shape[1]] += one
    return found


def _note(note: Pluck, places_m: Sequence[float], rate_hz: int, aperture_m: float) -> Floats:
    t = np.arange(round(note.lasts_s * rate_hz)) / rate_hz
    numbers = np.arange(1, 500)
    freqs_hz = numbers * note.pitch_hz * np.sqrt(1.0 + note.b * numbers**2)
    envelope = np.minimum(1.0, t / 0.0005)
    envelope *= np.minimum(1.0, (t[-1] - t) / 0.008)  # the hand damps the string
    found = np.zeros((len(places_m), len(t)))
    for number, hz in zip(numbers[freqs_hz < TOP_HZ], freqs_hz[freqs_hz < TOP_HZ], strict=True):
        decay = 0.6 + 6e-4 * hz + (2.2e-4 * hz) ** 2
        height = np.sin(number * np.pi * PLUCK) / number * np.exp(-decay * t) * envelope
        along, across = height * np.sin(2 * np.pi * hz * t), -height * np.cos(2 * np.pi * hz * t)
        for row, at_m in zip(found, places_m, strict=True):
            share = np.sin(number * np.pi * at_m / note.length_m)
            share *= np.sinc(number * aperture_m / (2.0 * note.length_m))
            row += along * share if at_m else across
    return found


def third_octaves_db(got: Floats, wanted: Floats, rate_hz: int, lowest_hz: float) -> tuple[Floats, Floats]:
    """Return the level of one clip re another per third-octave band, and the centres in Hz.

    Only bands within 40 dB of the strongest band of the wanted clip count.
    """
    freqs_hz = np.fft.rfftfreq(len(wanted), 1.0 / rate_hz)
    centres = 1000.0 * 2.0 ** (np.arange(-14, 14) / 3.0)
    centres = centres[centres >= lowest_hz]
    edges = np.searchsorted(freqs_hz, [centres * 2.0 ** (-1 / 6), centres * 2.0 ** (1 / 6)])

    def bands(samples: Floats) -> Floats:
        sums = np.concatenate([[0.0], np.cumsum(np.square(np.abs(np.fft.rfft(samples))))])
        return sums[edges[1]] - sums[edges[0]]

    one, other = bands(got), bands(wanted)
    kept = other > np.max(other) * 1e-4
    return 10.0 * np.log10(one[kept] / other[kept]), centres[kept]
