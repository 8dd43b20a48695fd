"""Findings about loudness: jumps from one position to the next."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.facts.findings.states import LOOK_HZ, State, line_of
from dsp.facts.findings.table import JUMP_DB, Finding
from dsp.sound.clean_level import clean_weights
from dsp.sound.open_chord import open_chord
from dsp.wiring.model import Wiring

MOST_DB = 60.0
"""Largest jump given as a figure."""


def find_loudness_jumps(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield neighbouring positions whose levels differ by more than `JUMP_DB`.

    Levels as wired and levels through clean are compared; the finding gives the jump through clean.

    Parameters
    ----------
    states : list of State
        The other switches in their first position.
    """
    heard = [state for state in states if not state.silent]
    if len(heard) < 2:
        return
    chord = open_chord(wiring)
    weights = np.stack([np.ones(len(chord.hz)), clean_weights(chord.hz)])
    levels = {state.setting.position: weights @ chord.energy(_at(state.coil, chord.hz)) for state in heard}
    jumps = []
    for before, after in pairwise(wiring.positions):
        one, other = levels.get(before), levels.get(after)
        if one is None or other is None or min(one[0], other[0]) <= 0.0:
            continue
        wired_db, clean_db = (10.0 * math.log10(b / a) for a, b in zip(one, other, strict=True))
        if max(abs(wired_db), abs(clean_db)) > JUMP_DB:
            wired = f"{_written(wired_db, 'dB')}, " if abs(wired_db) > JUMP_DB else ""
            jumps.append(f"{before} to {after}: {wired}{_written(clean_db, 'LU')} through clean")
    if jumps:
        yield Finding("loudness jump", (), (), line_of(wiring, wiring.selector), "; ".join(jumps))


def _written(jump_db: float, unit: str) -> str:
    """Return a jump as text; what cancels to the last digits is as good as silent."""
    return (
        f"{jump_db:+.1f} {unit}"
        if abs(jump_db) < MOST_DB
        else f"{'-' if jump_db < 0.0 else '+'}{MOST_DB:g} {unit} or more"
    )


def _at(coil: Complex, hz: Floats) -> Complex:
    """Interpolate responses at `LOOK_HZ`, shape (n_coils, n_freqs), to other frequencies."""
    known, wanted = np.log(LOOK_HZ), np.log(hz)
    rows = [np.interp(wanted, known, row.real) + 1j * np.interp(wanted, known, row.imag) for row in coil]
    return np.array(rows).reshape(len(coil), len(hz))
