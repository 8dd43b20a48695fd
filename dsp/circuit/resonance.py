"""The resonance of a loaded coil: frequency, height and width, read off the curve.

The formula 1/(2 pi sqrt(LC)) is off by a tenth for a guitar coil: losses and loads move the peak.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import respond_network
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import build_network, set_pots

BAND_HZ = (20.0, 40_000.0)
HALF_POWER_DB = 10.0 * np.log10(2.0)
ROUNDS, POINTS = 4, 41
"""A point of the curve is narrowed down in so many rounds, each of so many frequencies."""
REFERENCE_HZ = 100.0
"""A peak's height is counted from the level at this frequency."""


@dataclass(frozen=True)
class Resonance:
    """The highest point of one coil's response.

    Attributes
    ----------
    level_db : float
        Re the coil's EMF.
    height_db : float
        Above the level at 100 Hz.
    bandwidth_hz : float or None
        Between the half-power points. None where the curve does not fall by 3 dB on both
        sides: a shoulder.
    """

    coil: str
    frequency_hz: float
    level_db: float
    height_db: float
    bandwidth_hz: float | None


def resonances(
    wiring: Wiring, setting: Setting, *, coils: Collection[str] | None = None
) -> tuple[Resonance, ...]:
    """Find the resonances of the audible coils.

    Parameters
    ----------
    coils : collection of str, optional
        Coils to look at; all unless given.

    Returns
    -------
    tuple of Resonance
        Silent coils and coils without a peak inside `BAND_HZ` are left out.

    Examples
    --------
    2.4 H and 630 pF (winding, cable and input) would give 4093 Hz without losses.

    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> (found,) = resonances(wiring, wiring.setting("1"))
    >>> round(found.frequency_hz), round(found.height_db, 1)
    (4079, 16.0)
    """
    network = set_pots(build_network(wiring, setting), setting)
    grid = np.geomspace(*BAND_HZ, 500)
    coarse, _ = respond_network(network, np.concatenate([[REFERENCE_HZ], grid]))
    found = []
    for k, name in enumerate(wiring.coils):
        if not np.any(coarse[k]) or (coils is not None and name not in coils):
            continue

        def level(frequencies_hz: Floats, k: int = k) -> Floats:
            return _decibel(respond_network(network, frequencies_hz)[0][k])

        one = _resonance(name, grid, _decibel(coarse[k]), level)
        if one is not None:
            found.append(one)
    return tuple(found)


def _decibel(response: Complex) -> Floats:
    level: Floats = 20.0 * np.log10(np.maximum(np.abs(response), 1e-15))
    return level


def _resonance(
    name: str, grid: Floats, levels: Floats, level: Callable[[Floats], Floats]
) -> Resonance | None:
    reference, coarse = float(levels[0]), levels[1:]
    top = int(np.argmax(coarse))
    if top in (0, len(grid) - 1):
        return None
    low, high = float(grid[top - 1]), float(grid[top + 1])
    for _ in range(ROUNDS):  # each narrows the bracket twentyfold
        fine = np.linspace(low, high, POINTS)
        at = int(np.argmax(level(fine)))
        low, high = float(fine[max(at - 1, 0)]), float(fine[min(at + 1, POINTS - 1)])
    peak_hz = 0.5 * (low + high)
    peak_db = float(level(np.array([peak_hz]))[0])
    goal_db = peak_db - HALF_POWER_DB
    below, above = (_crossing(grid, coarse, goal_db, peak_hz, step, level) for step in (-1, 1))
    width = None if below is None or above is None else above - below
    return Resonance(name, peak_hz, peak_db, peak_db - reference, width)


def _crossing(
    grid: Floats,
    levels: Floats,
    goal_db: float,
    peak_hz: float,
    step: int,
    level: Callable[[Floats], Floats],
) -> float | None:
    """First frequency beyond the peak, upwards or downwards, where the curve falls to a level."""
    beyond = np.flatnonzero((grid - peak_hz) * step > 0.0)[::step]
    inside = peak_hz
    for at in beyond:
        if levels[at] <= goal_db:
            return _narrow_down(inside, float(grid[at]), goal_db, level)
        inside = float(grid[at])
    return None


def _narrow_down(inside: float, outside: float, goal_db: float, level: Callable[[Floats], Floats]) -> float:
    """Frequency at which the curve passes a level, between one above it and one below."""
    for _ in range(ROUNDS + 1):
        fine = np.linspace(inside, outside, POINTS)
        below = int(np.argmax(level(fine) <= goal_db)) or POINTS - 1
        inside, outside = float(fine[below - 1]), float(fine[below])
    return 0.5 * (inside + outside)
