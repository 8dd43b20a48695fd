"""Read what was recorded at the jack: one channel, not clipped, with strums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError, Problem
from dsp.verifying.strums import FEWEST, RATE_HZ, WINDOWS_S, Strums, find_starts, measure, window_of
from server.files import audio_in

Floats = NDArray[np.float64]

LONGEST_S = 180.0
SILENT_BELOW = 1e-3
"""A channel whose peak is so far below the other's is not connected."""
ALIKE = 0.999
"""Correlation from which on two channels, or two recordings, are one."""
RING_HINT = "strum the whole chord, let it ring for two seconds, and strum again"


@dataclass(frozen=True)
class Heard:
    """One recording, read.

    Attributes
    ----------
    samples : ndarray, shape (n,)
        At `RATE_HZ`.
    starts : ndarray, shape (n_strums,)
        Where strums start, in samples.
    """

    name: str
    samples: Floats
    starts: NDArray[np.int64]


def read_recording(path: Path, name: str = "") -> Heard:
    """Read a recording and find its strums.

    Parameters
    ----------
    name : str
        What errors call it; the file's name unless given.

    Raises
    ------
    InputError
        For a file that is not sound, a clipped channel, two different channels, more than three
        minutes, or a recording that is too short.
    """
    name = name or path.name
    recording = audio_in.probe(path, where=name)
    if recording.seconds > LONGEST_S:
        raise InputError(name, f"{recording.seconds:.0f} s long", f"{LONGEST_S:g} s at most")
    if recording.channels > 2:
        raise InputError(name, f"{recording.channels} channels", "one: the guitar's jack alone")
    for number, facts in enumerate(audio_in.examine_file(path, where=name), 1):
        if facts.clipped_runs:
            got = f"channel {number} is clipped {facts.clipped_runs} times"
            raise InputError(
                name, got, "a recording with room above it", "turn the gain down, for all positions"
            )
    samples = _one_channel(audio_in.read(path, rate_hz=RATE_HZ, where=name), name)
    return Heard(name, samples, find_starts(samples, name))


def _one_channel(channels: Floats, name: str) -> Floats:
    """Return the guitar's channel of one or two."""
    peaks = np.abs(channels).max(axis=1)
    live = channels[peaks > SILENT_BELOW * peaks.max()]
    if len(live) == 2 and _likeness(live[0], live[1]) < ALIKE:
        got = "two channels that differ"
        hint = "effects and room off; export the channel of the guitar alone"
        raise InputError(name, got, "one channel, or twice the same", hint)
    mono = live.mean(axis=0)
    return np.asarray(mono - mono.mean())


def _likeness(one: Floats, other: Floats) -> float:
    """Correlation of two stretches of sound over their common length."""
    n = min(len(one), len(other))
    a, b = one[:n], other[:n]
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(abs(a @ b)) / size if size > 0.0 else 0.0


def measure_all(heard: Sequence[Heard]) -> tuple[list[Strums], float]:
    """Measure recordings over one time, which is returned too, s.

    Raises
    ------
    InputError
        For two recordings that are the same, or one with too few strums.
    """
    problems = [
        Problem(other.name, f"the same sound as {one.name}", "a recording of its own for every position")
        for i, one in enumerate(heard)
        for other in heard[i + 1 :]
        if _likeness(one.samples, other.samples) > ALIKE
    ]
    windows = []
    for one in heard:
        if not len(one.starts):
            continue  # nothing over the noise: the verdict says so
        window_s = window_of(one.starts, len(one.samples))
        if not window_s:
            n = len(one.starts)
            got = f"{n} strum{'s' * (n != 1)}, too few that ring for {WINDOWS_S[-1]:g} s"
            problems.append(Problem(one.name, got, f"{FEWEST} or more", RING_HINT))
        windows.append(window_s)
    if problems:
        raise InputError.of(problems)
    window_s = min(windows, default=WINDOWS_S[-1])
    return [measure(one.samples, one.starts, window_s) for one in heard], window_s
