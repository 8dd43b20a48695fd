"""Find notes in a pitch track: start, end, pitch and stiffness of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.tracking.partials import fit_partials
from dsp.tracking.pitch import FRAME, RATE_HZ, Floats, Track

NEW_NOTE = 0.6
"""Semitones from one frame to the next that no bend or slide makes."""
SHORTEST_FRAMES = 3
JOIN_S = 0.12
"""Longest stretch of unclear pitch that belongs to its neighbours: a pick's noise, a short damping."""
STEADY_CENTS = 15.0
"""A note whose pitch stays within this range counts as steady; its partials are then measured."""
SEARCH_S = 0.07
"""Search range for an onset around a tracked change: half a frame of the tracking."""
RISE = 2.0
"""Power ratio that makes an onset."""
EARLY = 0.3
JUMP = 0.1
"""An onset starts where the rise reaches this share of its steepest, and the power that of its top."""
STEP, REACH = 16, 8
"""Samples in a step of the onset's grid (1 ms), and the number of steps compared with as many before."""
LEAST = 1e-6
"""Share of the mean power; a rise from less comes from silence, not from a note."""
NEAR_S = 0.004
"""Search range for the onset around the change from one period to another."""
ACROSS = 5
"""Frames in which a fast change of pitch with a pluck is a new note: the tracking mixes both notes
for as long."""


@dataclass(frozen=True)
class Note:
    """One note of a line.

    Attributes
    ----------
    times_s, pitch_hz : ndarray, shape (n,)
        Pitch over time; one value for a steady note.
    stiffness : float or None
        B of f_n = n f0 sqrt(1 + B n^2); None if the partials did not show it.
    """

    start_s: float
    end_s: float
    times_s: Floats
    pitch_hz: Floats
    stiffness: float | None = None

    @property
    def steady(self) -> bool:
        """Whether the pitch stays the same."""
        return len(self.pitch_hz) == 1

    @property
    def lowest_hz(self) -> float:
        """Lowest pitch; a bend or a vibrato raises it from there."""
        return float(np.min(self.pitch_hz))

    def pitch_at(self, time_s: float) -> float:
        """Interpolate the pitch at a time, Hz."""
        return float(np.interp(time_s, self.times_s, self.pitch_hz))


def find_notes(track: Track, samples: Floats) -> tuple[Note, ...]:
    """Find the notes of a line, in order, without overlap.

    Parameters
    ----------
    samples : ndarray, shape (n,), any unit
        The tracked samples at the tracking rate.
    """
    powers = _bright_powers(samples)
    runs = _joined(list(_runs(track, powers)), track)
    edges = _edges(runs, track, powers, samples)
    return tuple(
        _note(track, run, start, end, samples)
        for run, (start, end) in zip(runs, edges, strict=True)
        if end > start
    )


def _runs(track: Track, powers: Sequence[Floats]) -> Iterator[tuple[int, int]]:
    """Yield first and last frame (excluded) of every stretch whose pitch is that of one note."""
    with np.errstate(invalid="ignore"):
        semitones = 12.0 * np.log2(track.pitch_hz)
        jumps = np.flatnonzero(~(np.abs(np.diff(semitones)) <= NEW_NOTE)) + 1  # NaN is a break too
        fast = np.flatnonzero(np.abs(semitones[ACROSS:] - semitones[:-ACROSS]) > NEW_NOTE)
    plucked = [_pluck_within(track, powers, int(first)) for first in fast]
    clear = np.isfinite(track.pitch_hz)
    breaks = sorted({*map(int, jumps), *(frame for frame in plucked if frame)})
    for first, last in pairwise([0, *breaks, len(clear)]):
        if clear[first] and last - first >= SHORTEST_FRAMES:
            yield first, last


def _pluck_within(track: Track, powers: Sequence[Floats], first: int) -> int:
    """Find the frame of an onset within a fast change of pitch; 0 for a slide or a bend."""
    from_s, to_s = first * track.hop_s, (first + ACROSS) * track.hop_s
    at_s = _onset(powers, from_s, to_s, -1.0)
    return round(at_s / track.hop_s) if at_s >= 0.0 else 0


def _joined(runs: Sequence[tuple[int, int]], track: Track) -> list[tuple[int, int]]:
    """Join runs of one pitch across a short gap."""
    found: list[tuple[int, int]] = []
    for first, last in runs:
        if found and 0 < (first - found[-1][1]) * track.hop_s <= JOIN_S:
            step = 12.0 * np.log2(track.pitch_hz[first] / track.pitch_hz[found[-1][1] - 1])
            if abs(step) <= NEW_NOTE:
                found[-1] = found[-1][0], last
                continue
        found.append((first, last))
    return found


