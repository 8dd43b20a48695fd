"""Play notes on strings over coils: the coils' stems, block by block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.curvature import Curvature
from dsp.strings.hands import stop_envelope, stop_time_s
from dsp.strings.modes import (
    PLANES,
    Complexes,
    Modes,
    Plane,
    band_gain,
    mode_displacements,
    mode_emfs,
    mode_rates,
    modes_of,
)
from dsp.strings.note import Movement, Note
from dsp.strings.ring import SEGMENT, lifetimes_s, sum_modes, sum_moving_modes
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]
BLOCK = 1 << 15
STRETCH = 256
"""Segments of a moving note per computation."""
DEAD_DB = -140.0
"""A moving mode is dropped this far below the loudest: low enough that a coil on a node of the loudest
mode still senses the others down to the floor."""
METHOD = 3
"""Version of the sound: raise it with every audible change, and cached stems are made again."""


@dataclass(frozen=True)
class Setup:
    """Strings and the coils under them.

    Attributes
    ----------
    strings : sequence of TunedString
        Lowest first.
    coils : sequence of Coil
        Each with a place.
    curvature : Curvature or None
        Of the coils' magnets; None for a response that does not depend on the swing.
    """

    strings: Sequence[TunedString]
    coils: Sequence[Coil]
    rate_hz: float
    curvature: Curvature | None = None
    planes: Sequence[Plane] = PLANES


def perform(notes: Sequence[Note], setup: Setup, n_samples: int) -> Iterator[Floats]:
    """Yield the EMF of every coil while notes are played.

    Parameters
    ----------
    notes : sequence of Note
        In any order; ``again_s`` links the notes of one string.

    Yields
    ------
    ndarray, shape (n_coils, m), volt
        ``n_samples`` in all. The longest note sets the memory, not the take.

    Examples
    --------
    >>> from dsp.parts.instrument import GuitarString
    >>> from dsp.strings.tuned import tune
    >>> string = tune(GuitarString(pitch_hz=110.0, gauge_m=1.2e-3, wound=True), scale_m=0.686)
    >>> coil = Coil(resistance_ohm=6e3, inductance_h=2.5, capacitance_f=90e-12, at_m=0.16)
    >>> blocks = list(perform([Note(string=0, start_s=0.1)], Setup([string], [coil], 48_000.0), 9600))
    >>> [block.shape for block in blocks]
    [(1, 9600)]
    >>> bool((blocks[0][:, :4800] == 0.0).all())
    True
    """
    waiting = sorted(notes, key=lambda note: note.start_s)
    groups = len(setup.strings) if setup.curvature else 1
    held = np.zeros((groups, _rows(setup), 0), np.float32)
    for start in range(0, n_samples, BLOCK):
        stop = min(start + BLOCK, n_samples)
        while waiting and waiting[0].start_s * setup.rate_hz < stop:
            note = waiting.pop(0)
            at = ceil(note.start_s * setup.rate_hz)
            sound = render_note(note, setup, n_samples - at)
            group = note.string if setup.curvature else 0
            held = _grown(held, at - start + sound.shape[1])
            held[group, :, at - start : at - start + sound.shape[1]] += sound
        held = _grown(held, stop - start)
        yield _heard(held[:, :, : stop - start], setup)
        held = held[:, :, stop - start :]


def _rows(setup: Setup) -> int:
    return len(setup.coils) * (2 if setup.curvature else 1)


def _grown(held: NDArray[np.float32], length: int) -> NDArray[np.float32]:
    """Pad samples with zeros to at least a length."""
    short = length - held.shape[2]
    return held if short <= 0 else np.pad(held, ((0, 0), (0, 0), (0, short)))


def _heard(held: NDArray[np.float32], setup: Setup) -> Floats:
    """Turn the strings' movement into the coils' EMF, shape (n_coils, m), volt."""
    if setup.curvature is None:
        return np.asarray(held[0], dtype=float)
    velocity, metres = np.split(held.astype(float), 2, axis=1)
    return np.asarray((velocity * setup.curvature.gain(metres)).sum(axis=0))


def render_note(note: Note, setup: Setup, most: int) -> NDArray[np.float32]:
    """Render one note, from the first sample at or after its pluck.

    Parameters
    ----------
    most : int
        Samples at most.

    Returns
    -------
    ndarray, shape (n_coils or 2 n_coils, m)
        EMF of every coil, volt; with a curvature also the displacement over each, metre.
    """
    modes = modes_of(note, setup.strings[note.string], setup.rate_hz, planes=setup.planes)
    late_s = ceil(note.start_s * setup.rate_hz) / setup.rate_hz - note.start_s
    n = _length(modes, note, setup, most)
    if n <= 0:
        return np.zeros((_rows(setup), 0), np.float32)
    if note.movement is None:
        at_rest, rows = _at(modes, note, setup)
        sound = sum_modes(at_rest, rows * np.exp(at_rest * late_s), n, setup.rate_hz)
    else:
        sound = _moved(modes, note, note.movement, setup, late_s, n)
    if note.stop_s is None and note.again_s is None:
        return sound
    time_s = note.start_s + late_s + np.arange(n) / setup.rate_hz
    return sound * stop_envelope(time_s, note.stop_s, note.again_s).astype(np.float32)


def _at(
    modes: Modes, note: Note, setup: Setup, shortened: Floats | float = 1.0, bent: Floats | float = 1.0
) -> tuple[Complexes, Complexes]:
    """Return rates of modes and their amplitude in every row, at one time or at k (shape (k, 1))."""
    string = setup.strings[note.string]
    length_m = note.length_m(string.length_m) * shortened
    found = mode_rates(modes, note, string, length_m, bent)
    hz = found.imag / (2.0 * np.pi)
    rows = mode_emfs(modes, string, note.string, setup.coils, length_m)
    if setup.curvature is not None:
        rows = np.concatenate([rows, mode_displacements(modes, string, setup.coils, length_m, hz)])
    return found, rows * band_gain(hz, setup.rate_hz)


def _length(modes: Modes, note: Note, setup: Setup, most: int) -> int:
    """Return the samples until a note has died away or is stopped."""
    ends = [(1.0, 1.0)]
    if note.movement is not None:  # a longer string rings longer, so the final length counts too
        ends.append(note.movement.final_ratios())
    life_s = 0.0
    for shortened, bent in ends:
        found, rows = _at(modes, note, setup, shortened, bent)
        if found.size and np.any(rows):
            life_s = max(life_s, float(lifetimes_s(found, rows).max()))
    rings_s = min(life_s, stop_time_s(note.stop_s, note.again_s) - note.start_s)
    return max(min(ceil(min(rings_s, most / setup.rate_hz) * setup.rate_hz), most), 0)


def _moved(
    modes: Modes, note: Note, movement: Movement, setup: Setup, late_s: float, n: int
) -> NDArray[np.float32]:
    """Render a note whose pitch moves.

    It works in stretches and drops modes as they die, so that a long note takes no more memory than
    a short one.
    """
    sound = np.zeros((_rows(setup), n), np.float32)
    travelled: Complexes | None = None
    for start in range(0, n, STRETCH * SEGMENT):
        stop = min(start + STRETCH * SEGMENT, n)
        points = np.arange(-(-(stop - start) // SEGMENT) + 1)
        time_s = late_s + (start + points[:, None] * SEGMENT) / setup.rate_hz
        along, rows = _at(modes, note, setup, movement.length_ratio(time_s), movement.speed_ratio(time_s))
        if travelled is None:
            travelled = along[0] * late_s
        sound[:, start:stop] = sum_moving_modes(along, rows * np.exp(travelled), stop - start, setup.rate_hz)
        steps = 0.5 * SEGMENT / setup.rate_hz * (along[1:] + along[:-1])
        travelled = travelled + steps.sum(axis=0)
        left = np.log(np.maximum(np.abs(modes.belly_m_s), 1e-300)) + travelled.real
        alive = left > left.max() + DEAD_DB / 20.0 * np.log(10.0)
        modes, travelled = modes.select(alive), travelled[alive]
    return sound
