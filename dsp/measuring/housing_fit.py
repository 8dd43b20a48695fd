"""Two coils of one housing: their values and the coupling between them, from three curves."""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dsp.measuring.coil_fit import (
    ACROSS_SD_F,
    DC_SD,
    FILE_AT_C,
    FLOOR,
    GUESSES_HZ,
    KNOWN_OHM,
    KNOWN_SD,
    Z_95,
    Values,
    choose_order,
    cooled,
    reduced_chi2,
    start_values,
)
from dsp.measuring.curve import Curve
from dsp.parts.coil import Coil

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

ORDERS = (0, 1, 2)
"""Eddy sections tried. A third in each coil adds four values that three curves hardly hold apart."""


@dataclass(frozen=True)
class HousingFit:
    """Two coils of one housing.

    Attributes
    ----------
    first, second : Coil
        At 20 °C.
    order : int
        Number of eddy sections of each.
    coefficient : float
        Of the whole inductances, as a wiring file's coupling; above 0 where the coils aid in series.
    interval : tuple of float
        Ends of the coefficient's 95 % interval.
    chi2 : float
        Reduced chi-squared.
    """

    first: Coil
    second: Coil
    order: int
    coefficient: float
    interval: tuple[float, float]
    chi2: float


def housing_impedances(
    first: Coil, second: Coil, coefficient: float, hz: Floats
) -> tuple[Complex, Complex, Complex]:
    """Impedances of each coil alone, and of both in series, in ohms.

    Alone, the other is open. ``coefficient`` is that of a coupling. Each has the shape of the frequencies.

    In series the first coil's finish is joined to the second's start.
    """
    return _impedances(Values.of(first), Values.of(second), coefficient, hz)


def _impedances(first: Values, second: Values, k: float, hz: Floats) -> tuple[Complex, Complex, Complex]:
    s = 2j * np.pi * hz
    mutual = s * k * np.sqrt(first.henry * second.henry)
    one, other = first.winding(hz), second.winding(hz)
    determinant = one * other - mutual**2
    a = other / determinant + s * first.farad
    b = one / determinant + s * second.farad
    across = -mutual / determinant
    whole = a * b - across**2
    alone_a, alone_b, shared = b / whole, a / whole, -across / whole
    return alone_a, alone_b, alone_a + alone_b + 2 * shared


def fit_housing(
    curves: tuple[Curve, Curve, Curve],
    *,
    dc_ohm: tuple[float, float] | None = None,
    celsius: float = FILE_AT_C,
    known_ohm: float = KNOWN_OHM,
) -> HousingFit:
    """Fit two coils and their coupling to three curves together.

    Each coil alone is no simple coil: the other, open, resonates beside it. So no curve is fitted by
    itself. Both coils have the same number of eddy sections, chosen as for one coil.

    Parameters
    ----------
    curves : tuple of Curve
        The first coil with the second open, the second with the first open, and both in series, the
        first coil's finish joined to the second's start.
    dc_ohm : tuple of float
        Readings of a meter at each coil.
    celsius : float
        Temperature of the coils.
    """
    fits = [_fit_orders(curves, order, dc_ohm, known_ohm) for order in ORDERS]
    order = ORDERS[choose_order(fits)]
    fit = fits[order]
    first, second, k = _split(fit.x, order)
    chi2 = max(1.0, reduced_chi2(fit))
    sd = float(np.sqrt(chi2 * np.linalg.pinv(fit.jac.T @ fit.jac)[-3, -3])) * (1 - k**2)
    return HousingFit(
        cooled(first.coil(), celsius),
        cooled(second.coil(), celsius),
        order,
        k,
        (k - Z_95 * sd, k + Z_95 * sd),
        reduced_chi2(fit),
    )


def _split(x: Floats, order: int) -> tuple[Values, Values, float]:
    size = 3 + 2 * order
    return Values.at(x[:size], order), Values.at(x[size : 2 * size], order), float(np.tanh(x[-3]))


def _fit_orders(
    curves: tuple[Curve, Curve, Curve], order: int, dc_ohm: tuple[float, float] | None, known_ohm: float
) -> OptimizeResult:
    """The best fit with this many eddy sections in each coil, from several starts."""
    from scipy.optimize import least_squares

    def residuals(x: Floats) -> Floats:
        first, second, k = _split(x, order)
        known, across = x[-2:]
        rows = []
        for i, curve in enumerate(curves):
            hz = curve.frequencies_hz
            model = _impedances(first, second, k, hz)[i]
            beside = np.log(1 + 2j * np.pi * hz * known_ohm * across * ACROSS_SD_F)
            read = (np.log(model / curve.ohm) + beside - known) / np.hypot(curve.sd, FLOOR)
            rows += [read.real, read.imag]
        meters = [log(coil.ohm / dc) / DC_SD for coil, dc in zip((first, second), dc_ohm or (), strict=False)]
        return np.concatenate([*rows, meters, [known / KNOWN_SD, across]])

    fits = []
    for corners in GUESSES_HZ[order]:
        starts = [
            start_values(curve, dc, corners)
            for curve, dc in zip(curves, dc_ohm or (None, None), strict=False)
        ]
        start = np.concatenate([*starts, [np.arctanh(_rough_k(curves)), 0.0, 0.0]])
        fits.append(least_squares(residuals, start, x_scale="jac", max_nfev=60))
    return min(fits, key=lambda fit: float(fit.cost))


def _rough_k(curves: tuple[Curve, Curve, Curve]) -> float:
    """Coefficient from the inductances at the lower frequencies."""
    one, other, whole = (_low_inductance(curve) for curve in curves)
    return float(np.clip((whole - one - other) / (2 * np.sqrt(one * other)), -0.9, 0.9))


def _low_inductance(curve: Curve) -> float:
    low = (curve.frequencies_hz > 100) & (curve.frequencies_hz < 600)
    return float(np.median(curve.ohm.imag[low] / (2 * np.pi * curve.frequencies_hz[low])))
