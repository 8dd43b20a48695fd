"""Levels: decibels, power per window, and a recording's peak, noise and clipping."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CLIPPED_RUN = 3  # samples; a lone sample at full scale is chance, three in a row are not
LOOK_BACK = 2  # samples before a run that tell a flat top from a smooth one
SUDDEN_STOP = 0.004  # of the peak; a smooth top is approached by less than this over two samples
NOISE_WINDOW_S = 0.05
NOISE_PERCENTILE = 10.0
NOTABLE_DC = 0.01  # of the peak
ABSURD_PEAK = 50.0  # V; a hard pluck makes a few


def db(ratio: float) -> float:
    """Return an amplitude ratio in decibels; minus infinity for 0."""
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf


def peak_db(samples: Floats) -> float:
    """Return the level of the largest sample, any shape, dB re 1."""
    return db(float(np.max(np.abs(samples), initial=0.0)))


class WindowPower:
    """Sums power over adjoining windows, block by block.

    Window k ends at frame ``round((k + 1) * rate_hz * seconds)``, so windows that are not a whole
    number of frames keep their mean length. The block size does not matter.

    Parameters
    ----------
    seconds : float
        Length of a window; at least one frame.
    """

    def __init__(self, rate_hz: float, seconds: float) -> None:
        self.frames_per_window = rate_hz * seconds
        self._count = 0
        self._closed = 0
        self._sums: list[Floats] = []
        self._open: Floats | None = None

    def add(self, power: Floats) -> None:
        """Add a block of powers, shape (frames, channels), unit squared."""
        if not len(power):
            return
        stop = self._count + len(power)
        upto = int(stop / self.frames_per_window) + 2
        ends = np.rint(np.arange(self._closed + 1, upto + 1) * self.frames_per_window).astype(np.int64)
        ends = ends[ends <= stop]
        starts = np.concatenate([[0], ends[ends < stop] - self._count])
        sums = np.add.reduceat(power, starts, axis=0)
        if self._open is not None:
            sums[0] += self._open
        self._sums.append(sums[: len(ends)])
        self._open = sums[-1] if len(sums) > len(ends) else None
        self._count, self._closed = stop, self._closed + len(ends)

    def full_sums(self) -> Floats:
        """Return the sums of full windows, shape (n_windows, channels)."""
        return np.concatenate(self._sums) if self._sums else np.zeros((0, 1))

    def open_sum(self) -> Floats | float:
        """Return the sum of the last, open window, shape (channels,); 0 if none."""
        return 0.0 if self._open is None else self._open


@dataclass(frozen=True)
class ChannelFacts:
    """Peak, offset, noise and clipping of one channel of a recording.

    Attributes
    ----------
    peak : float
        Largest magnitude, file units (volts for a stem).
    dc : float
        Mean, file units.
    noise_floor_db : float
        10th percentile of the rms over 50 ms windows, dB re 1.
    clipped_runs : int
        Runs of three or more samples at the top.
    """

    peak: float
    dc: float
    noise_floor_db: float
    clipped_runs: int

    def warnings(self, name: str) -> list[str]:
        """Return sentences on faults of the recording that a person could mend."""
        if self.peak == 0.0:
            return [f"{name} is silent from start to end"]
        found = []
        if self.clipped_runs:
            times = "once" if self.clipped_runs == 1 else f"{self.clipped_runs} times"
            found.append(
                f"{name} is clipped {times}: three or more samples in a row at {db(self.peak):.1f} dB"
            )
        if abs(self.dc) > NOTABLE_DC * self.peak:
            found.append(f"{name} has a DC offset of {100 * self.dc / self.peak:.1f} % of its peak")
        if self.peak > ABSURD_PEAK:
            found.append(
                f"{name} peaks at {self.peak:.3g} V; strings make a few volts at most (1.0 means 1 V)"
            )
        return found


class Examination:
    """Collects `ChannelFacts` for every channel, block by block.

    Parameters
    ----------
    full_scale : float or None
        Smallest magnitude that counts as clipped, for integer files. None for floating point,
        where a stem in volts may exceed 1: there a channel is clipped where it reaches a flat
        top at its own peak without slowing down first.
    """

    def __init__(self, rate_hz: float, channels: int, *, full_scale: float | None) -> None:
        self._full_scale = full_scale
        self._windows = WindowPower(rate_hz, NOISE_WINDOW_S)
        self._frames = 0
        self._sum = np.zeros(channels)
        self._peak = np.zeros(channels)
        self._runs = np.zeros(channels, dtype=np.int64)
        self._last = np.zeros((LOOK_BACK + CLIPPED_RUN - 1, channels))

    def add(self, block: Floats) -> None:
        """Add the next block, shape (channels, frames)."""
        frames = block.T
        self._windows.add(np.square(frames))
        self._frames += len(frames)
        self._sum += frames.sum(axis=0)
        tops = np.abs(frames).max(axis=0, initial=0.0)
        if self._full_scale is None:
            self._runs[tops > self._peak] = 0  # a flat top below the new peak was not clipping
        self._peak = np.maximum(self._peak, tops)
        joined = np.concatenate([self._last, frames])
        for channel in np.flatnonzero(tops >= self._level()):
            self._runs[channel] += self._runs_in(joined[:, channel], float(self._level()[channel]))
        self._last = joined[-len(self._last) :]

    def _level(self) -> Floats:
        tiny = np.finfo(np.float64).tiny
        return (
            np.maximum(self._peak, tiny)
            if self._full_scale is None
            else np.full_like(self._peak, self._full_scale)
        )

    def _runs_in(self, samples: Floats, level: float) -> int:
        """Count runs that begin after the first two samples and reach three samples."""
        sides = np.sign(samples) * (np.abs(samples) >= level)
        begins = (sides[2:-2] != 0) & (sides[1:-3] != sides[2:-2])
        goes_on = (sides[3:-1] == sides[2:-2]) & (sides[4:] == sides[2:-2])
        if self._full_scale is None:
            begins &= np.abs(samples[2:-2] - samples[:-4]) > SUDDEN_STOP * level
        return int(np.count_nonzero(begins & goes_on))

    def facts(self) -> tuple[ChannelFacts, ...]:
        """Return the facts of every channel."""
        sums = self._windows.full_sums()
        if not len(sums):
            sums = np.broadcast_to(np.asarray(self._windows.open_sum()), (1, len(self._sum)))
        floor = np.percentile(np.sqrt(sums / self._windows.frames_per_window), NOISE_PERCENTILE, axis=0)
        means = self._sum / max(self._frames, 1)
        return tuple(
            ChannelFacts(float(peak), float(mean), db(float(quiet)), int(runs))
            for peak, mean, quiet, runs in zip(self._peak, means, floor, self._runs, strict=True)
        )


def examine(
    blocks: Iterable[Floats], rate_hz: float, *, full_scale: float | None
) -> tuple[ChannelFacts, ...]:
    """Return the facts of every channel.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (channels, frames), file units
    full_scale : float or None
        See `Examination`.

    Returns
    -------
    tuple of Facts
        One per channel; empty without blocks.
    """
    examination: Examination | None = None
    for block in blocks:
        if examination is None:
            examination = Examination(rate_hz, len(block), full_scale=full_scale)
        examination.add(block)
    return examination.facts() if examination else ()
