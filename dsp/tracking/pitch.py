"""Track the pitch of one string or one line, frame by frame, with librosa's pYIN."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RATE_HZ = 16_000
"""Rate of the tracking: it holds partials up to 8 kHz, more than any fundamental needs."""
FRAME, HOP = 1024, 256
"""64 ms hold four periods of a baritone's low B (62 Hz); a value every 16 ms follows a vibrato."""
CHUNK_S, OVERLAP_S = 5.0, 0.5
"""Tracking runs chunk by chunk so that it can report progress; overlaps settle the path at the seams."""
QUIET_DB = -50.0
"""Frames this far below the loudest count as silence, whatever pitch their remains have."""
LOWEST_HZ, HIGHEST_HZ = 35.0, 2500.0
METHOD = "pyin-1"
"""Version of the method, for the keys of kept results."""


@dataclass(frozen=True)
class Track:
    """Pitch over time.

    Attributes
    ----------
    pitch_hz : ndarray, shape (n_frames,), Hz
        NaN while it is unclear. Noise, lone tones and chords may look clear; `find_passages` tells them.
    loud : ndarray, shape (n_frames,), bool
        Frames that are not silence.
    hop_s : float
        Time from frame to frame; the first frame is centred at 0.
    """

    pitch_hz: Floats
    loud: NDArray[np.bool_]
    hop_s: float = HOP / RATE_HZ

    @property
    def clear_share(self) -> float:
        """Share of the sounding time with a clear pitch, 0 to 1; 0 for silence."""
        sounding = int(np.count_nonzero(self.loud))
        return float(np.count_nonzero(np.isfinite(self.pitch_hz)) / sounding) if sounding else 0.0


def track_pitch(
    samples: Floats,
    lowest_hz: float,
    highest_hz: float,
    *,
    progress: Callable[[float], None] | None = None,
) -> Track:
    """Track the pitch of a recording of one string or one line.

    Parameters
    ----------
    samples : ndarray, shape (n,), any unit
        At `RATE_HZ`.
    lowest_hz, highest_hz : float
        Limits of the pitch search.
    progress : callable
        Called with the share done, 0 to 1.

    References
    ----------
    M. Mauch, S. Dixon, "pYIN: A fundamental frequency estimator using probabilistic threshold
    distributions", ICASSP 2014, as librosa computes it.
    """
    lowest_hz, highest_hz = max(lowest_hz, LOWEST_HZ), min(highest_hz, HIGHEST_HZ)
    n_frames = len(samples) // HOP + 1
    loud = _loud(samples, n_frames)
    pitch_hz = np.full(n_frames, np.nan)
    step, around = round(CHUNK_S * RATE_HZ / HOP), round(OVERLAP_S * RATE_HZ / HOP)
    for first in range(0, n_frames, step):
        last = min(first + step, n_frames)
        if loud[first:last].any():
            begin = max(first - around, 0)
            piece = samples[begin * HOP : (last + around) * HOP]
            pitch_hz[first:last] = _pyin(piece, lowest_hz, highest_hz)[first - begin : last - begin]
        if progress:
            progress(last / n_frames)
    pitch_hz[~loud] = np.nan
    return Track(pitch_hz, loud)


def _pyin(piece: Floats, lowest_hz: float, highest_hz: float) -> Floats:
    import librosa  # takes seconds to import, and only tracked recordings need it

    peak = float(np.max(np.abs(piece)))
    found, _, _ = librosa.pyin(
        piece / peak, fmin=lowest_hz, fmax=highest_hz, sr=RATE_HZ, frame_length=FRAME, hop_length=HOP
    )
    pitch_hz: Floats = found
    return pitch_hz


def _loud(samples: Floats, n_frames: int) -> NDArray[np.bool_]:
    """Find frames whose mean power is within `QUIET_DB` of the loudest."""
    sums = np.concatenate([[0.0], np.cumsum(np.square(samples))])
    centres = np.arange(n_frames) * HOP
    ends = np.clip(centres + FRAME // 2, 0, len(samples))
    power = sums[ends] - sums[np.clip(centres - FRAME // 2, 0, len(samples))]
    loud: NDArray[np.bool_] = power > np.max(power, initial=0.0) * 10.0 ** (QUIET_DB / 10.0)
    return loud
