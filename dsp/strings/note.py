"""One pluck as input of the string model: in seconds and metres, without beats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
BROAD_S = 0.004
"""Time of a finger from one fret to the next in a slide."""


@dataclass(frozen=True)
class Movement:
    """A change of pitch during a note: bend, slide, vibrato.

    Attributes
    ----------
    bend : float
        Semitones by tension, reached within ``bend_over_s`` from ``bend_from_s``.
    slide : int
        Frets (up is positive), within ``slide_over_s`` from ``slide_from_s``.
    vibrato : float
        Semitones up, at ``vibrato_hz``, starting at ``vibrato_from_s``.
    bent : tuple of (float, float)
        Seconds after the pluck and semitones by tension, joined by straight lines.
    """

    bend: float = 0.0
    bend_from_s: float = 0.0
    bend_over_s: float = 0.0
    slide: int = 0
    slide_from_s: float = 0.0
    slide_over_s: float = 0.0
    vibrato: float = 0.0
    vibrato_hz: float = 5.5
    vibrato_from_s: float = 0.0
    bent: tuple[tuple[float, float], ...] = ()

    def speed_ratio(self, time_s: Floats) -> Floats:
        """Return the wave speed relative to rest, shape of the times."""
        share = _eased(time_s, self.bend_from_s, self.bend_over_s)
        since_s = np.maximum(time_s - self.vibrato_from_s, 0.0)
        shake = 0.5 - 0.5 * np.cos(2.0 * np.pi * self.vibrato_hz * since_s)
        semitones = self.bend * share + self.vibrato * shake
        if self.bent:
            at_s, bent = zip(*self.bent, strict=True)
            semitones = semitones + np.interp(time_s, at_s, bent)
        return np.asarray(2.0 ** (semitones / 12.0))

    def length_ratio(self, time_s: Floats) -> Floats:
        """Return the sounding length relative to the pluck, shape of the times.

        A slide steps from fret to fret; each step lasts as long as a finger takes.
        """
        steps = abs(self.slide)
        if not steps:
            return np.ones_like(time_s)
        edges_s = self.slide_from_s + self.slide_over_s * np.arange(1, steps + 1) / steps
        broad_s = min(BROAD_S, self.slide_over_s / steps)
        passed = sum(_eased(time_s, edge_s - broad_s, broad_s) for edge_s in edges_s)
        return np.asarray(2.0 ** (-np.sign(self.slide) * passed / 12.0))

    def final_ratios(self) -> tuple[float, float]:
        """Return `length_ratio` and `speed_ratio` after bend and slide."""
        bent = self.bent[-1][1] if self.bent else 0.0
        return 2.0 ** (-self.slide / 12.0), 2.0 ** ((self.bend + bent) / 12.0)


def _eased(time_s: Floats, from_s: float, over_s: float) -> Floats:
    """Rise from 0 to 1 within a time, starting and ending at rest."""
    share = np.clip((time_s - from_s) / max(over_s, 1e-6), 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * share))


@dataclass(frozen=True)
class Note:
    """One pluck of a string.

    Attributes
    ----------
    string : int
        Index of the string, lowest first.
    start_s : float
        Time at which the string is released.
    force : float
        0 to 1.
    pluck_at_m : float
        From the bridge.
    mute : float
        Palm, 0 to 1.
    up : bool
        Upstroke.
    hand : str
        A key of `dsp.strings.pluck.HANDS`, or ``left`` in a hammer-on or a pull-off.
    turned : float
        Direction of the pluck, radians from the usual one towards the plane of the body.
    harmonic : int
        Partial that rings; 1 for a full note.
    dead : bool
        The left hand lies on the string without pressing it down.
    stop_s : float or None
        Time at which the left hand stops it.
    hush_s : float or None
        Time at which hands are laid on all strings, softly: the take ends.
    again_s : float or None
        Time of the next pluck of this string, which damps it first.
    slurred : bool
        The next is the left hand's, which damps the string only as it lands.
    noises : int or None
        Seed of the hands' noises; None leaves them out.
    """

    string: int
    start_s: float
    fret: int = 0
    force: float = 0.6
    pluck_at_m: float = 0.13
    mute: float = 0.0
    up: bool = False
    hand: str = "pick"
    turned: float = 0.0
    harmonic: int = 1
    stop_s: float | None = None
    again_s: float | None = None
    movement: Movement | None = None
    hush_s: float | None = None
    dead: bool = False
    slurred: bool = False
    noises: int | None = None

    def length_m(self, scale_m: float) -> float:
        """Return the sounding length at the pluck, m."""
        return float(scale_m * 2.0 ** (-self.fret / 12.0))
