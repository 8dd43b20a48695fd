"""The strums of one recording: where they start, and their levels in bands as wide as the ear's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.timbre import ear_bands

Floats = NDArray[np.float64]

RATE_HZ = 48_000
"""Recordings are brought to this rate first."""
SHORTEST_S = 3.0
"""Length of a recording at least."""
FEWEST = 3
"""Strums at least: their scatter is the hands' part of the uncertainty."""
WINDOWS_S = (2.0, 1.6, 1.3, 1.0, 0.8, 0.6)
"""Times of a strum over which energy may count, the longest that all recordings hold."""
HOP = 480
FRAME = 2048
"""Samples between the moments at which levels are looked at, and of each look."""
LISTEN_HZ = (150.0, 5000.0)
"""Where the start of a strum is looked for."""
SPAN = 8
"""Moments before and after a start: a strum crosses the strings within 80 ms."""
EDGE, LAST = 3, 2 * SPAN
RISE_DB, BELOW_DB = 5.0, 22.0
"""A start lifts half of the bands so far, and stays so near the loudest moment."""
APART_S = 0.45
"""Least time between two strums."""
STILL_S = 0.25
"""Length of the stillest stretch, which is taken as noise."""
LEAD_S, EASE_S = 0.012, 0.006
"""A window opens this long before the start, and eases in."""
OUT_S = 0.05
SILENT_DB = 10.0
"""Strums that stand no higher over the noise are not heard."""


@dataclass(frozen=True)
class Strums:
    """Levels of the strums of one recording.

    Attributes
    ----------
    levels_db : ndarray, shape (n_strums, n_bands)
        Energy over the window by band, noise taken off.
    noise_db : ndarray, shape (n_bands,)
        Energy of the noise over the same time.
    over_noise_db : float
        How far the loudest band of the strums stands over the noise there.
    """

    levels_db: Floats
    noise_db: Floats
    over_noise_db: float

    @property
    def silent(self) -> bool:
        """Whether no strum is heard."""
        return len(self.levels_db) == 0 or self.over_noise_db < SILENT_DB


def find_starts(samples: Floats, where: str) -> NDArray[np.int64]:
    """Return where strums start, in samples.

    None if nothing stands over the noise.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        At `RATE_HZ`.
    where : str
        What errors call the recording.

    Raises
    ------
    InputError
        If it is shorter than `SHORTEST_S`.
    """
    seconds = len(samples) / RATE_HZ
    if seconds < SHORTEST_S:
        got = f"{seconds:.1f} s long"
        raise InputError(where, got, f"{SHORTEST_S:g} s or more, with {FEWEST} strums or more")
    by_band = _levels_db(samples)
    whole = np.max(by_band, axis=0)
    if whole.max() - np.quantile(whole, 0.02) < SILENT_DB:
        return np.zeros(0, np.int64)
    n = by_band.shape[1]
    padded = np.pad(by_band, ((0, 0), (SPAN, SPAN)), mode="edge")
    after = np.max([padded[:, SPAN + k : SPAN + k + n] for k in range(SPAN + 1)], axis=0)
    before = np.mean([padded[:, SPAN - k : SPAN - k + n] for k in range(2, SPAN + 1)], axis=0)
    rise = np.median(after - before, axis=0)
    rise[:EDGE], rise[-LAST:] = 0.0, 0.0  # what breaks off at an end is no strum
    loud = after.max(axis=0) >= whole.max() - BELOW_DB
    found: list[int] = []
    for moment in np.argsort(-rise, kind="stable"):
        if rise[moment] < RISE_DB:
            break
        if loud[moment] and all(abs(moment - one) * HOP >= APART_S * RATE_HZ for one in found):
            found.append(int(moment))
    return np.sort(np.array([_first_rise(by_band, moment) for moment in found], np.int64)) * HOP


