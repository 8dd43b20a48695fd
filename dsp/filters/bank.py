"""A filter bank: second-order sections with shared poles, and a short FIR per coil."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import Complex, Floats

LEVEL_BAR_DB = 0.01
PHASE_BAR_DEG = 0.1
TOP_LEVEL_BAR_DB = 0.15
BAND_HZ = (20.0, 18_000.0, 20_000.0)
"""The contract: the first two bars hold from 20 Hz to 18 kHz, the third up to 20 kHz."""
DEPTH_DB = 60.0
"""The contract holds where a coil's response is within this of its own peak."""


@dataclass(frozen=True)
class Deviation:
    """Largest difference between a bank and its circuit, over all coils.

    Attributes
    ----------
    level_db, phase_deg : float
        20 Hz to 18 kHz.
    top_level_db : float
        20 Hz to 20 kHz.
    """

    level_db: float = 0.0
    phase_deg: float = 0.0
    top_level_db: float = 0.0

    @property
    def excess(self) -> float:
        """Largest error relative to its limit; at most 1 when the contract is met."""
        return max(
            self.level_db / LEVEL_BAR_DB, self.phase_deg / PHASE_BAR_DEG, self.top_level_db / TOP_LEVEL_BAR_DB
        )

    @property
    def meets_contract(self) -> bool:
        """Whether the contract is met."""
        return self.excess <= 1.0


@dataclass(frozen=True)
class Bank:
    """The filters of one setting, one per coil, with a common delay.

    y = sum over coils of [ sum over sections (b0 + b1/z) / (1 + a1/z + a2/z^2) + FIR ] e

    Attributes
    ----------
    delay : int
        Samples by which the output lags the circuit's; clips are shifted back by it.
    poles : ndarray, shape (n_sections, 2)
        a1 and a2 of each section; a2 = 0 for a single real pole.
    numerators : ndarray, shape (n_coils, n_sections, 2)
        b0 and b1.
    taps : ndarray, shape (n_coils, n_taps)
    error : DesignError
        Measured against the circuit.
    """

    rate_hz: float
    delay: int
    poles: Floats
    numerators: Floats
    taps: Floats
    error: Deviation

    def response(self, frequencies_hz: Floats) -> Complex:
        """Return the response per coil, delay included, shape (n_coils, n_freqs)."""
        back = np.exp(-2j * np.pi * np.asarray(frequencies_hz, float) / self.rate_hz)
        basis = section_basis(self.poles, back)
        weights = self.numerators.reshape(len(self.numerators), -1)
        powers = back ** np.arange(self.taps.shape[1])[:, None]
        found: Complex = weights @ basis + self.taps @ powers
        return found

    def radius(self) -> float:
        """Return the largest pole radius: below 1 if stable, 0 without poles."""
        return float(np.max(np.abs(section_roots(self.poles)), initial=0.0))


def section_basis(poles: Floats, back: Complex) -> Complex:
    """Return the responses of 1/D and z^-1/D of each section.

    Parameters
    ----------
    poles : ndarray, shape (n_sections, 2)
    back : ndarray, shape (n_freqs,)
        z^-1 on the unit circle.

    Returns
    -------
    ndarray, shape (2 n_sections, n_freqs)
        In the order b0, b1 of the first section, of the second, ...
    """
    inverse = 1.0 / (1.0 + poles[:, :1] * back + poles[:, 1:] * back**2)
    return np.stack([inverse, inverse * back], axis=1).reshape(-1, len(back))


def section_roots(poles: Floats) -> NDArray[np.complex128]:
    """Return both roots of each section's denominator, shape (n_sections, 2)."""
    half = -0.5 * poles[:, 0].astype(complex)
    spread = np.sqrt(half**2 - poles[:, 1])
    return np.stack([half + spread, half - spread], axis=1)
