"""An open chord as weights over frequency and coil, the basis of level and brightness.

The string model plucks every string of the instrument once. Each partial counts with its energy
until it dies away. Levels computed this way depend on strings, coil places, circuit and load,
without rendering.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import Complex, Floats
from dsp.parts.coil import Coil
from dsp.strings.magnetised import tune_set
from dsp.strings.modes import PLANES, mode_emfs, mode_rates, modes_of
from dsp.strings.note import Note
from dsp.takes.player import PLUCK_SHARE, instrument_of
from dsp.wiring.model import Wiring

RATE_HZ = 48_000.0
NOTE_S = 2.0
"""Time over which energy counts: the next chord follows."""
SOMEWHERE = 0.25
"""Place, as a share of the scale, assumed for a coil whose wiring states none."""


@dataclass(frozen=True)
class Chord:
    """Partials of an open chord.

    Attributes
    ----------
    hz : ndarray, shape (n,), Hz
    volt : ndarray, shape (n_coils, n)
        EMF amplitude in every coil.
    seconds : ndarray, shape (n,), s
        Time for which the initial energy would last to equal the total.
    mean_hz : float
        Geometric mean of the strings' pitches.
    string : ndarray of int, shape (n,)
        The string of each partial, 0 for the lowest.
    """

    hz: Floats
    volt: Floats
    seconds: Floats
    mean_hz: float
    string: NDArray[np.intp]

    def energy(self, response: Complex) -> Floats:
        """Return the energy of every partial at the output, V² s, shape (n,).

        Parameters
        ----------
        response : ndarray, shape (n_coils, n)
            Of every coil at ``hz``.
        """
        return np.asarray(0.5 * np.abs(np.sum(response * self.volt, axis=0)) ** 2 * self.seconds)


def open_chord(wiring: Wiring, *, frets: Sequence[int] | None = None) -> Chord:
    """Pluck the open chord of a wiring's instrument.

    Parameters
    ----------
    frets : sequence of int, optional
        Per string, lowest first; open strings unless given.
    """
    instrument, _ = instrument_of(wiring.instrument)
    coils = [_placed(coil, instrument.scale_m) for coil in wiring.coils.values()]
    hz, volt, seconds, which = [], [], [], []
    for index, one in enumerate(tune_set(instrument.strings, instrument.scale_m)):
        fret = frets[index] if frets is not None else 0
        note = Note(index, 0.0, fret=fret, pluck_at_m=PLUCK_SHARE * instrument.scale_m)
        length_m = note.length_m(one.length_m)
        modes = modes_of(note, one, RATE_HZ)
        by_plane = mode_rates(modes, note, one, length_m).reshape(len(PLANES), -1)
        hz.append(by_plane[0].imag / (2.0 * np.pi))
        n = by_plane.shape[1]  # the main plane's modes come first; all start as the same sine
        volt.append(mode_emfs(modes, one, index, coils, length_m)[:, :n].imag)
        seconds.append(_seconds(by_plane))
        which.append(np.full(n, index))
    mean_hz = float(np.exp(np.mean([np.log(string.pitch_hz) for string in instrument.strings])))
    joined = np.concatenate(hz), np.concatenate(volt, axis=1), np.concatenate(seconds)
    return Chord(*joined, mean_hz, np.concatenate(which))


def _seconds(by_plane: Complex) -> Floats:
    """Return energy of partials over `NOTE_S` relative to their start in the main plane.

    The modes of one partial beat slowly, so amplitudes add, not energies.

    Parameters
    ----------
    by_plane : ndarray, shape (n_planes, n), 1/s
        Complex rates.
    """
    weights = [plane.share() * plane.sensitivity for plane in PLANES]
    total = np.zeros(by_plane.shape[1])
    for weight, rate in zip(weights, by_plane, strict=True):
        for other_weight, other in zip(weights, by_plane, strict=True):
            both = rate + np.conj(other)
            total += weight * other_weight * (np.expm1(both * NOTE_S) / both).real
    return total / weights[0] ** 2


def _placed(coil: Coil, scale_m: float) -> Coil:
    return coil if coil.at_m is not None else replace(coil, at_m=SOMEWHERE * scale_m)
