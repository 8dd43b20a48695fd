"""Two knobs together: a map of timbre over both, and what one does at each value of the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import knob_grid
from dsp.errors import InputError, nearest
from dsp.knobs.travel import STEPS, Travel, compute_travel, travel_of
from dsp.parts.pot import KNOB_TOP
from dsp.sound.spectra import energy_of, standard_notes
from dsp.sound.timbre import ear_bands, timbre, timbre_distance
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
VOLUME_DB = -30.0
"""A knob whose bottom is softer than this, re its top, is a volume."""
LEAST_DB = 1.0
"""A knob that changes the timbre by less from end to end is no tone control."""
WITHIN_DB = 12.0
"""How much softer the first knob may make the sound: "a little back". Our own line."""
ALIKE_DB, ALIKE_EVENNESS = 0.05, 0.05
"""Of two travels that differ by less none is called the better one. Our own lines."""
SILENT = 1e-12
"""Share of the strongest energy below which a setting is silent."""


@dataclass(frozen=True)
class PairRow:
    """What the second knob does at one value of the first.

    Attributes
    ----------
    value : float
        Of the first knob, 0 to 10.
    travel : Travel
        Of the second.
    level_db : float
        Of the loudest place of the row, re the loudest of the first knob at 10.
    changed_db : float
        Root mean square, over the travel, of the difference between what the second knob does here
        and what it does with the first at 10, each re its own top. 0 if it does the same.
    """

    value: float
    travel: Travel
    level_db: float
    changed_db: float


@dataclass(frozen=True)
class PairMap:
    """Timbre and level over two knobs.

    Attributes
    ----------
    knobs : tuple of str
        The first (rows) and the second (columns).
    values : ndarray, shape (n,)
        Of either knob, 0 to 10.
    points : ndarray, shape (n, n, n_bands), dB
        Timbres; the distance between two of them is `timbre_distance`.
    level_db : ndarray, shape (n, n)
        Re both knobs at 10; if that is silent, re the loudest place.
    audible : ndarray of bool, shape (n, n)
        False where nothing is heard.
    rows : tuple of PairRow
        Those of the audible values of the first knob, from 10 down.
    """

    knobs: tuple[str, str]
    values: Floats
    points: Floats
    level_db: Floats
    audible: Flags
    rows: tuple[PairRow, ...]

    def rows_within(self, within_db: float = WITHIN_DB) -> tuple[PairRow, ...]:
        """Return the rows that are softer than the loudest by no more than this."""
        loudest = max((row.level_db for row in self.rows), default=0.0)
        return tuple(row for row in self.rows if row.level_db >= loudest - within_db)


def compute_pair(wiring: Wiring, setting: Setting, knobs: tuple[str, str], *, steps: int = STEPS) -> PairMap:
    """Compute the standard notes at every combination of two knobs.

    Parameters
    ----------
    setting : Setting
        Position of the selector, switches and other knobs.

    Raises
    ------
    InputError
        If a knob is not there, or both are the same.
    """
    _check(wiring, knobs)
    bands = ear_bands()
    values = np.linspace(0.0, KNOB_TOP, steps + 1)
    coil = knob_grid(wiring, setting, dict.fromkeys(knobs, values), bands.centres_hz)
    flat = coil.reshape(-1, *coil.shape[2:])
    energy = energy_of(flat, standard_notes(wiring, bands), bands).reshape(*coil.shape[:2], -1)
    total = energy.sum(axis=2)
    audible = total > SILENT * max(float(total.max()), 1e-300)
    top = float(total[-1, -1]) if audible[-1, -1] else max(float(total.max()), 1e-300)
    level_db = 10.0 * np.log10(np.maximum(total / top, SILENT))
    points = timbre(energy)
    rows = _rows(knobs[1], values, energy, points, audible)
    return PairMap(knobs, values, points, level_db, audible, rows)


def _rows(second: str, values: Floats, energy: Floats, points: Floats, audible: Flags) -> tuple[PairRow, ...]:
    """Return what the second knob does at each audible value of the first, from 10 down."""
    loudest = energy.sum(axis=2).max(axis=1)
    found = []
    for i in range(len(values) - 1, -1, -1):
        if audible[i].any():
            shared = audible[i] & audible[-1]
            level_db = 10.0 * float(np.log10(loudest[i] / max(float(loudest[-1]), SILENT * loudest.max())))
            travel = travel_of(second, values, energy[i])
            found.append(PairRow(float(values[i]), travel, level_db, _changed(points[i], points[-1], shared)))
    return tuple(found)


def _changed(here: Floats, at_ten: Floats, shared: Flags) -> float:
    """Return how far two travels differ once each starts from its own top, RMS in dB."""
    places = np.flatnonzero(shared)
    if len(places) == 0:
        return 0.0
    top = places[-1]
    moved = timbre_distance(here[places] - here[top], at_ten[places] - at_ten[top])
    return float(np.sqrt(np.mean(moved**2)))


def find_widest(rows: tuple[PairRow, ...]) -> PairRow:
    """Return the row with the widest travel; of rows alike, the first."""
    return _best(rows, lambda row: row.travel.width_db, ALIKE_DB)


def find_most_even(rows: tuple[PairRow, ...]) -> PairRow:
    """Return the row with the most even travel; of rows alike, the first."""
    return _best(rows, lambda row: row.travel.evenness, ALIKE_EVENNESS)


def _best(rows: tuple[PairRow, ...], worth: Callable[[PairRow], float], alike: float) -> PairRow:
    most = max(map(worth, rows))
    return next(row for row in rows if worth(row) > most - alike)


def choose_knobs(wiring: Wiring, setting: Setting, wanted: tuple[str, str] = ("", "")) -> tuple[str, str]:
    """Return two knobs: those wanted, or else a volume and a tone.

    Parameters
    ----------
    setting : Setting
        Knobs that are not wanted are tried from here.
    wanted : tuple of str
        Empty for a knob to be chosen: the first that turns the sound off, then the first other one
        that changes the timbre.

    Raises
    ------
    InputError
        If a knob is not there, both are the same, or there are fewer than two.
    """
    names = list(wiring.knobs)
    if len(names) < 2:
        raise InputError("knobs", ", ".join(names) or "none", "a wiring with two knobs or more")
    if all(wanted):
        _check(wiring, wanted)
        return wanted
    for name in filter(None, wanted):
        _known(wiring, name)
    open_ = wiring.setting(setting.position, {}, setting.switches)
    travels = {name: compute_travel(wiring, open_, name) for name in names if name not in wanted}
    volumes = [name for name, one in travels.items() if float(one.level_db[0]) < VOLUME_DB]
    tones = [name for name, one in travels.items() if name not in volumes and one.width_db >= LEAST_DB]
    first = wanted[0] or next(iter([*volumes, *travels]))
    second = wanted[1] or next(name for name in [*tones, *travels] if name != first)
    return first, second


def _check(wiring: Wiring, knobs: tuple[str, str]) -> None:
    for name in knobs:
        _known(wiring, name)
    if knobs[0] == knobs[1]:
        raise InputError("knobs", f"'{knobs[0]}' twice", "two different knobs")


def _known(wiring: Wiring, name: str) -> None:
    if name not in wiring.knobs:
        allowed = ", ".join(wiring.knobs) or "none here"
        raise InputError("knob", f"'{name}'", allowed, nearest(name, wiring.knobs))
