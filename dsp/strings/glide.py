"""A hard stroke stretches the string: it starts sharp and settles as it dies away."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, log2, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]

STEP_CENTS, MOST_STEPS = 0.5, 4
"""A pitch settles in steps of at least this. A glide is heard from 0.1 of an auditory band on (Jarvelainen,
Valimaki): 27 cents at 500 Hz."""
MOST_PARTIALS = 24
"""Higher partials stretch the string by less than 4 % of the whole."""
GRID_S = np.concatenate([[0.0], np.geomspace(0.004, 8.0, 40)])


@dataclass(frozen=True)
class Glide:
    """A string's pitch since its pluck, relative to that of small swings.

    Attributes
    ----------
    ratios : ndarray, shape of `GRID_S`
        Falling to 1.
    """

    ratios: Floats

    def ratio(self, time_s: Floats) -> Floats:
        """Return the ratio at some times, shape of the times."""
        return np.asarray(np.interp(time_s, GRID_S, self.ratios))

    def steps(self) -> list[tuple[float, float]]:
        """Return the glide in steps: until when, s, and the ratio.

        The last ratio is 1, for good.
        """
        cents = 1200.0 * log2(float(self.ratios[0]))
        count = min(ceil(cents / STEP_CENTS), MOST_STEPS)
        if count == 0 or cents < 0.5 * STEP_CENTS:
            return [(float("inf"), 1.0)]
        edges = float(self.ratios[0] - 1.0) * (np.arange(count)[::-1] + 0.5) / (count + 0.5)
        until_s = np.interp(-edges, -(self.ratios - 1.0), GRID_S)
        levels = float(self.ratios[0] - 1.0) * np.arange(count, 0, -1) / (count + 0.5)
        found = [(float(at), 1.0 + float(level)) for at, level in zip(until_s, levels, strict=True)]
        return [*found, (float("inf"), 1.0)]


def glide_of(
    string: TunedString, length_m: float, numbers: Floats, bellies_m: Floats, decay_per_s: Floats
) -> Glide | None:
    """Return how a plucked string's pitch settles; None if hardly at all.

    A wave of amplitude a in partial n lengthens the string by (n pi a / l)^2 / 8 on the mean over a
    turn, and the partials' add. The tension rises by E A times that.

    Parameters
    ----------
    length_m : float
        Sounding length.
    numbers : ndarray, shape (n,)
        Partial numbers.
    bellies_m : ndarray, shape (n,)
        Amplitude of each at its belly, over both planes.
    decay_per_s : ndarray, shape (n,)

    References
    ----------
    Mean tension of a string that vibrates: N. Fletcher, T. Rossing, The Physics of Musical
    Instruments (from memory).
    """
    few = numbers <= MOST_PARTIALS
    stretched = (numbers[few] * pi * bellies_m[few] / length_m) ** 2 / 8.0
    left = np.exp(-2.0 * GRID_S[:, None] * decay_per_s[few]) @ stretched
    ratios = np.sqrt(1.0 + string.stretch_n / string.tension_n * left)
    ratios[-1] = 1.0
    return Glide(ratios) if sqrt(float(ratios[0])) > 2.0 ** (0.25 * STEP_CENTS / 1200.0) else None
