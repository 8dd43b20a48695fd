"""Noises of hands that the coils sense, as motion of the string."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.hands import AGAIN_PER_S
from dsp.strings.modes import Plane, mode_emfs, mode_rates, modes_of
from dsp.strings.note import Note
from dsp.strings.pluck import HANDS, pluck_force, strike_velocity
from dsp.strings.ring import sum_modes
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]

PICKS = ("pick", "thin pick", "thick pick")
"""The hands that click. No recording shows the contact of a finger or a thumb."""
SHORTEST_S, LONGEST_S = 0.002, 0.006
"""How long a pick touches the string before it lets go. Of thirteen notes of one guitar (026 of Debian's
freepats) two begin 2 and 2.5 ms before; the others are in contact for 2 to 6 ms when their file starts."""
RUBS_BY = 0.04
"""Root mean square of the force with which the pick rubs, relative to the pluck's."""
RUBS_BELOW_HZ = 150.0
"""Corner above which that force falls with frequency. Both are fitted to the notes of `PICKED_FIT`
(tests/helpers/string_notes.py)."""
DRAWN_S, HEARD_S = 0.02, 0.01
"""Length of the noise that is drawn, and of what a blow leaves of the string under the pick."""


def pick_lead(note: Note, rate_hz: float) -> int:
    """Return for how many samples a pick touches the string before a note.

    0 for none: noises are left out, or something else plucks.
    """
    if note.noises is None or note.hand not in PICKS:
        return 0
    touches_s = float(_chance(note).uniform(SHORTEST_S, LONGEST_S))
    return min(round(touches_s * rate_hz), ceil(note.start_s * rate_hz))


def most_lead(rate_hz: float) -> int:
    """Return the most samples that `pick_lead` gives."""
    return ceil(LONGEST_S * rate_hz)


def pick_click(
    note: Note, string: TunedString, coils: Sequence[Coil], plane: Plane, rate_hz: float
) -> NDArray[np.float32]:
    """Return what a pick adds to every coil until it lets go.

    The rubbing is noise at the pluck's place. The string carries it to the coils; the pick, which lies on it,
    damps it as `AGAIN_PER_S` says.

    Parameters
    ----------
    coils : sequence of Coil
        Each with a place.
    plane : Plane
        The one through the coils.

    Returns
    -------
    ndarray, shape (n_coils, n), volt
        From `pick_lead` samples before the note's first on; n is 0 without a click.
    """
    lead = pick_lead(note, rate_hz)
    if not lead:
        return np.zeros((len(coils), 0), np.float32)
    length_m = note.length_m(string.length_m)
    modes = modes_of(note, string, rate_hz, planes=(plane,))
    struck = strike_velocity(
        string, modes.numbers, length_m=length_m, at_m=note.pluck_at_m, width_m=HANDS[note.hand].width_m
    )
    modes = replace(modes, belly_m_s=struck * plane.share(note.turned) * plane.sensitivity)
    rates = mode_rates(modes, note, string, length_m) - AGAIN_PER_S
    rows = mode_emfs(modes, string, note.string, coils, length_m) / 1j  # a blow starts as velocity
    after = sum_modes(rates, rows, round(HEARD_S * rate_hz), rate_hz)
    newtons = RUBS_BY * pluck_force(string, note.force) * _rubbing(note, lead, rate_hz)
    return np.array([np.convolve(newtons, one) / rate_hz for one in after], np.float32)


def _chance(note: Note) -> np.random.Generator:
    return np.random.default_rng([note.noises or 0, note.string])


def _rubbing(note: Note, count: int, rate_hz: float) -> Floats:
    """Draw noise of root mean square 1 that rises from nothing and falls with frequency."""
    drawn = max(round(DRAWN_S * rate_hz), count)
    hz = np.fft.rfftfreq(drawn, 1.0 / rate_hz)
    gain = 1.0 / np.hypot(1.0, hz / RUBS_BELOW_HZ)
    white = np.fft.rfft(_chance(note).normal(size=drawn))
    even = np.fft.irfft(white * gain, drawn) / np.sqrt(np.mean(gain**2))
    return np.asarray(even[:count] * np.sin(0.5 * np.pi * np.arange(count) / count))
