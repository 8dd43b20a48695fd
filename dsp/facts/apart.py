"""How far the positions of a wiring are apart, each from the one most like it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dsp.sound.audible import Difference, difference
from dsp.sound.spectra import band_energy
from dsp.sound.timbre import ear_bands
from dsp.wiring.model import Setting, Wiring


@dataclass(frozen=True)
class Nearest:
    """The position that sounds most like another."""

    position: str
    apart: Difference


def nearest_positions(wiring: Wiring, settings: Sequence[Setting]) -> tuple[Nearest | None, ...]:
    """Return, for each setting, the other one whose timbre is nearest.

    Settings are compared by the standard notes. None for silence, and where nothing else sounds.
    """
    energy = band_energy(wiring, settings, ear_bands())
    sounding = [i for i in range(len(settings)) if energy[i].sum() > 0.0]
    found: list[Nearest | None] = [None] * len(settings)
    for i in sounding:
        others = [(difference(energy[i], energy[j]), j) for j in sounding if j != i]
        if others:
            apart, j = min(others, key=lambda one: one[0].distance_db)
            found[i] = Nearest(settings[j].position, apart)
    return tuple(found)


def nearest_record(nearest: Nearest | None) -> dict[str, Any] | None:
    """Return a neighbour as a mapping, None for none."""
    if nearest is None:
        return None
    return {"position": nearest.position, **difference_record(nearest.apart)}


def difference_record(apart: Difference) -> dict[str, Any]:
    """Return a difference as a mapping; ``heard`` is as loud as each is."""
    return {
        "distance_db": apart.distance_db,
        "largest_db": apart.largest_db,
        "level_db": apart.level_db,
        "heard": apart.heard_as_played,
    }