def _edges(
    runs: Sequence[tuple[int, int]], track: Track, powers: Sequence[Floats], samples: Floats
) -> list[tuple[float, float]]:
    """Start and end of every run, s; an onset where one is found."""
    hop_s, length_s = track.hop_s, len(samples) / RATE_HZ
    half = 0.5 * FRAME / RATE_HZ
    edges = [[first * hop_s, min((last - 1) * hop_s + half, length_s)] for first, last in runs]
    for i, (first, last) in enumerate(runs):
        start, before = first * hop_s, (runs[i - 1][1] - 1) * hop_s
        if i and start - before <= JOIN_S:
            pitches = track.pitch_hz[runs[i - 1][1] - 1], track.pitch_hz[min(first + ACROSS, last - 1)]
            change = _change(samples, before - SEARCH_S, start + SEARCH_S, *pitches)
            edges[i][0] = _onset(powers, change - NEAR_S, change + NEAR_S, change)
            edges[i - 1][1] = edges[i][0]
        else:
            edges[i][0] = _onset(powers, start - JOIN_S, min(start + SEARCH_S, last * hop_s), start)
            if i:
                edges[i - 1][1] = min(edges[i - 1][1], edges[i][0])
    return [(max(start, 0.0), end) for start, end in edges]


def _change(samples: Floats, from_s: float, to_s: float, before_hz: float, after_hz: float) -> float:
    """Time at which samples stop repeating with one period and start with another, s."""
    back, ahead = round(RATE_HZ / before_hz), round(RATE_HZ / after_hz)
    first = max(round(from_s * RATE_HZ), back)
    last = min(round(to_s * RATE_HZ), len(samples) - ahead)
    if last - first < 2:
        return 0.5 * (from_s + to_s)
    here = samples[first:last]
    old = np.cumsum(np.square(here - samples[first - back : last - back]))
    new = np.cumsum(np.square(here - samples[first + ahead : last + ahead])[::-1])[::-1]
    return (first + 1 + int(np.argmin(old[:-1] + new[1:]))) / RATE_HZ


def _bright_powers(samples: Floats) -> tuple[Floats, Floats]:
    """Power of the first and second difference every `STEP` samples.

    A pluck is bright before it is loud: its treble stands out while the previous note masks its
    bass. In noise the first difference is safer.
    """
    slope = np.diff(samples, prepend=samples[:1])
    bend = np.diff(slope, prepend=slope[:1])
    whole = len(slope) // STEP * STEP
    first, second = (np.mean(np.square(one[:whole].reshape(-1, STEP)), axis=1) for one in (slope, bend))
    return first, second


def _onset(powers: Sequence[Floats], from_s: float, to_s: float, otherwise_s: float) -> float:
    """Time within a span at which the power begins its steepest rise, s."""
    first = max(round(from_s * RATE_HZ / STEP), REACH)
    last = min(round(to_s * RATE_HZ / STEP), len(powers[0]) - REACH)
    if last <= first:
        return otherwise_s
    rises = [_rise(power, np.arange(first, last)) for power in powers]
    rise, power = max(zip(rises, powers, strict=True), key=lambda pair: float(np.max(pair[0])))
    best = float(np.max(rise))
    if best < RISE:
        return otherwise_s
    early = first + int(np.flatnonzero(rise >= max(EARLY * best, RISE))[0])  # it may rise further
    jump = power[early : early + REACH]
    return float((early + int(np.argmax(jump > JUMP * np.max(jump)))) * STEP / RATE_HZ)


def _rise(power: Floats, at: NDArray[np.int_]) -> Floats:
    """Power of the `REACH` steps after each step re the `REACH` steps before it."""
    sums = np.concatenate([[0.0], np.cumsum(power)])
    after, before = sums[at + REACH] - sums[at], sums[at] - sums[at - REACH]
    rise: Floats = after / (before + LEAST * REACH * np.mean(power) + 1e-300)
    return rise


def _note(track: Track, run: tuple[int, int], start: float, end: float, samples: Floats) -> Note:
    frames = np.arange(*run)
    frames = frames[np.isfinite(track.pitch_hz[frames])]
    times, pitch = frames * track.hop_s, track.pitch_hz[frames]
    edge = min(FRAME // (2 * round(track.hop_s * RATE_HZ)), len(pitch) // 3)
    inner = pitch[edge : len(pitch) - edge]  # frames that hear no other note
    middle = float(np.median(pitch))
    low, high = np.percentile(inner, [5, 95])
    if 1200.0 * np.log2(high / low) > STEADY_CENTS:
        return Note(start, end, np.asarray(times, float), _smooth(pitch))
    part = samples[round(start * RATE_HZ) : round(end * RATE_HZ)]
    fitted = fit_partials(part, RATE_HZ, middle)
    pitch_hz, stiffness = fitted if fitted else (middle, None)
    return Note(start, end, times[:1].astype(float), np.full(1, pitch_hz), stiffness)


def _smooth(pitch: Floats) -> Floats:
    """Remove single outliers and the tracking's steps of 10 cents."""
    padded = np.pad(pitch, 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 3)
    calmer = np.median(windows, axis=1)
    smooth: Floats = np.convolve(calmer, [0.25, 0.5, 0.25], mode="valid")
    return smooth
