"""Hands that stop a ringing string: one envelope for all its partials."""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STOP_PER_S, STOP_EASE_S = 80.0, 0.01
"""Left hand lifted off the fret but still on the string: 60 dB in 90 ms; by ear, no source."""
AGAIN_PER_S, AGAIN_EASE_S = 700.0, 0.002
CONTACT_S = 0.01
"""Time that pick or finger rests on the string before the next pluck, and damps it."""
GONE_DB = 110.0


def stop_envelope(
    time_s: Floats, stop_s: float | None, again_s: float | None, *, slurred: bool = False
) -> Floats:
    """Return the gain of a note that is stopped or plucked again.

    Parameters
    ----------
    time_s : ndarray, shape (n,), s
        Increasing.
    stop_s : float or None
        Time at which the left hand stops the string.
    again_s : float or None
        Time of the next pluck.
    slurred : bool
        The left hand makes it: no pick rests on the string before.

    Returns
    -------
    ndarray, shape (n,)
        1 until the first of the two, then an exponential decay with a short onset.
    """
    found = np.ones_like(time_s)
    stops = _stops(stop_s, again_s, slurred)
    first = int(np.searchsorted(time_s, min((at_s for at_s, _, _ in stops), default=np.inf)))
    for at_s, per_s, ease_s in stops:
        since_s = np.maximum(time_s[first:] - at_s, 0.0)
        found[first:] *= np.exp(-per_s * (since_s - ease_s * -np.expm1(-since_s / ease_s)))
    return found


def stop_time_s(stop_s: float | None, again_s: float | None, *, slurred: bool = False) -> float:
    """Return when a stopped note has died away, s; infinite if it rings on."""
    nepers = GONE_DB / 20.0 * log(10.0)
    return min(
        (at_s + ease_s + nepers / per_s for at_s, per_s, ease_s in _stops(stop_s, again_s, slurred)),
        default=float("inf"),
    )


def _stops(stop_s: float | None, again_s: float | None, slurred: bool) -> list[tuple[float, float, float]]:
    found = []
    if stop_s is not None:
        found.append((stop_s, STOP_PER_S, STOP_EASE_S))
    if again_s is not None:
        found.append((again_s - (0.0 if slurred else CONTACT_S), AGAIN_PER_S, AGAIN_EASE_S))
    return found
