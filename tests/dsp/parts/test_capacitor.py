"""Loss of a capacitor against its definition and against a dielectric of constant loss."""

from __future__ import annotations

import numpy as np
import pytest

from dsp.parts.capacitor import LOSS_HZ, Capacitor
from dsp.parts.kinds import as_two_lead

HEARD_HZ = np.geomspace(20.0, 20e3, 601)
WITHIN = 0.045
"""Of tan delta, over the band: stated by the module, as 4 %."""


def admittance(part: Capacitor, hz: np.ndarray) -> np.ndarray:
    return as_two_lead(part).admittance(part, 2j * np.pi * hz)


@pytest.mark.parametrize("tan_delta", [0.001, 0.02, 0.1, 0.2])
def test_the_loss_of_a_dielectric_is_that_of_a_constant_phase(tan_delta: float) -> None:
    """A constant phase has the admittance (j w)^n, tan delta = cot(n pi / 2) (textbook)."""
    part = Capacitor(22e-9, tan_delta=tan_delta)
    found = admittance(part, HEARD_HZ)
    np.testing.assert_allclose(found.real / found.imag, tan_delta, rtol=WITHIN)
    power = 2.0 / np.pi * np.arctan(1.0 / tan_delta)
    exact = (1j * HEARD_HZ / LOSS_HZ) ** power
    at_one = admittance(part, np.array([LOSS_HZ]))[0]
    exact *= at_one / 1j**power
    np.testing.assert_allclose(np.abs(found), np.abs(exact), rtol=0.05 * tan_delta)


@pytest.mark.parametrize("tan_delta", [0.001, 0.02, 0.2])
def test_capacitance_and_loss_are_as_written_at_one_kilohertz(tan_delta: float) -> None:
    (found,) = admittance(Capacitor(22e-9, tan_delta=tan_delta), np.array([LOSS_HZ]))
    assert found.imag / (2.0 * np.pi * LOSS_HZ) == pytest.approx(22e-9, rel=1e-12)
    assert found.real / found.imag == pytest.approx(tan_delta, rel=1e-12)


def test_a_resistance_in_line() -> None:
    found = 1.0 / admittance(Capacitor(22e-9, series_ohm=330.0), HEARD_HZ)
    np.testing.assert_allclose(found, 330.0 + 1.0 / (2j * np.pi * HEARD_HZ * 22e-9), rtol=1e-12)


def test_no_loss_is_a_plain_capacitance() -> None:
    part = Capacitor(22e-9)
    assert part.relaxations() == ()
    np.testing.assert_array_equal(admittance(part, HEARD_HZ), 2j * np.pi * HEARD_HZ * 22e-9)
