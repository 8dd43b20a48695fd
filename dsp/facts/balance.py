"""How loud each string is in each coil: what a technician sets pole heights by."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from dsp.sound.open_chord import open_chord
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
SILENT_DB = -80.0
"""A string that a coil does not sense."""


def string_levels(wiring: Wiring) -> Mapping[str, Floats]:
    """Return each open string's level in every coil, re the coil's loudest.

    Each string is pulled equally far at one place. The level is that of the EMF right after the pluck, as
    in the sound: what magnetises of the string (`dsp.strings.magnetised`), its swing over the coil, and
    the coil's `string_balance` over level poles.

    Returns
    -------
    mapping of str to ndarray, shape (n_strings,), dB
        Lowest string first. Coils without a place, dummies and coils that sense nothing are left out.
    """
    if not wiring.coils:
        return {}
    chord = open_chord(wiring)
    n_strings = int(chord.string.max()) + 1
    found = {}
    for (name, coil), volt in zip(wiring.coils.items(), chord.volt, strict=True):
        if coil.dummy or coil.at_m is None:
            continue
        power = np.bincount(chord.string, np.abs(volt) ** 2, n_strings)
        if not power.max():
            continue
        floor = 10.0 ** (SILENT_DB / 10.0)
        found[name] = 10.0 * np.log10(np.maximum(power / power.max(), floor))
    return found
