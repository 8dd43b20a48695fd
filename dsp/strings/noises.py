"""Noises of hands that the coils sense, as motion of the string."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.hands import AGAIN_PER_S
from dsp.strings.modes import TOP_SHARE, Modes, Plane, mode_emfs, mode_rates, partial_frequencies
from dsp.strings.note import Note
from dsp.strings.pluck import HANDS, pluck_force, strike_velocity
from dsp.strings.ring import sum_modes
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]

PICKS = ("pick", "thin pick", "thick pick")
"""The hands that click. No recording shows the contact of a finger or a thumb."""
SHORTEST_S, LONGEST_S = 0.002, 0.006
"""How long a pick is on the string before it lets go. Of thirteen notes of one guitar (026 of Debian's
freepats) two begin 2 and 2.5 ms before; the others are in contact as their file starts, 1 to 6 ms before."""
RUBS_BY = 0.04
"""Root mean square of the force with which the pick rubs, relative to the pluck's."""
RUBS_BELOW_HZ = 150.0
"""Corner above which that force falls with frequency. Both are fitted to the notes of `PICKED_FIT`
(tests/helpers/string_notes.py)."""
DRAWN_S, HEARD_S = 0.02, 0.01
"""Length of the noise that is drawn, and of what a blow leaves of the string under the pick."""
TOP_HZ = 12_000.0
"""The string carries the rubbing up to here: above the bands that it is held to."""


def most_lead(rate_hz: float) -> int:
    """Return the most samples for which a pick touches the string."""
    return ceil(LONGEST_S * rate_hz)


def clicks(note: Note) -> bool:
    """Tell whether a pick is heard before the note."""
    return note.noises is not None and note.hand in PICKS


def pick_click(
    note: Note, string: TunedString, coils: Sequence[Coil], plane: Plane, rate_hz: float
) -> tuple[int, NDArray[np.float32]]:
    """Return what a pick adds to every coil until it lets go.

    The rubbing is noise at the pluck's place. The string carries it to the coils; the pick, which lies on it,
    damps it as `AGAIN_PER_S` says.

    Parameters
    ----------
    note : Note
        One that `clicks`.
    coils : sequence of Coil
        Each with a place.
    plane : Plane
        The one through the coils.

    Returns
    -------
    int
        Samples before the note's first at which it begins: those in which the pick touches the string.
    ndarray, shape (n_coils, n), volt
    """
    chance = _chance(note)
    lead = _lead(note, rate_hz, chance)
    length_m = note.length_m(string.length_m)
    modes = _struck(note, string, plane, length_m, rate_hz)
    rates = mode_rates(modes, note, string, length_m) - AGAIN_PER_S
    rows = mode_emfs(modes, string, note.string, coils, length_m) / 1j  # a blow starts as velocity
    after = sum_modes(rates, rows, round(HEARD_S * rate_hz), rate_hz)
    newtons = RUBS_BY * pluck_force(string, note.force) * _rubbing(lead, rate_hz, chance)
    count = lead + after.shape[1]
    size = 1 << count.bit_length()
    found = np.fft.irfft(np.fft.rfft(newtons, size) * np.fft.rfft(after, size), size)[:, :count]
    return lead, (found / rate_hz).astype(np.float32)


def _chance(note: Note) -> np.random.Generator:
    return np.random.default_rng([note.noises or 0, note.string])


def _lead(note: Note, rate_hz: float, chance: np.random.Generator) -> int:
    touches_s = float(chance.uniform(SHORTEST_S, LONGEST_S))
    return min(round(touches_s * rate_hz), ceil(note.start_s * rate_hz))


def _struck(note: Note, string: TunedString, plane: Plane, length_m: float, rate_hz: float) -> Modes:
    """Return the modes of one plane, their bellies' velocity per N s at the pluck's place."""
    top_hz = min(TOP_HZ, TOP_SHARE * rate_hz)
    numbers = np.arange(1.0, top_hz * 2.0 * length_m / string.speed_m_s)
    numbers = numbers[partial_frequencies(string, numbers, length_m) < top_hz]
    width_m = HANDS[note.hand].width_m
    struck = strike_velocity(string, numbers, length_m=length_m, at_m=note.pluck_at_m, width_m=width_m)
    each = np.ones_like(numbers)
    return Modes(
        numbers,
        plane.pitch * each,
        plane.conductance_s_kg * each,
        plane.sensitivity * each,
        plane.share(note.turned) * plane.sensitivity * struck,
    )


def _rubbing(count: int, rate_hz: float, chance: np.random.Generator) -> Floats:
    """Draw noise of root mean square 1 that rises from nothing and falls with frequency."""
    drawn = max(round(DRAWN_S * rate_hz), count)
    hz = np.fft.rfftfreq(drawn, 1.0 / rate_hz)
    gain = 1.0 / np.hypot(1.0, hz / RUBS_BELOW_HZ)
    white = np.fft.rfft(chance.normal(size=drawn))
    even = np.fft.irfft(white * gain, drawn) / np.sqrt(np.mean(gain**2))
    return np.asarray(even[:count] * np.sin(0.5 * np.pi * np.arange(count) / max(count, 1)))
