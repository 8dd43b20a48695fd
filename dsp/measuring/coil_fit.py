"""A coil's values from its impedance curve: resistance, inductance, capacitance and eddy losses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, log
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.measuring.curve import Curve
from dsp.parts.coil import Coil, Eddy
from dsp.parts.spreads import COPPER_PER_K

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

FILE_AT_C = 20.0
"""A wiring file's resistances hold at this temperature."""
CORNERS_HZ = (50.0, 25_000.0)
"""A corner outside the read band would trade against inductance or capacitance."""
GUESSES_HZ: Mapping[int, tuple[tuple[float, ...], ...]] = {
    0: ((),),
    1: ((800.0,), (3000.0,), (9000.0,)),
    2: ((400.0, 5000.0), (1500.0, 12_000.0), (800.0, 3000.0)),
    3: ((200.0, 1500.0, 8000.0), (500.0, 4000.0, 15_000.0), (800.0, 2500.0, 6000.0)),
}
FIRST_SHARE = 0.12
FLOOR = 0.001
"""Relative error of a reading that no scatter shows."""
DC_SD = 0.005
"""Relative standard deviation of a meter in ohms."""
KNOWN_SD = 0.003
"""Relative standard deviation of the known resistor."""
ACROSS_SD_F = 0.5e-12
"""Capacitance of the known resistor and of its leads."""
KNOWN_OHM = 100e3
"""The known resistor where the caller gives none; `ACROSS_SD_F` acts across it."""
BETTER = 10.0
"""A richer model must lower the Bayesian information criterion by more: strong evidence is 6 to 10
(Kass and Raftery, "Bayes Factors", Journal of the American Statistical Association 90, 1995)."""
DISAGREE = 0.04
"""Relative difference of curve and meter at direct current, of the fit that weighs both, which no tolerance
explains. It is eight standard deviations of the meter's."""
NOT_SEEN = 0.02
"""Relative half of an interval above which a value is said not to be seen."""
UNEXPLAINED = 3.0
"""Reduced chi-squared of the richest model that says: the coil loses more than three sections hold."""
Z_95 = 1.959964


@dataclass(frozen=True)
class CoilFit:
    """What a curve says of a coil.

    Attributes
    ----------
    coil : Coil
        At 20 °C.
    order : int
        Number of eddy sections.
    intervals : dict of str to tuple of float
        Ends of the 95 % interval of ``resistance_ohm``, ``inductance_h``, ``capacitance_f`` and of
        ``eddy.0.share`` and so on.
    chi2 : float
        Reduced chi-squared of the chosen model; near 1 if the model holds.
    fitted : ndarray, shape (3 + 2 order,)
        The values as they were fitted.
    curve : Curve
        The reading.
    model_ohm : ndarray of complex, shape (n,)
        Impedance of the model at the curve's frequencies and the temperature of the reading.
    response_error_db : float
        Largest error of the response into a load up to 10 kHz that reading and model differ by.
    notes : tuple of str
        What was not seen, and what to look at.
    """

    coil: Coil
    order: int
    intervals: dict[str, tuple[float, float]]
    chi2: float
    fitted: Floats
    curve: Curve
    model_ohm: Complex
    response_error_db: float
    notes: tuple[str, ...]


def coil_impedance(coil: Coil, frequencies_hz: Floats) -> Complex:
    """Impedance between a coil's leads in ohms, shape of the frequencies."""
    s = 2j * np.pi * np.asarray(frequencies_hz)
    winding = coil.resistance_ohm + s * coil.lossless_h
    for share_h, ohm in coil.sections():
        winding = winding + s * share_h * ohm / (s * share_h + ohm)
    return np.asarray(1 / (1 / winding + s * coil.capacitance_f))


def fit_coil(
    curve: Curve,
    where: str,
    *,
    dc_ohm: float | None = None,
    celsius: float = FILE_AT_C,
    known_ohm: float = KNOWN_OHM,
) -> CoilFit:
    """Fit a coil to an impedance curve.

    Models with no to three eddy sections are fitted. The smallest is taken whose Bayesian information
    criterion comes within 10 of the best. The known resistor's error and the capacitance across it
    are fitted too, each held near zero by a prior.

    Parameters
    ----------
    where : str
        Name of the reading, for errors.
    dc_ohm : float
        Reading of a meter at the same temperature.
    celsius : float
        Temperature of the coil.

    Raises
    ------
    InputError
        If the curve is no coil's, or the meter contradicts it.
    """
    _check_inductive(curve, where)
    problems = [_Problem(curve, order, dc_ohm, known_ohm) for order in GUESSES_HZ]
    fits = [problem.best() for problem in problems]
    order = choose_order(fits)
    fit = fits[order]
    warm = Values.at(fit.x, order).coil()
    chi2 = reduced_chi2(fit)
    if dc_ohm is not None:
        _check_meter(fit, chi2, dc_ohm, known_ohm, where)
    coil = cooled(warm, celsius)
    intervals = _intervals(fit, order, warmth(celsius), max(1.0, chi2))
    model = coil_impedance(warm, curve.frequencies_hz)
    error = _response_error_db(curve, model, warm.capacitance_f)
    notes = tuple(_notes(coil, order, intervals, chi2, curve, dc_ohm, error))
    return CoilFit(coil, order, intervals, chi2, fit.x[:-2], curve, model, error, notes)


