"""What a knob should lead to, and whether a travel does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError, Problem, nearest
from dsp.knobs.ends import CLEAR, DARK, ENDS, OTHER, QUIETER, THIN
from dsp.sound.timbre import Bands, timbre

Floats = NDArray[np.float64]
LEAST_TILT_DB = 1.0
"""Bass or treble must change by this much, re the total; what should stay falls by no more."""
START_DB = 2.0
"""One end of the travel must be this near to today's sound with the knob at 10."""
BASS_HZ, TREBLE_HZ = 250.0, 3e3
INAUDIBLE = 1e-12
SOFTEST_DB = -60.0


@dataclass(frozen=True)
class Goal:
    """What a knob should lead to, how far and how evenly.

    Attributes
    ----------
    to : tuple of str
        Keys of `ENDS`.
    at_least_db : float
        Change from end to end: of timbre; of level for ``quieter``.
    within_db : float
        Largest difference of level along the travel; of timbre for ``quieter``.
    evenness : float
        Least evenness, 0 to 1: of timbre; of level for ``quieter``.
    keep_pot : bool
        Leave the pot as it is, so that a network confined to one position changes no other.

    Raises
    ------
    InputError
        For an unknown end, ends that exclude each other, or a number out of range.
    """

    to: tuple[str, ...]
    at_least_db: float = 3.0
    within_db: float = 9.0
    evenness: float = 0.6
    keep_pot: bool = False

    def __post_init__(self) -> None:
        found = [Problem("goal", f"'{one}'", ", ".join(ENDS), nearest(one, ENDS)) for one in self.to
                 if one not in ENDS]  # fmt: skip
        if not self.to:
            found.append(Problem("goal", "no end", ", ".join(ENDS)))
        if {DARK, CLEAR} <= {*self.to} or ({QUIETER, OTHER} & {*self.to} and len({*self.to}) > 1):
            found.append(Problem("goal", " and ".join(self.to), "ends that do not exclude each other"))
        if not 0.0 < self.at_least_db <= 60.0:
            found.append(Problem("at least", f"{self.at_least_db:g} dB", "above 0 to 60 dB"))
        if not 0.0 < self.within_db <= 60.0:
            found.append(Problem("within", f"{self.within_db:g} dB", "above 0 to 60 dB"))
        if not 0.0 <= self.evenness <= 1.0:
            found.append(Problem("evenness", f"{self.evenness:g}", "0 to 1"))
        if found:
            raise InputError.of(found)

    @property
    def of_level(self) -> bool:
        """Whether the level should change, and the timbre stay."""
        return QUIETER in self.to


class Figures(NamedTuple):
    """Travels by the measures of a goal, an entry for each travel.

    Attributes
    ----------
    change_db, spread_db, evenness : ndarray
        What `Goal` asks for: change from end to end, spread of the other quantity, evenness.
    start_db : ndarray
        Timbre distance of the start from today's sound.
    at_ten : ndarray of bool
        Whether the start is at 10; otherwise at 0.
    bass_db, treble_db, level_db : ndarray
        From the start to the other end.
    """

    change_db: Floats
    spread_db: Floats
    evenness: Floats
    start_db: Floats
    at_ten: NDArray[np.bool_]
    bass_db: Floats
    treble_db: Floats
    level_db: Floats


def measure(goal: Goal, energy: Floats, today: Floats, bands: Bands) -> Figures:
    """Measure travels by a goal.

    Parameters
    ----------
    energy : ndarray, shape (n_travels, n_values, n_bands), V² s
    today : ndarray, shape (n_bands,), V² s
        Of the present wiring with the knob at 10.
    """
    total = energy.sum(axis=2)
    audible = total > INAUDIBLE * total.max(axis=1, keepdims=True)
    points = timbre(energy)
    both = audible[:, 1:] & audible[:, :-1]
    step_db = np.sqrt(np.mean(np.diff(points, axis=1) ** 2, axis=2)) * both
    level_db = 10.0 * np.log10(np.maximum(total / total.max(axis=1, keepdims=True), INAUDIBLE))
    rows = np.arange(len(energy))
    ends = np.stack([np.argmax(audible, axis=1), total.shape[1] - 1 - np.argmax(audible[:, ::-1], axis=1)])
    at = points[rows, ends]
    width_db = np.sqrt(np.mean((at[1] - at[0]) ** 2, axis=1))
    from_today = np.sqrt(np.mean((points[:, [0, -1]] - timbre(today)) ** 2, axis=2))
    at_ten = from_today[:, 1] <= from_today[:, 0] if not goal.of_level else total[:, -1] >= total[:, 0]
    start, end = np.where(at_ten, -1, 0), np.where(at_ten, 0, -1)
    middles = np.sqrt(bands.edges_hz[1:] * bands.edges_hz[:-1])
    shares = [
        10.0 * np.log10(np.maximum(energy[..., which].sum(axis=2), 1e-300) / np.maximum(total, 1e-300))
        for which in (middles < BASS_HZ, middles > TREBLE_HZ)
    ]
    bass_db, treble_db = (one[rows, end] - one[rows, start] for one in shares)
    fall_db = level_db[rows, end] - level_db[rows, start]
    start_db = from_today[rows, start.astype(int)]
    if goal.of_level:
        level_steps = np.abs(np.diff(np.maximum(level_db, SOFTEST_DB), axis=1))
        apart = np.sqrt(np.mean((points - points[rows, start][:, None]) ** 2, axis=2))
        wander_db = np.where(level_db > level_db[rows, start][:, None] + SOFTEST_DB / 2, apart, 0.0).max(
            axis=1
        )
        return Figures(-fall_db, wander_db, _even(level_steps), start_db, at_ten, bass_db, treble_db, fall_db)
    spread_db = np.ptp(level_db, axis=1)
    return Figures(width_db, spread_db, _even(step_db), start_db, at_ten, bass_db, treble_db, fall_db)


def _even(steps: Floats) -> Floats:
    """Return the participation ratio of each row; see `Travel.evenness`."""
    square = np.sum(steps**2, axis=1)
    safe = np.where(square > 0.0, square, 1.0)
    return np.where(square > 0.0, np.sum(steps, axis=1) ** 2 / (steps.shape[1] * safe), 1.0)


def leads_there(goal: Goal, found: Figures) -> NDArray[np.bool_]:
    """Return which travels start near today's sound and lead there.

    Returns
    -------
    ndarray, shape (n_travels,)
    """
    right = found.start_db <= START_DB
    if THIN in goal.to:
        right = right & (found.bass_db <= -LEAST_TILT_DB) & (found.treble_db >= -LEAST_TILT_DB)
    if DARK in goal.to:
        right = right & (found.treble_db <= -LEAST_TILT_DB) & (found.bass_db >= -LEAST_TILT_DB)
    if CLEAR in goal.to:
        right = right & (found.treble_db >= LEAST_TILT_DB)
    return right


def shortfall(goal: Goal, found: Figures) -> Floats:
    """Return by how much travels miss the goal's numbers, shape (n_travels,).

    It is 0 where they meet all.
    """
    narrow = np.maximum(0.0, 1.0 - found.change_db / goal.at_least_db)
    loud = np.maximum(0.0, found.spread_db / goal.within_db - 1.0)
    uneven = np.maximum(0.0, 1.0 - found.evenness / goal.evenness) if goal.evenness else 0.0
    return np.asarray(narrow + loud + uneven)
