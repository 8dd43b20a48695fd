"""A coil's values from few readings: a bridge's Ls and Rs, or two loaded peaks and their height."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.measuring.coil_fit import DC_SD, Values, coil_impedance, fitted_of
from dsp.parts.coil import Coil, Eddy

Floats = NDArray[np.float64]

USUAL_F = 130e-12
"""Capacitance of a winding and its lead (the project's library)."""
USUAL_LOSSES = ((Eddy(0.45, 6000.0),), (Eddy(0.25, 3000.0), Eddy(0.25, 13_000.0)))
"""Losses to start from: in one metal, and in steel below the winding beside metal around it (the
project's library). The likelier of the two coils is taken."""
SPREADS = {"capacitance": 0.4, "share": 1.5, "corner": 1.0}
"""How far these values wander, as standard deviations of their logarithms (of logits for shares)."""
EARNED = 0.3
"""Cost, in halves of a squared standard deviation, that a further loss must save."""
BRIDGE_SD = 0.003
"""Relative error of a bridge."""
PEAK_SD, HEIGHT_SD_DB = 0.005, 0.26
"""Relative error of a peak's frequency, and error of its height: 3 %."""
INPUT_OHM = 1e6
"""Resistance of the instrument input that peaks are read at."""
UNLIKELY = 6.0
"""Standard deviations that a reading may lie off the best coil."""


@dataclass(frozen=True)
class BridgeReading:
    """Series inductance and resistance that a bridge shows at one frequency."""

    frequency_hz: float
    inductance_h: float
    resistance_ohm: float | None = None


@dataclass(frozen=True)
class Peak:
    """Frequency of the loudest response with a capacitor across the coil.

    Attributes
    ----------
    across_f : float
        Of the capacitor and the input's cable.
    frequency_hz : float
        Where the response is loudest.
    height_db : float or None
        Over the level at low frequencies, with the input's 1 MOhm across the coil.
    """

    across_f: float
    frequency_hz: float
    height_db: float | None = None


def coil_of_bridge(readings: Sequence[BridgeReading], dc_ohm: float, where: str) -> Coil:
    """A coil from a bridge's readings and a meter's.

    What the readings leave open, usual values hold: `USUAL_F` and `USUAL_LOSSES`.

    Raises
    ------
    InputError
        Without a reading, or if every inductance is read above resonance.
    """
    if not readings:
        raise InputError(
            where, "no reading", "Ls at one frequency at least, best at 100 Hz, 1 kHz and 10 kHz"
        )
    below = [one.inductance_h for one in readings if one.inductance_h > 0]
    if not below:
        got, allowed = (
            "a negative inductance at every frequency",
            "one reading below resonance, such as 1 kHz",
        )
        raise InputError(where, got, allowed)

    def read(coil: Coil) -> list[float]:
        rows = []
        for one in readings:
            z = coil_impedance(coil, np.array([one.frequency_hz]))[0]
            w = 2 * np.pi * one.frequency_hz
            size = BRIDGE_SD * max(abs(one.inductance_h), abs(z) / w)
            rows.append((z.imag / w - one.inductance_h) / size)
            if one.resistance_ohm is not None:
                rows.append((z.real - one.resistance_ohm) / (BRIDGE_SD * abs(z)))
        return rows

    return _most_likely(read, dc_ohm, below[0], where)


def coil_of_peaks(peaks: Sequence[Peak], dc_ohm: float, where: str) -> Coil:
    """A coil from loaded peaks and their height.

    Two peaks tell inductance and capacitance. The height tells the loss, which is what one hears.

    Raises
    ------
    InputError
        Unless there are two peaks or more, one with its height, which a coil can have.
    """
    if len({peak.across_f for peak in peaks}) < 2:
        raise InputError(
            where, f"{len(peaks)} peaks", "two or more, with different capacitors across the coil"
        )
    if all(peak.height_db is None for peak in peaks):
        raise InputError(
            where,
            "no height",
            "the height of a peak above the level at 100 Hz: without it the loss is not known",
        )
    light, *_, heavy = sorted(peaks, key=lambda peak: peak.across_f)
    if not heavy.frequency_hz < light.frequency_hz:
        raise InputError(
            where, "the larger capacitor has the higher peak", "a lower one", "are they exchanged?"
        )
    squares = [1 / (2 * np.pi * peak.frequency_hz) ** 2 for peak in (light, heavy)]

    def read(coil: Coil) -> list[float]:
        rows = []
        for one in peaks:
            hz, height_db = _peak(coil, one.across_f)
            rows.append(np.log(hz / one.frequency_hz) / PEAK_SD)
            if one.height_db is not None:
                rows.append((height_db - one.height_db) / HEIGHT_SD_DB)
        return rows

    return _most_likely(read, dc_ohm, (squares[1] - squares[0]) / (heavy.across_f - light.across_f), where)


def _most_likely(read: Callable[[Coil], list[float]], dc_ohm: float, henry: float, where: str) -> Coil:
    """The coil that readings and usual values make most likely."""
    fits = [_fit(read, Coil(dc_ohm, henry, USUAL_F, eddy=loss)) for loss in USUAL_LOSSES]
    _, coil = min(fits, key=lambda fit: fit[0])
    worst = float(np.abs(read(coil)).max())
    if worst > UNLIKELY:
        raise InputError(
            where, f"readings {worst:.0f} times their own error off any coil", "readings of one coil",
            "is one of them in another unit, or read above resonance?",
        )  # fmt: skip
    return coil


def _fit(read: Callable[[Coil], list[float]], usual: Coil) -> tuple[float, Coil]:
    """Cost and values of the coil near a usual one that agrees best with the readings."""
    from scipy.optimize import least_squares

    order = len(usual.eddy)
    start = fitted_of(usual)
    corners = np.log([section.corner_hz for section in usual.eddy])

    def residuals(x: Floats) -> Floats:
        values = Values.at(x, order)
        priors = [
            log(values.ohm / usual.resistance_ohm) / DC_SD,
            (x[2] - start[2]) / SPREADS["capacitance"],
            *((x - start)[3 : 3 + order] / SPREADS["share"]),
            *((np.log(values.corners_hz) - corners) / SPREADS["corner"]),
        ]
        return np.array([*priors, *read(values.coil())])

    fit = least_squares(residuals, start, x_scale="jac", max_nfev=200)
    return float(fit.cost) + EARNED * order, Values.at(fit.x, order).coil()


def _peak(coil: Coil, across_f: float) -> tuple[float, float]:
    """Frequency in hertz and height in dB of the response with a capacitor and an input across the coil."""
    resonance = 1 / (2 * np.pi * np.sqrt(coil.inductance_h * (coil.capacitance_f + across_f)))
    hz = resonance * np.geomspace(0.4, 2.5, 1001)
    level = _level_db(coil, across_f, hz)
    top = int(np.clip(level.argmax(), 1, len(hz) - 2))
    # A parabola through three points of a fine grid.
    a, b, c = level[top - 1 : top + 2]
    shift = 0.5 * (a - c) / (a - 2 * b + c) if a - 2 * b + c else 0.0
    base = float(_level_db(coil, across_f, np.array([20.0]))[0])
    return float(hz[top] * (hz[1] / hz[0]) ** shift), float(b - 0.25 * (a - c) * shift - base)


def _level_db(coil: Coil, across_f: float, hz: Floats) -> Floats:
    s = 2j * np.pi * hz
    load = 1 / INPUT_OHM + s * (coil.capacitance_f + across_f)
    return np.asarray(-20 * np.log10(np.abs(1 + Values.of(coil).winding(hz) * load)))