def choose_order(fits: Sequence[OptimizeResult]) -> int:
    """Choose the smallest model that is nearly as likely as the best.

    Its information criterion comes within `BETTER` of the lowest.

    The scatter is judged by the richest model where that leaves more than the readings' own.
    """
    scale = max(1.0, reduced_chi2(fits[-1]))
    criteria = [2 * fit.cost / scale + len(fit.x) * log(len(fit.fun)) for fit in fits]
    return next(i for i, value in enumerate(criteria) if value <= min(criteria) + BETTER)


def reduced_chi2(fit: OptimizeResult) -> float:
    """Sum of squares by degree of freedom."""
    return float(2 * fit.cost / (len(fit.fun) - len(fit.x)))


# === The model
#
# Values are fitted by their logarithms: they are positive, and their errors are relative. Shares of the
# inductance follow a softmax against the lossless rest, so that no sum exceeds the whole.


@dataclass(frozen=True)
class Values:
    """A coil's values while they are fitted.

    In ohm, henry and farad; shares of the inductance, and their corners in hertz."""

    ohm: float
    henry: float
    farad: float
    shares: Floats
    corners_hz: Floats

    @classmethod
    def at(cls, x: Floats, order: int) -> Values:
        """Values of fitted numbers, shape (3 + 2 order,) or longer."""
        from scipy.special import expit, softmax

        ohm, henry, farad = np.exp(x[:3])
        shares = softmax(np.append(x[3 : 3 + order], 0.0))[:-1]
        low, high = np.log(CORNERS_HZ)
        corners = np.exp(low + (high - low) * expit(x[3 + order : 3 + 2 * order]))
        return cls(float(ohm), float(henry), float(farad), shares, corners)

    @classmethod
    def of(cls, coil: Coil) -> Values:
        """Values of a coil."""
        shares = np.array([section.share for section in coil.losses])
        corners = np.array([section.corner_hz for section in coil.losses])
        return cls(coil.resistance_ohm, coil.inductance_h, coil.capacitance_f, shares, corners)

    def winding(self, hz: Floats) -> Complex:
        """Impedance without the capacitance, in ohms, shape of the frequencies."""
        turn = 1j * hz / self.corners_hz[:, None]
        return np.asarray(self.ohm + 2j * np.pi * hz * self.henry * (1 - self.shares @ (turn / (1 + turn))))

    def coil(self) -> Coil:
        """A coil of these values, its losses by rising corner."""
        pairs = sorted(zip(self.corners_hz, self.shares, strict=True))
        eddy = tuple(Eddy(float(share), float(corner)) for corner, share in pairs)
        return Coil(self.ohm, self.henry, self.farad, eddy=eddy)


def fitted_of(coil: Coil) -> Floats:
    """The numbers that stand for a coil in a fit, shape (3 + 2 sections,)."""
    from scipy.special import logit

    values = Values.of(coil)
    low, high = np.log(CORNERS_HZ)
    logits = np.log(values.shares / (1 - values.shares.sum()))
    places = logit((np.log(values.corners_hz) - low) / (high - low))
    return np.concatenate([np.log([values.ohm, values.henry, values.farad]), logits, places])


def start_values(curve: Curve, dc_ohm: float | None, corners: tuple[float, ...]) -> Floats:
    """Numbers to start a fit from, shape (3 + 2 corners,)."""
    loss = tuple(Eddy(FIRST_SHARE, corner) for corner in corners)
    return fitted_of(Coil(*_rough(curve, dc_ohm), eddy=loss))


def cooled(coil: Coil, celsius: float) -> Coil:
    """The coil at 20 °C that was read at ``celsius`` °C.

    Its eddy losses stay: they are in metals whose temperature is not told.
    """
    return replace(coil, resistance_ohm=coil.resistance_ohm / warmth(celsius))


def warmth(celsius: float) -> float:
    """Resistance of copper at ``celsius`` °C over that at 20 °C."""
    return 1 + COPPER_PER_K * (celsius - FILE_AT_C)


