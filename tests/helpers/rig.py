"""A rig of our own: what an interface records of a coil behind a series resistor.

Independent of dsp.measuring: impedances by plain formulas, voltages by dividers, samples by an
inverse FFT over the whole recording.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Impedance = Callable[[Floats], Complex]

RATE_HZ = 48_000
SILENCE = 9000
"""Samples before and after the tone, as a person records them."""


def coil_ohm(
    resistance: float, inductance: float, capacitance: float, *eddy: tuple[float, float]
) -> Impedance:
    """Impedance of a coil; each loss is a share and a corner in hertz."""

    def impedance(hz: Floats) -> Complex:
        s = 2j * np.pi * hz
        whole = resistance + s * inductance * (1 - sum(share for share, _ in eddy))
        for share, corner in eddy:
            whole = whole + 1 / (
                1 / (s * inductance * share + 1e-300) + 1 / (2 * np.pi * corner * inductance * share)
            )
        return np.asarray(whole / (1 + s * capacitance * whole))

    return impedance


def resistor(ohm: float) -> Impedance:
    """Impedance of a resistor."""
    return lambda hz: np.full(len(hz), ohm, complex)


def opened(hz: Floats) -> Complex:
    """No part at all."""
    return np.full(len(hz), 1e18, complex)


def shorted(hz: Floats) -> Complex:
    """The leads joined."""
    return np.full(len(hz), 1e-9, complex)


@dataclass(frozen=True)
class Rig:
    """An interface, its leads and its faults.

    Attributes
    ----------
    series_ohm, input_ohm, input_f : float
    gains : tuple of float
        Of both inputs.
    skew_s : float
        By which input 2 samples later.
    noise, hum : float
        Of the inputs and in the coil's lead, as a share of full scale.
    bits : int
    """

    series_ohm: float = 100e3
    input_ohm: float = 1e6
    input_f: float = 150e-12
    gains: tuple[float, float] = (1.0, 1.0)
    skew_s: float = 0.0
    noise: float = 1e-6
    hum: float = 2e-3
    bits: int = 24

    def ratio(self, part: Impedance, hz: Floats) -> Complex:
        """Voltage of input 2 over input 1."""
        s = 2j * np.pi * hz
        across = 1 / (1 / part(hz) + 1 / self.input_ohm + s * self.input_f)
        return np.asarray(
            self.gains[1] / self.gains[0] * across / (across + self.series_ohm) * np.exp(-s * self.skew_s)
        )

    def record(self, part: Impedance, tone: Floats, seed: int, rate_hz: int = RATE_HZ) -> Floats:
        """Two channels of a recording, shape (2, n), as the interface stores them."""
        random = np.random.default_rng(seed)
        played = np.concatenate([np.zeros(SILENCE), tone, np.zeros(SILENCE)])
        n = len(played)
        hz = np.fft.rfftfreq(n, 1 / rate_hz)
        heard = np.fft.irfft(np.fft.rfft(played) * self.ratio(part, hz), n)
        t = np.arange(n) / rate_hz
        for harmonic in (1, 3, 5, 7):
            heard = heard + self.hum / harmonic * np.sin(
                2 * np.pi * 50.01 * harmonic * t + random.uniform(0, 6)
            )
        both = np.array([played, heard]) + self.noise * random.standard_normal((2, n))
        step = 2.0 ** (1 - self.bits)
        return np.asarray(np.round(both / step) * step)
