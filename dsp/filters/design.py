"""Design a bank: poles from the circuit's modes, numerators from one linear fit.

The circuit's natural modes, mapped by z = exp(p / rate), give the poles. A passive circuit
therefore always gives a stable bank. A short FIR part replaces modes far above the band. The
rest is linear: least squares of the relative error give numerators and taps.

The fit uses an orthonormal basis of all columns (one QR for all coils). Each coil then solves
a small positive definite system for its own weights. A tiny ridge keeps the basis well defined
where columns nearly coincide, as the modes of two equal coils do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import respond_network
from dsp.circuit.state import natural_modes, state_of
from dsp.errors import InputError
from dsp.filters.bank import BAND_HZ, DEPTH_DB, Bank, Deviation, section_basis
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import Network, build_network, set_pots

DELAY = 12
"""Samples; the same for every bank, so that one can be faded into another."""
TAPS = (32, 48, 64)
"""Lengths of the FIR part, tried in turn until the contract is met; multiples of four, as the page needs."""
RIDGE = 1e-10
"""Relative to a column; larger values cost accuracy, smaller ones grow the taps."""
TOP_WEIGHT = 0.3
"""Weight of 18 to 20 kHz, where the contract is fifteen times wider, against the band below."""
OUTSIDE_WEIGHT = 1e-3
"""Weight above 20 kHz: enough to keep the response there from running away."""
GRID_TOP_HZ = 20_100.0
SHARP = 0.9
"""A minimum below this share of both its neighbours gets a finer grid."""
NARROWEST = 1e-6
"""Smallest relative width assumed when points are placed around a peak."""
DIP_ROUNDS, DIP_POINTS = 3, 13
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 44_100.0, 192_000.0


@dataclass(frozen=True)
class Grid:
    """Frequencies of a bank's fit, and of the measurement of its error.

    Attributes
    ----------
    fit_hz : ndarray, shape (n_fit,)
    check_hz : ndarray, shape (n_check,)
        Between 20 Hz and 20 kHz, between the points of the fit.
    """

    fit_hz: Floats
    check_hz: Floats


def design_bank(wiring: Wiring, setting: Setting, rate_hz: float = 48_000.0) -> Bank:
    """Design the filters of one setting.

    Parameters
    ----------
    rate_hz : float
        44.1 to 192 kHz; the contract is for 48 kHz.

    Returns
    -------
    Bank
        Its ``error`` is measured, and tells whether the contract is met.

    Raises
    ------
    InputError
        If the rate is outside the range.
    """
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise InputError("sample rate", f"{rate_hz:g} Hz", f"{LOWEST_RATE_HZ:g} to {HIGHEST_RATE_HZ:g} Hz")
    network = set_pots(build_network(wiring, setting), setting)
    modes = natural_modes(state_of(network))
    grid = choose_grid(modes, rate_hz)
    both = np.concatenate([grid.fit_hz, grid.check_hz])
    target, _ = respond_network(network, both)
    dips = find_sharp_dips(both, target)
    if len(dips):
        grid, target = _with_dips(network, grid, target, dips)
    return fit_bank(modes, grid, target, rate_hz)


def find_sharp_dips(frequencies_hz: Floats, target: Complex) -> Floats:
    """Find dips that are too sharp for the frequencies of a response.

    The notch of a trap is a zero of the response, so no natural mode points to it.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)
        In any order.
    target : ndarray, shape (n_coils, n_freqs)

    Returns
    -------
    ndarray, shape (n_dips, 2), Hz
        The neighbours of each lowest point, within the band.
    """
    order = np.argsort(frequencies_hz, kind="stable")
    hz = frequencies_hz[order]
    level = np.abs(target[:, order])
    low, middle, high = level[:, :-2], level[:, 1:-1], level[:, 2:]
    sharp = (middle < SHARP * low) & (middle < SHARP * high) & (hz[1:-1] <= BAND_HZ[2])
    at = np.flatnonzero(np.any(sharp, axis=0))
    return np.stack([hz[at], hz[at + 2]], axis=1)


def _with_dips(network: Network, grid: Grid, target: Complex, dips: Floats) -> tuple[Grid, Complex]:
    """The grid and the responses with the bottoms of the dips filled in."""
    n_fit = len(grid.fit_hz)
    fit_hz, check_hz = [grid.fit_hz], [grid.check_hz]
    fit, check = [target[:, :n_fit]], [target[:, n_fit:]]
    for _ in range(DIP_ROUNDS):
        steps = np.linspace(0.0, 1.0, DIP_POINTS)
        points = dips[:, :1] + (dips[:, 1:] - dips[:, :1]) * steps
        found, _ = respond_network(network, points.ravel())
        level = np.min(np.abs(found).reshape(len(found), *points.shape), axis=0)
        lowest = np.clip(np.argmin(level, axis=1), 1, DIP_POINTS - 2)
        rows = np.arange(len(points))
        dips = np.stack([points[rows, lowest - 1], points[rows, lowest + 1]], axis=1)
        every_other = np.tile(np.arange(DIP_POINTS) % 2 == 0, len(points))
        fit_hz.append(points.ravel()[every_other])
        fit.append(found[:, every_other])
        check_hz.append(points.ravel()[~every_other])
        check.append(found[:, ~every_other])
    wider = Grid(np.concatenate(fit_hz), np.concatenate(check_hz))
    return wider, np.concatenate([*fit, *check], axis=1)


def fit_bank(modes: Complex, grid: Grid, target: Complex, rate_hz: float) -> Bank:
    """A bank from modes and responses already known.

    Parameters
    ----------
    modes : ndarray, shape (n_modes,), 1/s
    target : ndarray, shape (n_coils, n_fit + n_check)
        Responses at the grid's fit and check frequencies.
    """
    poles = sections_from_modes(modes, rate_hz)
    best: Bank | None = None
    for taps in TAPS:
        bank = _fit(poles, taps, grid, target, rate_hz)
        if best is None or bank.error.excess < best.error.excess:
            best = bank
        if best.error.meets_contract:
            break
    assert best is not None
    return best


def sections_from_modes(modes: Complex, rate_hz: float) -> Floats:
    """Denominators of the modes that matter at a sampling rate.

    Parameters
    ----------
    modes : ndarray, shape (n_modes,), 1/s

    Returns
    -------
    ndarray, shape (n_sections, 2)
        a1, a2. Conjugate pairs make a section each; neighbouring real poles are paired,
        which also represents a double pole that two near ones stand for.
    """
    reach = 2.0 * np.pi * rate_hz
    near = (np.abs(modes.imag) < 0.52 * reach) & (-modes.real < 0.6 * reach) & (modes.imag >= 0.0)
    z = _distinct(np.exp(modes[near] / rate_hz))
    real = np.sort(z[np.abs(z.imag) <= 1e-9].real)
    pairs = [(-2.0 * pole.real, abs(pole) ** 2) for pole in z[np.abs(z.imag) > 1e-9]]
    pairs += [(-(p + q), p * q) for p, q in zip(real[1::2], real[::2], strict=False)]
    if len(real) % 2:
        pairs.append((-real[-1], 0.0))
    return np.array(pairs, float).reshape(-1, 2)


def _distinct(z: Complex) -> Complex:
    """Poles without repeats: equal coils in equal places give the same mode twice."""
    kept: list[complex] = []
    for pole in z[np.argsort(-np.abs(z))]:
        if all(abs(pole - other) > 1e-10 * max(abs(1.0 - other), 1e-6) for other in kept):
            kept.append(pole)
    return np.array(kept, complex)


def choose_grid(modes: Complex, rate_hz: float) -> Grid:
    """Frequencies dense enough for responses with these modes.

    Parameters
    ----------
    modes : ndarray, shape (n_modes,), 1/s
    """
    half = 0.5 * rate_hz
    log, linear = np.geomspace(20.0, 2500.0, 45), np.linspace(2500.0, GRID_TOP_HZ, 60)
    above = np.linspace(GRID_TOP_HZ + 0.1 * (half - GRID_TOP_HZ), half, 12 if half < 30_000.0 else 30)
    peaks = _around(modes, np.array([-0.7, 1e-3, 0.7]))
    fit = np.concatenate([[1.0, 5.0, 10.0], log, linear, peaks, above])
    check = np.concatenate(
        [
            np.geomspace(20.0, 2500.0, 60),
            np.linspace(2600.0, BAND_HZ[2], 110),
            [BAND_HZ[1]],
            np.clip(peaks * 1.003, BAND_HZ[0], BAND_HZ[2]),
            _around(modes, np.array([-0.35, 0.35])),
        ]
    )
    return Grid(np.unique(fit), np.unique(check))


def _around(modes: Complex, widths: Floats) -> Floats:
    """Frequencies so many widths off the peak of each sharp mode within the band.

    A mode all but free of loss is looked at as if it were `NARROWEST` wide, and nowhere nearer: at its
    very top a network without loss has no solution.
    """
    hz, width = np.abs(modes.imag) / (2 * np.pi), -modes.real / (2 * np.pi)
    sharp = (modes.imag > 0.0) & (hz > 20.0) & (hz < 20_000.0) & (width < 0.1 * hz)
    hz, width = hz[sharp, None], np.maximum(width, NARROWEST * np.abs(hz))[sharp, None]
    found: Floats = np.clip((hz + width * widths).ravel(), 20.0, 20_000.0)
    return found


def _columns(poles: Floats, taps: int, frequencies_hz: Floats, rate_hz: float) -> Complex:
    """Everything the output may be made of, (n_freqs, 2 n_sections + taps)."""
    back = np.exp(-2j * np.pi * frequencies_hz / rate_hz)
    powers = back[None, :] ** np.arange(taps)[:, None]
    return np.concatenate([section_basis(poles, back), powers]).T


def _weights(target: Complex, frequencies_hz: Floats) -> Floats:
    """Weights of the relative error, one row per coil; zero rows for silent coils."""
    level = np.abs(target)
    inside = frequencies_hz <= BAND_HZ[2]
    peak = np.max(level[:, inside], axis=1, keepdims=True)
    floor = np.maximum(level, peak * 10.0 ** (-DEPTH_DB / 20.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        weights = np.where(peak > 0.0, 1.0 / floor, 0.0)
        outside = np.where(peak > 0.0, OUTSIDE_WEIGHT / peak, 0.0)
    weights = np.where(frequencies_hz > BAND_HZ[1], TOP_WEIGHT * weights, weights)
    return np.where(frequencies_hz > GRID_TOP_HZ, outside, weights)


def _fit(poles: Floats, taps: int, grid: Grid, target: Complex, rate_hz: float) -> Bank:
    """Least squares of the relative error for every coil over one orthonormal basis."""
    n_fit = len(grid.fit_hz)
    columns = _columns(poles, taps, grid.fit_hz, rate_hz)
    stacked = np.concatenate([columns.real, columns.imag])
    scale = np.linalg.norm(stacked, axis=0)
    ridge = RIDGE * np.eye(len(scale))
    basis, triangle = np.linalg.qr(np.concatenate([stacked / scale, ridge]))
    top, bottom = basis[: 2 * n_fit], basis[2 * n_fit :]
    wanted = target[:, :n_fit] * np.exp(-2j * np.pi * grid.fit_hz / rate_hz * DELAY)
    weights = _weights(target[:, :n_fit], grid.fit_hz)
    coefficients = np.zeros((len(target), len(scale)))
    for k in np.flatnonzero(weights[:, 0] > 0.0):
        twice = np.concatenate([weights[k], weights[k]])
        weighted = top * twice[:, None]
        goal = np.concatenate([wanted[k].real, wanted[k].imag]) * twice
        gram = weighted.T @ weighted + np.mean(twice**2) * (bottom.T @ bottom)
        inner = np.linalg.solve(gram, weighted.T @ goal)
        coefficients[k] = np.linalg.solve(triangle, inner) / scale
    split = 2 * len(poles)
    numerators = coefficients[:, :split].reshape(len(target), -1, 2)
    bank = Bank(rate_hz, DELAY, poles, numerators, coefficients[:, split:], Deviation())
    error = measure_deviation(bank, grid.check_hz, target[:, n_fit:])
    return Bank(rate_hz, DELAY, poles, numerators, coefficients[:, split:], error)


def measure_deviation(bank: Bank, frequencies_hz: Floats, target: Complex) -> Deviation:
    """Largest error of a bank against the circuit, its delay taken out.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)
    target : ndarray, shape (n_coils, n_freqs)
    """
    level = np.abs(target)
    peak = np.max(level, axis=1, keepdims=True, initial=0.0)
    counts = (level > 0.0) & (level >= peak * 10.0 ** (-DEPTH_DB / 20.0))
    advance = np.exp(2j * np.pi * frequencies_hz / bank.rate_hz * bank.delay)
    ratio = np.ones_like(target)
    np.divide(bank.response(frequencies_hz) * advance, target, out=ratio, where=counts)
    decibel = 20.0 * np.abs(np.log10(np.maximum(np.abs(ratio), 1e-15)))
    degrees = np.abs(np.angle(ratio, deg=True))
    low = (frequencies_hz >= BAND_HZ[0]) & (frequencies_hz <= BAND_HZ[1])
    return Deviation(
        float(np.max(decibel[:, low], initial=0.0)),
        float(np.max(degrees[:, low], initial=0.0)),
        float(np.max(decibel, initial=0.0)),
    )


def worst_deviation(banks: Sequence[Bank]) -> Deviation:
    """Largest errors over several banks, number by number."""
    return Deviation(
        max(bank.error.level_db for bank in banks),
        max(bank.error.phase_deg for bank in banks),
        max(bank.error.top_level_db for bank in banks),
    )
