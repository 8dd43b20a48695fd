"""How evenly a knob changes the sound along its travel, and values that make it more even."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.parts.capacitor import Capacitor
from dsp.parts.kinds import parts_of
from dsp.parts.taper import SINGLE, named
from dsp.sound.audible import BAND_DB, largest_difference, word_of
from dsp.sound.spectra import band_energy
from dsp.sound.timbre import ear_bands, timbre, timbre_distance
from dsp.units import show
from dsp.units.preferred import step_value
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
STEPS = 20
"""Steps of 0.5 from 0 to 10."""


@dataclass(frozen=True)
class Travel:
    """What a knob changes along its travel.

    Attributes
    ----------
    values : ndarray, shape (n + 1,)
        Knob values from 0 to 10.
    step_db : ndarray, shape (n,)
        Timbre distance of each step, with the level removed.
    level_db : ndarray, shape (n + 1,)
        Level at each value, re that at 10.
    width_db : float
        Timbre distance between the two ends.
    largest_db : float
        Between the ends, of the band that differs most.
    """

    knob: str
    values: Floats
    step_db: Floats
    level_db: Floats
    width_db: float
    largest_db: float

    @property
    def heard(self) -> str:
        """Whether the change from end to end is heard, by `dsp.sound.audible`."""
        return word_of(self.largest_db, BAND_DB)

    @property
    def evenness(self) -> float:
        """Share of the steps that an even knob would need, 0 to 1.

        It is 1 if all steps are alike, and 1/n if one of n steps makes all the change. It is the
        participation ratio (sum d)^2 / (n sum d^2).
        """
        square = float(np.sum(self.step_db**2))
        return float(np.sum(self.step_db)) ** 2 / (len(self.step_db) * square) if square > 0.0 else 1.0

    @property
    def level_evenness(self) -> float:
        """Evenness of the level's steps, with a floor at -60 dB."""
        steps = np.abs(np.diff(np.maximum(self.level_db, -60.0)))
        square = float(np.sum(steps**2))
        return float(np.sum(steps)) ** 2 / (len(steps) * square) if square > 0.0 else 1.0


def compute_travel(wiring: Wiring, setting: Setting, knob: str, *, steps: int = STEPS) -> Travel:
    """Return how a knob changes the standard notes at a setting.

    Parameters
    ----------
    setting : Setting
        Position of the selector, switches and other knobs.
    """
    bands = ear_bands()
    values = np.linspace(0.0, 10.0, steps + 1)
    settings = [
        wiring.setting(setting.position, {**setting.knobs, knob: float(value)}, setting.switches)
        for value in values
    ]
    return travel_of(knob, values, band_energy(wiring, settings, bands))


def travel_of(knob: str, values: Floats, energy: Floats) -> Travel:
    """Return how a knob changes the sound, given the energy at each value.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Knob values from 0 to 10, rising.
    energy : ndarray, shape (n, n_bands), V² s
    """
    total = energy.sum(axis=1)
    audible = total > 1e-12 * total.max()
    points = timbre(energy)
    step_db = np.sqrt(np.mean(np.diff(points, axis=0) ** 2, axis=1)) * (audible[1:] & audible[:-1])
    level_db = 10.0 * np.log10(np.maximum(total / max(total[-1], 1e-300), 1e-12))
    heard = np.flatnonzero(audible)
    ends = points[[heard[0], heard[-1]]]
    width_db, largest_db = timbre_distance(*ends), largest_difference(*ends)
    return Travel(knob, values, step_db, level_db, float(width_db), float(largest_db))


@dataclass(frozen=True)
class ValueSuggestion:
    """Another pot or capacitor, and the knob's travel with it.

    Attributes
    ----------
    changes : mapping of str to str
        Each key is ``part.field``; its value is written as in a file.
    """

    changes: Mapping[str, str]
    travel: Travel


NEARBY = (-6, -4, -2, 2, 4, 6)
"""E12 steps from the present capacitor to try: half a decade either way."""


def suggest_values(
    wiring: Wiring, setting: Setting, knob: str, capacitor: str | None = None
) -> Iterator[ValueSuggestion]:
    """Yield tapers, and values near a capacitor's, with the knob's travel.

    Parameters
    ----------
    capacitor : str, optional
        A capacitor whose nearby E12 values are tried too.

    Yields
    ------
    ValueSuggestion
        One for each combination, the present values first.
    """
    yield ValueSuggestion({}, compute_travel(wiring, setting, knob))
    pots = {track: wiring.pots[track] for track in wiring.knobs[knob]}
    for name in SINGLE:
        others = {track: replace(pot, taper=named(name)) for track, pot in pots.items()}
        turned = replace(wiring, parts={**wiring.parts, **others})
        own = {f"{track}.taper": name for track, pot in pots.items() if named(name) != pot.taper}
        if own:
            yield ValueSuggestion(own, compute_travel(turned, setting, knob))
        for value in _nearby(wiring, capacitor):
            assert capacitor is not None  # only a capacitor gives values
            other = replace(parts_of(wiring.parts, Capacitor)[capacitor], capacitance_f=value)
            tried = replace(turned, parts={**turned.parts, capacitor: other})
            changes = {**own, f"{capacitor}.capacitance": show(value, "capacitance", 3)}
            yield ValueSuggestion(changes, compute_travel(tried, setting, knob))


def _nearby(wiring: Wiring, capacitor: str | None) -> list[float]:
    """Return the E12 values around a capacitor's own."""
    part = parts_of(wiring.parts, Capacitor).get(capacitor or "")
    return [step_value(part.capacitance_f, "E12", up) for up in NEARBY] if part else []