@dataclass(frozen=True)
class _Problem:
    """Residuals and their slopes, both divided by standard deviations."""

    curve: Curve
    order: int
    dc_ohm: float | None
    known_ohm: float

    def residuals(self, x: Floats) -> Floats:
        """Logarithm of model over reading, real parts first, meter, priors."""
        values = Values.at(x, self.order)
        known, across = float(x[-2]), float(x[-1])
        s = 2j * np.pi * self.curve.frequencies_hz
        winding = values.winding(self.curve.frequencies_hz)
        model = 1 / (1 / winding + s * values.farad)
        # What is called the known resistor is known_ohm (1 + known) with a capacitance across it.
        beside = np.log(1 + s * self.known_ohm * across * ACROSS_SD_F)
        read = np.log(model / self.curve.ohm) - known + beside
        direct = [] if self.dc_ohm is None else [log(values.ohm / self.dc_ohm) / DC_SD]
        return self._stacked(read, direct, known / KNOWN_SD, across)

    def slopes(self, x: Floats) -> Floats:
        """Slopes of the residuals, shape (residuals, values)."""
        from scipy.special import expit

        values, order = Values.at(x, self.order), self.order
        s = 2j * np.pi * self.curve.frequencies_hz
        winding = values.winding(self.curve.frequencies_hz)
        loaded = 1 + s * values.farad * winding
        to_read = 1 / (winding * loaded)
        rows = [to_read * values.ohm, to_read * (winding - values.ohm), -s * values.farad * winding / loaded]
        turn = 1j * self.curve.frequencies_hz / values.corners_hz[:, None]
        by_share = -s * values.henry * turn / (1 + turn)
        for k, share in enumerate(values.shares):
            moved = -values.shares * share
            moved[k] += share
            rows.append(to_read * (moved @ by_share))
        low, high = np.log(CORNERS_HZ)
        place = expit(x[3 + order : 3 + 2 * order])
        by_corner = s * values.henry * values.shares[:, None] * turn / (1 + turn) ** 2
        rows += list(to_read * by_corner * ((high - low) * place * (1 - place))[:, None])
        size = s * self.known_ohm * ACROSS_SD_F
        rows += [np.full(len(s), -1.0 + 0j), size / (1 + size * x[-1])]
        unit = np.eye(len(rows))
        columns = [
            self._stacked(row, [one[0] / DC_SD] if self.dc_ohm else [], one[-2] / KNOWN_SD, one[-1])
            for row, one in zip(rows, unit, strict=True)
        ]
        return np.array(columns).T

    def _stacked(self, read: Complex, direct: list[float], known: float, across: float) -> Floats:
        sd = np.hypot(self.curve.sd, FLOOR)
        return np.concatenate([read.real / sd, read.imag / sd, direct, [known, across]])

    def fit(self, start: Floats) -> OptimizeResult:
        """Least squares from one start."""
        from scipy.optimize import least_squares

        reach = np.concatenate([np.full(3, 5.0), np.full(2 * self.order, 15.0), [0.1, 50.0]])
        around = (start - reach, start + reach)
        return least_squares(self.residuals, start, self.slopes, bounds=around, x_scale="jac", max_nfev=100)

    def best(self) -> OptimizeResult:
        """The best of the fits from several starts."""
        starts = [start_values(self.curve, self.dc_ohm, corners) for corners in GUESSES_HZ[self.order]]
        fits = [self.fit(np.append(start, [0.0, 0.0])) for start in starts]
        return min(fits, key=lambda fit: float(fit.cost))


def _rough(curve: Curve, dc_ohm: float | None) -> tuple[float, float, float]:
    """Resistance, inductance and capacitance to start from."""
    hz, z = curve.frequencies_hz, curve.ohm
    ohm = dc_ohm or max(float(np.median(z.real[:5])), 1e-3)
    w = 2 * np.pi * hz
    low = (hz >= 100) & (hz <= 3000)
    low = low if low.any() else np.ones(len(hz), bool)
    weight = 1 / (np.hypot(curve.sd, FLOOR) * np.abs(z))[low] ** 2
    henry = float(np.sum(weight * w[low] * z.imag[low]) / np.sum(weight * w[low] ** 2))
    top = int(np.abs(z).argmax())
    resonance = hz[top] if top < len(hz) - 1 else 1.5 * hz[-1]
    return ohm, abs(henry), float(1 / ((2 * np.pi * resonance) ** 2 * abs(henry) * 0.9))


