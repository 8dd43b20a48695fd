"""The four loaded reference circuits: one coil, its controls, 470 pF and an amplifier.

The figures were calculated for this project in python and in ngspice, independently of the product
(four decimals agree); the circuits are the usual ones (common practice). Here ngspice repeats them from
netlists drawn by hand, then the product answers the same wirings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.product import product_response
from reference.spice.wiring_file import NETWORKS
from tolerances import CLOSED_FORM, PUBLISHED_DB, PUBLISHED_HZ, TWIN_FACTOR

pytestmark = pytest.mark.reference

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


@dataclass(frozen=True)
class Loaded:
    """Height, dB re the EMF, and frequency, Hz, of the peak, and levels at other frequencies."""

    peak_db: float
    peak_hz: float
    levels_db: Mapping[float, float]


LOADED = {
    "loaded_1": Loaded(3.7198, 3877.7, {100: -0.4255, 1e3: -0.0843, 5e3: 1.4000, 10e3: -13.4684}),
    "loaded_2": Loaded(5.6448, 3012.4, {1e3: 0.4007, 5e3: -4.4070, 10e3: -19.1020}),
    "loaded_3": Loaded(7.6980, 4144.5, {}),
    "loaded_4": Loaded(3.0335, 3758.8, {}),
}

Respond = Callable[[str, Floats], Complexes]


def _ngspice(name: str, freqs_hz: Floats) -> Complexes:
    deck = (NETWORKS / f"{name}.cir").read_text(encoding="utf-8")
    (answer,) = runner.run([runner.Job(deck, ("VE_bridge",), runner.at(freqs_hz))])
    np.testing.assert_allclose(answer.freqs_hz, freqs_hz, rtol=1e-12)
    return answer.voltage["VE_bridge"]


def _product(name: str, freqs_hz: Floats) -> Complexes:
    return product_response(NETWORKS / f"{name}.yaml", None, {}, freqs_hz).coils["bridge"]


def _peak(freqs_hz: Floats, level_db: Floats) -> tuple[float, float]:
    """Frequency and height of the top of the parabola through the highest point and its neighbours."""
    top = int(np.argmax(level_db))
    assert 0 < top < level_db.size - 1
    near = slice(top - 1, top + 2)
    a, b, c = np.polyfit(freqs_hz[near] - freqs_hz[top], level_db[near], 2)
    return float(freqs_hz[top] - b / (2 * a)), float(c - b * b / (4 * a))


def _levels(response: Complexes) -> Floats:
    return np.asarray(20.0 * np.log10(np.abs(response)))


@pytest.mark.parametrize("respond", [_ngspice, _product])
@pytest.mark.parametrize("name", LOADED)
def test_peak(name: str, respond: Respond) -> None:
    freqs = LOADED[name].peak_hz + np.arange(-40.0, 41.0, 5.0)
    peak_hz, peak_db = _peak(freqs, _levels(respond(name, freqs)))
    assert peak_hz == pytest.approx(LOADED[name].peak_hz, abs=PUBLISHED_HZ)
    assert peak_db == pytest.approx(LOADED[name].peak_db, abs=PUBLISHED_DB)


@pytest.mark.parametrize("respond", [_ngspice, _product])
@pytest.mark.parametrize("name", [name for name, loaded in LOADED.items() if loaded.levels_db])
def test_levels(name: str, respond: Respond) -> None:
    freqs = np.array(list(LOADED[name].levels_db), dtype=float)
    want = np.array(list(LOADED[name].levels_db.values()))
    np.testing.assert_allclose(_levels(respond(name, freqs)), want, rtol=0.0, atol=PUBLISHED_DB)


@pytest.mark.parametrize("name", LOADED)
def test_product_agrees_with_ngspice(name: str) -> None:
    freqs = 20.0 * 10 ** (np.arange(61) / 20.0)
    assert agrees(deviation(_product(name, freqs), _ngspice(name, freqs)))


@pytest.mark.parametrize("name", LOADED)
def test_twin_wrong_figures_are_refused(name: str) -> None:
    """Figures off by a little more than the tolerance are refused, at the peak and beside it."""
    freqs = LOADED[name].peak_hz + np.arange(-40.0, 41.0, 5.0)
    peak_hz, peak_db = _peak(freqs, _levels(_ngspice(name, freqs)))
    for sign in (-1.0, 1.0):
        off_db, off_hz = 2 * TWIN_FACTOR * PUBLISHED_DB * sign, 2 * TWIN_FACTOR * PUBLISHED_HZ * sign
        assert peak_db + off_db != pytest.approx(LOADED[name].peak_db, abs=PUBLISHED_DB)
        assert peak_hz + off_hz != pytest.approx(LOADED[name].peak_hz, abs=PUBLISHED_HZ)


@pytest.mark.parametrize(
    ("name", "eddy_ohm", "coil", "controls_ohm", "amp_ohm"),
    [
        ("loaded_1", np.inf, (6e3, 2.4, 110e-12), 250e3, 1e6),
        ("loaded_2", np.inf, (8e3, 4.4, 100e-12), 500e3, 1e6),
        ("loaded_3", np.inf, (6e3, 2.4, 110e-12), np.inf, 200e3),
        ("loaded_4", 1e6, (6e3, 2.4, 110e-12), 250e3, 1e6),
    ],
)
def test_ngspice_agrees_with_the_closed_form(
    name: str, eddy_ohm: float, coil: tuple[float, float, float], controls_ohm: float, amp_ohm: float
) -> None:
    """H = 1/(1 + Z Y): Z the coil's series branch, Y everything across it (textbook divider)."""
    freqs = 20.0 * 10 ** (np.arange(61) / 20.0)
    s = 2j * np.pi * freqs
    ohm, henry, farad = coil
    series = ohm + 1.0 / (1.0 / (s * henry) + 1.0 / eddy_ohm)
    tone = 1.0 / (controls_ohm + 1.0 / (s * 22e-9)) if np.isfinite(controls_ohm) else 0.0
    across = s * (farad + 470e-12) + 1.0 / amp_ohm + 1.0 / controls_ohm + tone
    np.testing.assert_allclose(_ngspice(name, freqs), 1.0 / (1.0 + series * across), rtol=CLOSED_FORM)


def test_the_peak_is_not_the_lc_frequency() -> None:
    """1/(2 pi sqrt(L (C + load))) is 4265.8 Hz for the first circuit, its peak 9 % lower."""
    lc_hz = 1.0 / (2 * np.pi * np.sqrt(2.4 * (110e-12 + 470e-12)))
    assert lc_hz == pytest.approx(4265.8, abs=0.05)
    assert LOADED["loaded_1"].peak_hz / lc_hz == pytest.approx(0.91, abs=0.005)
