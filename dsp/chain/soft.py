"""The soft stage: a valve's curve, bent the more the louder it is played.

The curve is a shifted hyperbolic tangent, within 0.11 to 0.13 V (rms, of 3.6 V) of a published triode law
(E = Vp/Kp ln(1 + exp(Kp (1/mu + Vg/sqrt(Kvb + Vp^2)))), Ip = 2 E^x/Kg1, with 100, 1.4, 1060, 600 and 300) at
300 V, 100 kΩ and 1.5 kΩ bypassed, behind 68 kΩ. The law's own second harmonic is 1 to 6 dB stronger at 1 V,
its third 10 to 12 dB weaker. The tangent is smooth and therefore folds little.

A curve makes harmonics without end. They are made at four or eight times the sampling rate, and those above
the band are filtered out before they fold back into it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dsp.chain.half_band import Doubling, Memory, delay_samples
from dsp.circuit.reduction import Complex, Floats

BEND_PER_V, SHIFT_V = 0.52, -0.25
"""k and d of y = (tanh k (x + d) - tanh k d) / (k (1 - tanh^2 k d)), a fit to the law above."""
BLOCKING_HZ = 8.0
"""Corner of the coupling capacitor behind the stage: it takes away the mean that an uneven curve makes. Our
own choice, below every note."""
DELAY = 49
"""Samples, the same for every oversampling: what the filters take (46.5 or 48.25) and what is missing."""
MOST_DRIVE: Mapping[int, float] = {4: 3.9, 8: 9.0}
"""Largest k x for each oversampling. There a sine of 7 kHz folds -90 dB back below 20 kHz; one of 5 kHz
folds -126 and -122 dB back. One of 10 kHz, as large, would fold -69 and -66 dB back."""


def bend(volts: Floats) -> Floats:
    """Return the stage's output, any shape: small signals pass unchanged.

    Examples
    --------
    >>> bend(np.array([-4.0, -1.0, 0.0, 0.01, 4.0])).round(3)
    array([-1.656, -0.865,  0.   ,  0.01 ,  2.131])
    """
    rest = np.tanh(BEND_PER_V * SHIFT_V)
    found: Floats = (np.tanh(BEND_PER_V * (volts + SHIFT_V)) - rest) / (BEND_PER_V * (1.0 - rest**2))
    return found


def respond_blocking(frequencies_hz: Floats) -> Complex:
    """Compute the response of the capacitor behind it, shape (n_freqs,)."""
    s = 1j * np.asarray(frequencies_hz, float) / BLOCKING_HZ
    found: Complex = s / (1.0 + s)
    return found


@dataclass(frozen=True)
class SoftState:
    """State of a running stage.

    Attributes
    ----------
    up, down : tuple of Memory
        Of each doubling, the first first.
    late : ndarray, shape (n_late,)
        Samples of the upper rate that wait for the delay to be whole.
    blocking : ndarray, shape (1,)
    drive : float
        Largest k x so far.
    """

    up: tuple[Memory, ...]
    down: tuple[Memory, ...]
    late: Floats
    blocking: Floats
    drive: float = 0.0


class SoftStage:
    """Runs the stage over volts at a sampling rate.

    Parameters
    ----------
    oversampling : int
        4 or 8.

    Attributes
    ----------
    late : int
        Samples of the upper rate that fill up the delay.
    pole : float
        Of the capacitor behind the stage.
    """

    def __init__(self, oversampling: int, rate_hz: float) -> None:
        self.oversampling = oversampling
        self._doublings = tuple(Doubling(i) for i in range(oversampling.bit_length() - 1))
        taken = sum(2 * one.middle * oversampling // 2 ** (i + 1) for i, one in enumerate(self._doublings))
        self.late = DELAY * oversampling - taken
        self.pole = float(np.exp(-2.0 * np.pi * BLOCKING_HZ / rate_hz))
        self._numerator = 0.5 * (1.0 + self.pole) * np.array([1.0, -1.0])
        self._denominator = np.array([1.0, -self.pole])

    def initial_state(self) -> SoftState:
        """Return the state before any sample."""
        up = tuple(one.initial_up() for one in self._doublings)
        down = tuple(one.initial_down() for one in self._doublings)
        return SoftState(up, down, np.zeros(self.late), np.zeros(1))

    def run(self, volts: Floats, state: SoftState) -> tuple[Floats, SoftState]:
        """Bend the next samples, any number of them, shape (n,), volt."""
        from scipy.signal import lfilter

        if not len(volts):
            return volts, state
        samples = volts
        up: list[Memory] = []
        down: list[Memory] = []
        for doubling, memory in zip(self._doublings, state.up, strict=True):
            samples, memory = doubling.up(samples, memory)
            up.append(memory)
        drive = max(state.drive, BEND_PER_V * float(np.max(np.abs(samples), initial=0.0)))
        samples, late = delay_samples(bend(samples), state.late)
        for doubling, memory in zip(self._doublings[::-1], state.down[::-1], strict=True):
            samples, memory = doubling.down(samples, memory)
            down.append(memory)
        bent, blocking = lfilter(self._numerator, self._denominator, samples, zi=state.blocking)
        return np.asarray(bent), SoftState(tuple(up), tuple(down[::-1]), late, np.asarray(blocking), drive)
