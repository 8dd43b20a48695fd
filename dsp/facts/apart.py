"""How far the positions of a wiring are apart, each from the one most like it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.sound.audible import Difference, difference
from dsp.sound.clean_level import clean_band_power, clean_level_db
from dsp.sound.spectra import band_energy
from dsp.sound.timbre import Bands, ear_bands, loudness_weighted_distance
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Nearest:
    """The position that sounds most like another."""

    position: str
    apart: Difference
    clean: CleanDifference


@dataclass(frozen=True)
class CleanDifference:
    """How far two sounds are apart through clean.

    Attributes
    ----------
    distance_db : float
        Weighted by loudness, level removed: `dsp.sound.timbre.loudness_weighted_distance`.
    level_db : float
        K-weighted level of the second over the first.
    """

    distance_db: float
    level_db: float


def clean_difference(first: Floats, second: Floats, bands: Bands) -> CleanDifference:
    """Compare two sounds through clean.

    Parameters
    ----------
    first, second : ndarray, shape (n_bands,)
        Energy by band at the amplifier's input, more than 0 in some band.
    """
    power = clean_band_power(bands)
    before, after = clean_level_db(np.stack([first, second]), bands)
    distance_db = loudness_weighted_distance(first * power, second * power)
    return CleanDifference(distance_db, float(after - before))


def nearest_positions(wiring: Wiring, settings: Sequence[Setting]) -> tuple[Nearest | None, ...]:
    """Return, for each setting, the other one whose timbre is nearest.

    Settings are compared by the standard notes. None for silence, and where nothing else sounds.
    """
    bands = ear_bands()
    energy = band_energy(wiring, settings, bands)
    sounding = [i for i in range(len(settings)) if energy[i].sum() > 0.0]
    found: list[Nearest | None] = [None] * len(settings)
    for i in sounding:
        others = [(difference(energy[i], energy[j]), j) for j in sounding if j != i]
        if others:
            apart, j = min(others, key=lambda one: one[0].distance_db)
            clean = clean_difference(energy[i], energy[j], bands)
            found[i] = Nearest(settings[j].position, apart, clean)
    return tuple(found)


def nearest_record(nearest: Nearest | None) -> dict[str, Any] | None:
    """Return a neighbour as a mapping, None for none; `clean` as heard so."""
    if nearest is None:
        return None
    clean = {"distance_db": nearest.clean.distance_db, "level_db": nearest.clean.level_db}
    return {"position": nearest.position, **difference_record(nearest.apart), "clean": clean}


def difference_record(apart: Difference) -> dict[str, Any]:
    """Return a difference as a mapping; ``heard`` is as loud as each is."""
    return {
        "distance_db": apart.distance_db,
        "largest_db": apart.largest_db,
        "level_db": apart.level_db,
        "heard": apart.heard_as_played,
    }
