"""Thermal noise at the amplifier input: density and A-weighted total."""

from __future__ import annotations

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import respond_network
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import build_network, set_pots

BOLTZMANN = 1.380649e-23
"""J/K, exact since the SI of 2019."""
ROOM_K = 293.15
"""20 °C, at which coil resistances are given."""
A_POLES_HZ = (20.598997, 107.65265, 737.86223, 12194.217)
"""Pole frequencies of the A-weighting, IEC 61672-1."""


def thermal_density(output_impedance_ohm: Complex, temperature_k: float = ROOM_K) -> Floats:
    """Compute the noise density of a passive network, sqrt(4 k T Re Z).

    Parameters
    ----------
    output_impedance_ohm : ndarray, any shape
        Impedance at the point of interest, with everything connected.
    temperature_k : float
        293.15 K unless given.

    Returns
    -------
    ndarray, same shape, volt per square root of hertz

    References
    ----------
    H. Nyquist, "Thermal agitation of electric charge in conductors", Phys. Rev. 32, 1928.
    """
    density: Floats = np.sqrt(4.0 * BOLTZMANN * temperature_k * np.maximum(output_impedance_ohm.real, 0.0))
    return density


def a_weighting_db(frequencies_hz: Floats) -> Floats:
    """Compute the A-weighting of IEC 61672-1, 0 dB at 1 kHz.

    Parameters
    ----------
    frequencies_hz : ndarray, any shape

    Returns
    -------
    ndarray, same shape, dB
    """
    f2 = np.square(np.asarray(frequencies_hz, float))
    p1, p2, p3, p4 = (pole**2 for pole in A_POLES_HZ)
    gain = p4 * f2**2 / ((f2 + p1) * np.sqrt((f2 + p2) * (f2 + p3)) * (f2 + p4))
    level: Floats = 20.0 * np.log10(gain) + 2.0
    return level


def weighted_noise_volt(
    wiring: Wiring, setting: Setting, *, temperature_k: float = ROOM_K, n_frequencies: int = 600
) -> float:
    """Compute the A-weighted thermal noise at the amplifier input.

    Parameters
    ----------
    temperature_k : float
        293.15 K unless given.
    n_frequencies : int
        Points of the integration from 10 Hz to 40 kHz, evenly spaced in the logarithm.

    Returns
    -------
    float
        Volt rms.
    """
    frequencies_hz = np.geomspace(10.0, 40_000.0, n_frequencies)
    network = set_pots(build_network(wiring, setting), setting)
    _, impedance = respond_network(network, frequencies_hz)
    density = thermal_density(impedance, temperature_k) * 10.0 ** (a_weighting_db(frequencies_hz) / 20.0)
    return float(np.sqrt(np.trapezoid(density**2, frequencies_hz)))
