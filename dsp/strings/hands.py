"""Hands that stop a ringing string: one envelope for all its partials."""

from __future__ import annotations

from math import inf, log

import numpy as np
from numpy.typing import NDArray

from dsp.strings.damping import DEAD_PER_S
from dsp.strings.note import Note

Floats = NDArray[np.float64]
Landing = tuple[float, float, float]
"""When a hand lands, s, the decay rate that it adds, 1/s, and the time in which it sets in, s."""

STOP_PER_S, STOP_EASE_S = 80.0, 0.01
"""Left hand lifted off the fret but still on the string: 60 dB in 90 ms; by ear, no source."""
HUSH_PER_S, HUSH_EASE_S = 25.0, 0.05
"""Hands laid softly on all strings at a take's end: 60 dB in 0.33 s; by ear, no source."""
AGAIN_PER_S, AGAIN_EASE_S = 700.0, 0.002
CONTACT_S = 0.01
"""Time that pick or finger rests on the string before the next pluck, and damps it."""
LIES_EASE_S = 1e-6
"""Fingers that lie on the string before it is plucked."""
LEFT_DB = -82.0
"""What hands leave of a string's motion, which goes on as the string itself decays: our choice, below
hearing. Five palm-muted notes of a real guitar (Debian's fluid-soundfont-gm) keep -40 to -50 dB at their own
partials, but flickering: we cannot tell the string from the room and the amplifier there."""
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
        1 until the first hand lands, then exponential decays with a short onset, down to `LEFT_DB`. The next
        pluck of the string leaves nothing.
    """
    found = np.ones_like(time_s)
    first = int(np.searchsorted(time_s, touched_s(note)))
    left = 10.0 ** (LEFT_DB / 20.0)
    if first < len(time_s):
        rested = _fallen(time_s[first:], _stops(note))
        found[first:] = (left + (1.0 - left) * rested) * _fallen(time_s[first:], _again(note))
    return found


def _fallen(time_s: Floats, hands: list[Landing]) -> Floats:
    """Return the gain that hands leave if they take everything."""
    found = np.ones_like(time_s)
    for at_s, per_s, ease_s in hands:
        since_s = np.maximum(time_s - at_s, 0.0)
        found *= np.exp(-per_s * (since_s - ease_s * -np.expm1(-since_s / ease_s)))
    return found


def touched_s(note: Note) -> float:
    """Return when the first hand lands on a note, s; infinite if none does."""
    return min((at_s for at_s, _, _ in _stops(note) + _again(note)), default=inf)


def stop_time_s(note: Note) -> float:
    """Return when the next pluck has ended a note, s; infinite if none."""
    nepers = GONE_DB / 20.0 * log(10.0)
    return min((at_s + ease_s + nepers / per_s for at_s, per_s, ease_s in _again(note)), default=inf)


def _stops(note: Note) -> list[Landing]:
    found = []
    if note.dead:
        found.append((note.start_s, DEAD_PER_S, LIES_EASE_S))
    if note.stop_s is not None:
        found.append((note.stop_s, STOP_PER_S, STOP_EASE_S))
    if note.hush_s is not None:
        found.append((note.hush_s, HUSH_PER_S, HUSH_EASE_S))
    return found


def _again(note: Note) -> list[Landing]:
    if note.again_s is None:
        return []
    return [(note.again_s - (0.0 if note.slurred else CONTACT_S), AGAIN_PER_S, AGAIN_EASE_S)]
