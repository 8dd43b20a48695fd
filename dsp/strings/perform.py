"""Play notes on strings over coils: the coils' stems, block by block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, inf

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.curvature import REACH, TOP_SHARE, Curvature, slope, step_of
from dsp.strings.damping import DEAD_PER_S
from dsp.strings.glide import Glide, glide_of
from dsp.strings.hands import stop_envelope, stop_time_s, touched_s
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
    partial_frequencies,
)
from dsp.strings.noises import clicks, most_lead, pick_click
from dsp.strings.note import Movement, Note
from dsp.strings.ring import SEGMENT, STEADY, lifetimes_s, sum_modes, sum_moving_modes
from dsp.strings.sensing import string_sensitivity
from dsp.strings.tuned import TunedString

Floats = NDArray[np.float64]
BLOCK = 1 << 15
STRETCH = 256
"""Segments of a moving note per computation."""
DEAD_DB = -140.0
"""A moving mode is dropped this far below the loudest: low enough that a coil on a node of the loudest
mode still senses the others down to the floor."""
FAINT_DB = -60.0
"""A mode's displacement no longer bends the flux this far below the largest."""
SETTLES_S = 0.25
"""Time in which the flux of the string at rest, displaced, fades out of what is heard."""
METHOD = 7
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
    step = step_of(setup.rate_hz)
    sound, flux = _Held(len(setup.coils)), _Held(len(setup.coils))
    flux.add(0, np.zeros((len(setup.coils), REACH), np.float32))
    ahead = max((REACH + 1) * step if setup.curvature else 0, most_lead(setup.rate_hz))
    for start in range(0, n_samples, BLOCK):
        stop = min(start + BLOCK, n_samples)
        while waiting and waiting[0].start_s * setup.rate_hz < stop + ahead:
            note = waiting.pop(0)
            at = ceil(note.start_s * setup.rate_hz)
            if clicks(note):
                string = setup.strings[note.string]
                lead, click = pick_click(note, string, setup.coils, setup.planes[0], setup.rate_hz)
                sound.add(at - lead - start, click)
            rung = render_note(note, setup, n_samples - at)
            sound.add(at - start, rung.emf)
            flux.add(-(-at // step) - start // step + REACH, rung.flux)
        played = sound.take(stop - start).astype(float)
        if setup.curvature:
            played += slope(flux.samples, start % step, stop - start, setup.rate_hz)
            flux.take(stop // step - start // step)
        yield played


class _Held:
    """Samples that are still to be heard, from the start of a block."""

    def __init__(self, n_rows: int) -> None:
        self.samples = np.zeros((n_rows, 0), np.float32)

    def add(self, at: int, more: NDArray[np.float32]) -> None:
        """Add samples from an index on."""
        self._grow(at + more.shape[1])
        self.samples[:, at : at + more.shape[1]] += more

    def take(self, count: int) -> NDArray[np.float32]:
        """Take samples from the start."""
        self._grow(count)
        found, self.samples = self.samples[:, :count], self.samples[:, count:]
        return found

    def _grow(self, length: int) -> None:
        short = length - self.samples.shape[1]
        if short > 0:
            more = np.zeros((len(self.samples), short), np.float32)
            self.samples = np.concatenate([self.samples, more], axis=1)


@dataclass(frozen=True)
class Rung:
    """One note in every coil, shapes (n_coils, m) each.

    Attributes
    ----------
    emf : ndarray, volt
        From the first sample at or after the pluck, as if the magnets' field were even.
    flux : ndarray, volt second
        What their curvature adds, at every `step_of` samples of the take; its slope is an EMF.
    """

    emf: NDArray[np.float32]
    flux: NDArray[np.float32]


def render_note(note: Note, setup: Setup, most: int) -> Rung:
    """Render one note.

    Parameters
    ----------
    most : int
        Samples at most.
    """
    modes = modes_of(note, setup.strings[note.string], setup.rate_hz, planes=setup.planes)
    at = ceil(note.start_s * setup.rate_hz)
    n = _length(modes, note, setup, most)
    nothing = np.zeros((len(setup.coils), 0), np.float32)
    if n <= 0:
        return Rung(nothing, nothing)
    pitch = _glide(modes, note, setup)
    late_s = at / setup.rate_hz - note.start_s
    if note.movement is None:
        at_rest, rows = _at(modes, note, setup)
        steps = pitch.steps() if pitch else STEADY
        emf = sum_modes(at_rest, rows * np.exp(at_rest * late_s), n, setup.rate_hz, pitch=steps)
    else:
        emf = _moved(modes, note, note.movement, setup, late_s, n, pitch)
    emf = _stopped(emf, note, at, 1, setup)
    if setup.curvature is None:
        return Rung(emf, nothing)
    return Rung(emf, _flux(modes, note, setup, n, pitch))


def _stopped(sound: NDArray[np.float32], note: Note, at: int, step: int, setup: Setup) -> NDArray[np.float32]:
    """Let hands stop a note whose samples start at one of the take, ``step`` samples apart."""
    first_s = touched_s(note)
    if first_s == inf:
        return sound
    first = min(max(floor((first_s * setup.rate_hz - at) / step), 0), sound.shape[-1])
    left = stop_envelope((at + step * np.arange(first, sound.shape[-1])) / setup.rate_hz, note)
    sound[..., first:] *= left.astype(np.float32)
    return sound


def _flux(modes: Modes, note: Note, setup: Setup, n: int, pitch: Glide | None) -> NDArray[np.float32]:
    """Return `Rung.flux`, from the displacement of the low partials normal to the body.

    The string is at rest, displaced, before the pluck: the flux that it then has fades out slowly, below
    hearing.
    """
    assert setup.curvature is not None
    string, step = setup.strings[note.string], step_of(setup.rate_hz)
    first = -(-ceil(note.start_s * setup.rate_hz) // step)
    late_s = first * step / setup.rate_hz - note.start_s
    rate_hz = setup.rate_hz / step
    count = -(-n // step) + REACH + 1  # the slope of the last samples looks ahead
    hz = partial_frequencies(string, modes.numbers, note.length_m(string.length_m))
    modes = modes.select((modes.sensitivity == 1.0) & (hz < TOP_SHARE * rate_hz))
    if not len(modes.numbers):
        return np.zeros((len(setup.coils), 0), np.float32)
    if note.movement is None:
        at_rest, rows = _at(modes, note, setup, displaced=True)
        steps = pitch.steps() if pitch else STEADY
        metres = sum_modes(
            at_rest, rows * np.exp(at_rest * late_s), count, rate_hz, pitch=steps, floor_db=FAINT_DB
        )
    else:
        metres = _moved(modes, note, note.movement, setup, late_s, count, pitch, displaced=True)
    metres = _stopped(metres, note, first * step, step, setup)
    flux = setup.curvature.bent_flux(metres)
    settling_s = min(SETTLES_S, count / rate_hz / 10.0)
    settling: NDArray[np.float32] = np.exp(-np.arange(count) / (settling_s * rate_hz)).astype(np.float32)
    flux -= flux[:, :1] * _stopped(settling, note, first * step, step, setup)
    volts = [string_sensitivity(coil, string, note.string) for coil in setup.coils]
    flux *= np.array(volts, np.float32)[:, None]
    return flux


def _glide(modes: Modes, note: Note, setup: Setup) -> Glide | None:
    string = setup.strings[note.string]
    if string.stretch_n == 0.0:
        return None
    length_m = note.length_m(string.length_m)
    rates = mode_rates(modes, note, string, length_m)
    bellies_m = modes.belly_m_s / (rates.imag * modes.sensitivity)
    decays = -rates.real + (DEAD_PER_S if note.dead else 0.0)
    return glide_of(string, length_m, modes.numbers, bellies_m, decays)


def _at(
    modes: Modes,
    note: Note,
    setup: Setup,
    shortened: Floats | float = 1.0,
    bent: Floats | float = 1.0,
    *,
    displaced: bool = False,
) -> tuple[Complexes, Complexes]:
    """Return rates of modes and their amplitude in every coil, at one time or at k (shape (k, 1)).

    The amplitudes are EMFs, or displacements over the coils if ``displaced``.
    """
    string = setup.strings[note.string]
    length_m = note.length_m(string.length_m) * shortened
    found = mode_rates(modes, note, string, length_m, bent)
    hz = found.imag / (2.0 * np.pi)
    if displaced:
        rate_hz = setup.rate_hz / step_of(setup.rate_hz)
        return found, mode_displacements(modes, setup.coils, length_m, hz) * band_gain(hz, rate_hz)
    rows = mode_emfs(modes, string, note.string, setup.coils, length_m)
    return found, rows * band_gain(hz, setup.rate_hz)


def _length(modes: Modes, note: Note, setup: Setup, most: int) -> int:
    """Return the samples until a note has died away or its string is plucked again."""
    ends = [(1.0, 1.0)]
    if note.movement is not None:  # a longer string rings longer, so the final length counts too
        ends.append(note.movement.final_ratios())
    life_s = 0.0
    for shortened, bent in ends:
        found, rows = _at(modes, note, setup, shortened, bent)
        if found.size and np.any(rows):
            life_s = max(life_s, float(lifetimes_s(found, rows).max()))
    rings_s = min(life_s, stop_time_s(note) - note.start_s)
    return max(min(ceil(min(rings_s, most / setup.rate_hz) * setup.rate_hz), most), 0)


def _moved(
    modes: Modes,
    note: Note,
    movement: Movement,
    setup: Setup,
    late_s: float,
    n: int,
    pitch: Glide | None,
    *,
    displaced: bool = False,
) -> NDArray[np.float32]:
    """Render a note whose pitch moves.

    It works in stretches and drops modes as they die, so that a long note takes no more memory than
    a short one.
    """
    rate_hz = setup.rate_hz / step_of(setup.rate_hz) if displaced else setup.rate_hz
    sound = np.zeros((len(setup.coils), n), np.float32)
    travelled: Complexes | None = None
    for start in range(0, n, STRETCH * SEGMENT):
        stop = min(start + STRETCH * SEGMENT, n)
        points = np.arange(-(-(stop - start) // SEGMENT) + 1)
        time_s = late_s + (start + points[:, None] * SEGMENT) / rate_hz
        bent = movement.speed_ratio(time_s) * (pitch.ratio(time_s) if pitch else 1.0)
        along, rows = _at(modes, note, setup, movement.length_ratio(time_s), bent, displaced=displaced)
        if travelled is None:
            travelled = along[0] * late_s
        sound[:, start:stop] = sum_moving_modes(along, rows * np.exp(travelled), stop - start, rate_hz)
        steps = 0.5 * SEGMENT / rate_hz * (along[1:] + along[:-1])
        travelled = travelled + steps.sum(axis=0)
        left = np.log(np.maximum(np.abs(modes.belly_m_s), 1e-300)) + travelled.real
        alive = left > left.max() + DEAD_DB / 20.0 * np.log(10.0)
        modes, travelled = modes.select(alive), travelled[alive]
    return sound