def _levels_db(samples: Floats) -> Floats:
    """Level of every band within `LISTEN_HZ` around every moment, shape (n_bands, n_moments)."""
    edges = ear_bands().edges_hz
    edges = edges[(edges >= LISTEN_HZ[0]) & (edges <= LISTEN_HZ[1])]
    padded = np.pad(samples, (FRAME // 2, FRAME // 2), mode="reflect")
    frames = np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::HOP]
    power = np.abs(np.fft.rfft(frames * np.hanning(FRAME), axis=1)) ** 2
    bins = np.searchsorted(np.fft.rfftfreq(FRAME, 1.0 / RATE_HZ), edges)
    total = np.cumsum(power, axis=1)
    energy = total[:, bins[1:]] - total[:, bins[:-1]]
    return np.asarray(10.0 * np.log10(energy.T + 1e-9 * energy.max() + 1e-30))


def _first_rise(by_band: Floats, moment: int) -> int:
    """Moment near a rise at which the level goes up fastest."""
    start = max(moment - SPAN, 0)
    stretch = np.mean(by_band[:, start : moment + SPAN + 1], axis=0)
    return start + int(np.argmax(np.diff(stretch, prepend=stretch[0])))


def window_of(starts: NDArray[np.int64], n_samples: int) -> float:
    """Return the longest of `WINDOWS_S` that fits most strums; 0 if none does.

    Parameters
    ----------
    starts : ndarray, shape (n_strums,)
    """
    gaps = np.diff(np.append(starts, n_samples)) / RATE_HZ
    needed = max(FEWEST, round(0.7 * len(gaps)))
    if len(gaps) < needed:
        return 0.0
    rings = float(np.sort(gaps)[-needed]) - 2 * LEAD_S
    return next((one for one in WINDOWS_S if one <= rings), 0.0)


def measure(samples: Floats, starts: NDArray[np.int64], window_s: float) -> Strums:
    """Measure the strums that ring as long as the window.

    Parameters
    ----------
    samples : ndarray, shape (n,)
    starts : ndarray, shape (n_strums,)
        From `find_starts`.
    """
    lead = round(LEAD_S * RATE_HZ)
    n = round(window_s * RATE_HZ) + lead
    begins = [max(int(one) - lead, 0) for one in starts]
    ends = [*begins[1:], len(samples)]
    chosen = [one for one, end in zip(begins, ends, strict=False) if one + n <= end]
    noise = _noise(samples, n)
    if not chosen:
        return Strums(np.zeros((0, len(noise))), 10.0 * np.log10(noise + 1e-30), 0.0)
    energy = np.array([_bands(samples[one : one + n]) for one in chosen])
    mean = energy.mean(axis=0)
    over = float(np.max(10.0 * np.log10((mean + 1e-30) / (noise + 1e-30))[mean > 1e-4 * mean.max()]))
    clean = np.maximum(energy - noise, 0.1 * noise + 1e-30)
    return Strums(10.0 * np.log10(clean), 10.0 * np.log10(noise + 1e-30), over)


def _bands(samples: Floats) -> Floats:
    """Energy by band of a stretch that eases in and out."""
    n = len(samples)
    power = np.abs(np.fft.rfft(samples * ease(n))) ** 2
    edges = np.searchsorted(np.fft.rfftfreq(n, 1.0 / RATE_HZ), ear_bands().edges_hz)
    total = np.concatenate([[0.0], np.cumsum(power)])
    return np.asarray(total[edges[1:]] - total[edges[:-1]]) / n


def ease(n: int) -> Floats:
    """Return the gain of a window that eases in and out, shape (n,)."""
    rise, fall = round(EASE_S * RATE_HZ), round(OUT_S * RATE_HZ)
    gain = np.ones(n)
    gain[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    gain[-fall:] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fall) + 0.5) / fall)
    return gain


def _noise(samples: Floats, n: int) -> Floats:
    """Energy by band of the stillest stretch, as if it lasted n samples."""
    size = round(STILL_S * RATE_HZ)
    hop = size // 5
    power = np.concatenate([[0.0], np.cumsum(samples**2)])
    begins = np.arange(0, len(samples) - size + 1, hop)
    quietest = int(begins[np.argmin(power[begins + size] - power[begins])])
    return _bands(samples[quietest : quietest + size]) * n / size
