"""Measurements that others worked out in print: the same readings must give their values here.

- An application note, "Capacitance and inductance measurements using an oscilloscope and a function
  generator", gives one series circuit of a known resistor and a coil, both voltages with their phase, and
  what follows. Its formula and figures were read where another author repeats and asserts them (2021).
- C. E. LaForest, "Characterizing Magnetic Guitar Pickups (and Other Large Inductors)": a known inductor of
  100 mH worked from its resonance. Read: the beginning of the article.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from dsp.measuring.coil_fit import coil_impedance
from dsp.measuring.curve import calibrate
from dsp.measuring.transfer import Transfer
from dsp.parts.coil import Coil

pytestmark = pytest.mark.reference

HZ = np.array([10_000.0])
SERIES_OHM = 1000.0
SOURCE_V, COIL_V, AHEAD_DEG = 1.832, 0.952, 56.03
"""Read at the generator and across the coil; the coil's voltage leads."""
COIL_OHM, COIL_HENRY = 29.48, 9.95e-3
"""What the note finds."""
PRINTED = 1e-4
"""Relative: the asserted closeness of the source."""

HENRY, OHM, RESONANCE_HZ = 0.1, 210.0, 100e3
FARAD, QUALITY = 25.33e-12, 299.20
"""What the article finds, to four and five digits."""


def read(where: str, ratio: complex) -> Transfer:
    """Return a ratio of voltages as the rig's recordings give it."""
    return Transfer(where, "lines", HZ, np.array([ratio]), np.zeros(1), -12.0, -90.0)


def impedance(ahead_deg: float) -> complex:
    """Impedance by open, short and known resistor, of a rig that is one resistor and nothing else."""
    ratio = COIL_V / SOURCE_V * np.exp(1j * math.radians(ahead_deg))
    known = read("known", 0.5)  # a resistor like the one in series takes half
    curve = calibrate(read("coil", ratio), read("open", 1.0), read("short", 0.0), known, SERIES_OHM)
    return complex(curve.ohm[0])


def test_two_voltages_and_their_phase_give_the_published_coil() -> None:
    found = impedance(AHEAD_DEG)
    assert found.real == pytest.approx(COIL_OHM, rel=PRINTED)
    assert found.imag / (2 * math.pi * HZ[0]) == pytest.approx(COIL_HENRY, rel=PRINTED)


def test_a_degree_of_phase_would_be_noticed() -> None:
    """The twin: the resistance hangs on the phase, the inductance hardly."""
    found = impedance(AHEAD_DEG + 1.0)
    assert found.real != pytest.approx(COIL_OHM, rel=0.3)
    assert found.imag / (2 * math.pi * HZ[0]) == pytest.approx(COIL_HENRY, rel=0.02)


def test_a_resonance_gives_the_published_capacitance_and_quality() -> None:
    """The engine's coil of these values peaks where the article says, as high as its quality says."""
    coil = Coil(OHM, HENRY, FARAD)
    hz = np.linspace(0.99, 1.01, 20_001) * RESONANCE_HZ
    ohm = np.abs(coil_impedance(coil, hz))
    peak = int(np.argmax(ohm))
    assert hz[peak] == pytest.approx(RESONANCE_HZ, rel=2e-4)  # four digits of the capacitance
    assert ohm[peak] / (2 * math.pi * hz[peak] * HENRY) == pytest.approx(QUALITY, rel=2e-4)
    low, high = np.flatnonzero(ohm > ohm[peak] / math.sqrt(2))[[0, -1]]
    assert RESONANCE_HZ / (hz[high] - hz[low]) == pytest.approx(QUALITY, rel=1e-3)


def test_another_capacitance_peaks_elsewhere() -> None:
    hz = np.linspace(0.97, 1.03, 6_001) * RESONANCE_HZ
    ohm = np.abs(coil_impedance(Coil(OHM, HENRY, 1.01 * FARAD), hz))
    assert hz[int(np.argmax(ohm))] != pytest.approx(RESONANCE_HZ, rel=2e-3)
