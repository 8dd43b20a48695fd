"""Hands that stop a ringing string: one envelope for all its partials."""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import NDArray

from dsp.strings.note import Note

Floats = NDArray[np.float64]

STOP_PER_S, STOP_EASE_S = 80.0, 0.01
"""Left hand lifted off the fret but still on the string: 60 dB in 90 ms; by ear, no source."""
HUSH_PER_S, HUSH_EASE_S = 25.0, 0.05
"""Hands laid softly on all strings at a take's end: 60 dB in 0.33 s; by ear, no source."""
AGAIN_PER_S, AGAIN_EASE_S = 700.0, 0.002
CONTACT_S = 0.01
"""Time that pick or finger rests on the string before the next pluck, and damps it."""
GONE_DB = 110.0


def stop_envelope(time_s: Floats, note: Note) -> Floats:
    """Return the gain of a note that hands stop or pluck again.

    Parameters
    ----------
    time_s : ndarray, shape (n,), s
        Increasing.

    Returns
    -------
    ndarray, shape (n,)
        1 until the first hand lands, then exponential decays with a short onset.
    """
    found = np.ones_like(time_s)
    stops = _stops(note)
    first = int(np.searchsorted(time_s, min((at_s for at_s, _, _ in stops), default=np.inf)))
    for at_s, per_s, ease_s in stops:
        since_s = np.maximum(time_s[first:] - at_s, 0.0)
        found[first:] *= np.exp(-per_s * (since_s - ease_s * -np.expm1(-since_s / ease_s)))
    return found


def touched_s(note: Note) -> float:
    """Return when the first hand lands on a note, s; infinite if none does."""
    return min((at_s for at_s, _, _ in _stops(note)), default=float("inf"))


def stop_time_s(note: Note) -> float:
    """Return when a stopped note has died away, s; infinite if it rings on."""
    nepers = GONE_DB / 20.0 * log(10.0)
    return min((at_s + ease_s + nepers / per_s for at_s, per_s, ease_s in _stops(note)), default=float("inf"))


def _stops(note: Note) -> list[tuple[float, float, float]]:
    found = []
    if note.stop_s is not None:
        found.append((note.stop_s, STOP_PER_S, STOP_EASE_S))
    if note.hush_s is not None:
        found.append((note.hush_s, HUSH_PER_S, HUSH_EASE_S))
    if note.again_s is not None:
        found.append((note.again_s - (0.0 if note.slurred else CONTACT_S), AGAIN_PER_S, AGAIN_EASE_S))
    return found
