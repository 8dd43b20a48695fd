"""How loud each string is in each coil: what a technician sets pole heights by."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from dsp.parts.instrument import GuitarString
from dsp.sound.open_chord import open_chord
from dsp.strings.sensing import level_pole_gain, section_gain
from dsp.strings.tuned import tune
from dsp.takes.player import instrument_of
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
SILENT_DB = -80.0
"""A string that a coil does not sense."""


def string_levels(wiring: Wiring) -> Mapping[str, Floats]:
    """Return each open string's level in every coil, re the coil's loudest.

    Each string is pulled equally far at one place, over poles of one height. The level is that of the
    EMF right after the pluck: what magnetises of the string, its swing over the coil, and the coil's
    `string_balance`. The sound takes heights that even out part of it; see `dsp.strings.sensing`.

    Returns
    -------
    mapping of str to ndarray, shape (n_strings,), dB
        Lowest string first. Coils without a place, dummies and coils that sense nothing are left out.
    """
    if not wiring.coils:
        return {}
    chord = open_chord(wiring)
    instrument, _ = instrument_of(wiring.instrument)
    level = np.array([_over_level_poles(string, instrument.scale_m) for string in instrument.strings])
    found = {}
    for (name, coil), volt in zip(wiring.coils.items(), chord.volt, strict=True):
        if coil.dummy or coil.at_m is None:
            continue
        power = np.bincount(chord.string, np.abs(volt) ** 2, len(level)) * level**2
        if not power.max():
            continue
        floor = 10.0 ** (SILENT_DB / 10.0)
        found[name] = 10.0 * np.log10(np.maximum(power / power.max(), floor))
    return found


def _over_level_poles(string: GuitarString, scale_m: float) -> float:
    """Return a string's signal over level poles, re that with the heights that the sound takes."""
    tuned = tune(string, scale_m)
    return level_pole_gain(tuned, string.wrap) / section_gain(tuned)