def _check_meter(fit: OptimizeResult, chi2: float, dc_ohm: float, known_ohm: float, where: str) -> None:
    """Refuse a meter reading that the curve contradicts."""
    values = Values.at(fit.x, (len(fit.x) - 5) // 2)
    by_curve = values.ohm * (1 + fit.x[-2])
    apart = log(values.ohm / dc_ohm) / np.sqrt(max(1.0, chi2))
    if abs(apart) > DISAGREE:
        raise InputError(
            where,
            f"{by_curve:.4g} ohm at direct current by the curve, {dc_ohm:.4g} by the meter",
            f"a difference of less than {100 * DISAGREE:.0f} %",
            f"is the known resistor {known_ohm:.4g} ohm, and was every sweep made at one rig?",
        )


def _check_inductive(curve: Curve, where: str) -> None:
    hz, z = curve.frequencies_hz, curve.ohm
    if not np.all(np.isfinite(z)) or np.any(z == 0):
        raise InputError(where, "a value that is not finite, or zero", "an impedance at every frequency")
    low = (hz >= 100) & (hz <= 1000)
    phase = np.degrees(np.angle(z[low])) if low.any() else np.array([np.degrees(np.angle(z[0]))])
    if np.median(phase) <= 0.0:
        raise InputError(
            where,
            f"a phase of {np.median(phase):.0f} degrees from 100 to 1000 Hz",
            "a phase above 0: a coil is inductive there",
            "a curve with the other sign of phase can be turned",
        )


# === Intervals and notes


def _intervals(fit: OptimizeResult, order: int, warm: float, scale: float) -> dict[str, tuple[float, float]]:
    """Ends of the 95 % intervals, with the nuisances left in."""
    covariance = scale * np.linalg.pinv(fit.jac.T @ fit.jac)
    found = {}
    for i, name in enumerate(("resistance_ohm", "inductance_h", "capacitance_f")):
        sd = float(np.sqrt(covariance[i, i]))
        value = float(np.exp(fit.x[i])) / (warm if i == 0 else 1.0)
        found[name] = (value * float(np.exp(-Z_95 * sd)), value * float(np.exp(Z_95 * sd)))
    values = Values.at(fit.x, order)
    shares, corners = values.shares, values.corners_hz
    slopes = _eddy_slopes(fit.x, order)
    for place, k in enumerate(np.argsort(corners)):
        for row, name, value in ((k, "share", shares[k]), (order + k, "corner_hz", corners[k])):
            sd = float(np.sqrt(slopes[row] @ covariance @ slopes[row]))
            found[f"eddy.{place}.{name}"] = (max(0.0, float(value - Z_95 * sd)), float(value + Z_95 * sd))
    return found


def _eddy_slopes(x: Floats, order: int) -> Floats:
    """Slopes of shares and corners by the fitted values, shape (2 order, values)."""
    step = 1e-6

    def eddies(at: Floats) -> Floats:
        found = Values.at(at, order)
        return np.concatenate([found.shares, found.corners_hz])

    ends = [(eddies(x + step * unit) - eddies(x - step * unit)) / (2 * step) for unit in np.eye(len(x))]
    return np.array(ends).T


LOAD_OHM, LOAD_F = 200e3, 500e-12
"""Two pots of 500 kOhm beside 1 MOhm, and 5 m of cable: what a coil usually sees (common practice)."""
RESPONSE_TO_HZ = 10_000.0


def _response_error_db(curve: Curve, model_ohm: Complex, capacitance_f: float) -> float:
    """Largest difference of the loaded responses by reading and by model.

    The EMF is in the winding, the capacitance across it: without load (1 - s C Z) of it reaches the leads.
    """
    s = 2j * np.pi * curve.frequencies_hz
    load = 1 / (1 / LOAD_OHM + s * LOAD_F)
    heard = curve.frequencies_hz <= RESPONSE_TO_HZ
    levels = [
        20 * np.log10(np.abs((1 - s * capacitance_f * z) * load / (z + load))) for z in (curve.ohm, model_ohm)
    ]
    return float(np.max(np.abs(levels[0] - levels[1])[heard], initial=0.0))


def _notes(
    coil: Coil,
    order: int,
    intervals: Mapping[str, tuple[float, float]],
    chi2: float,
    curve: Curve,
    dc_ohm: float | None,
    error_db: float,
) -> list[str]:
    found = []
    if dc_ohm is None:
        found.append("No meter reading: the resistance follows from the lowest frequencies alone.")
    low, high = intervals["capacitance_f"]
    if not isfinite(high) or (high - low) / 2 > NOT_SEEN * coil.capacitance_f:
        found.append(
            f"Capacitance hardly seen: it lies between {1e12 * low:.0f} and {1e12 * high:.0f} pF. "
            "The resonance is too high for the band read."
        )
    resonance = 1 / (2 * np.pi * np.sqrt(coil.inductance_h * coil.capacitance_f))
    if resonance > curve.frequencies_hz[-1]:
        found.append(f"The coil's own resonance, near {resonance / 1e3:.0f} kHz, is above the band read.")
    if chi2 > UNEXPLAINED:
        found.append(
            f"Chi-squared is {chi2:.0f}: the coil loses in ways that {order} eddy sections do not hold. "
            f"Its response into a usual load is right within {error_db:.2f} dB. The inductance then leaves "
            "out what acts below 400 Hz alone. If another coil shares its housing, read both, and both in "
            "series."
        )
    return found
