"""Thermal noise and the A-weighting: published figures, and ngspice's own noise analysis.

Check 10 of the published values this project keeps. Sources: H. Nyquist 1928 and J. B. Johnson 1928 (from
memory) for e = sqrt(4 k T R B); worked figures read on public pages, as marked beside each; IEC 61672-1's
table read on a public page. ngspice counts the same noise in another way: resistor by resistor, each through
its own transfer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from places import DEMO
from reference.spice import real
from reference.spice.wiring_file import NETWORKS
from tolerances import A_TABLE_DB, NOISE_PUBLISHED, NOISE_SPICE, NOISE_TOTAL, TWIN_FACTOR

from dsp.circuit.netlist import netlist
from dsp.circuit.noise import ROOM_K, a_weighting_db, thermal_density, weighted_noise_volt
from dsp.circuit.response import respond
from dsp.wiring.model import Setting, Wiring
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

Floats = NDArray[np.float64]


@pytest.mark.parametrize(
    ("ohm", "kelvin", "bandwidth_hz", "volt"),
    [
        (1e3, 300.0, 1.0, 4.07e-9),  # read: 4.07 nV/sqrt(Hz)
        (100e3, 300.0, 1e6, 40.69e-6),  # read: published as 40.69 µV
        (10e3, 300.0, 20e3, 1.820e-6),  # calculated from the formula
        (10e3, 290.0, 20e3, 1.790e-6),  # calculated
        (250e3, 300.0, 1.0, 64.36e-9),  # calculated
    ],
)
def test_johnson_noise_of_a_resistor(ohm: float, kelvin: float, bandwidth_hz: float, volt: float) -> None:
    density = thermal_density(np.array([ohm + 0j]), kelvin)[0]
    assert density * np.sqrt(bandwidth_hz) == pytest.approx(volt, rel=NOISE_PUBLISHED)
    for sign in (-1, 1):
        twin = density * np.sqrt(bandwidth_hz) * (1 + 2 * TWIN_FACTOR * NOISE_PUBLISHED * sign)
        assert twin != pytest.approx(volt, rel=NOISE_PUBLISHED)


def test_only_the_real_part_makes_noise() -> None:
    ohms = np.array([1e3 + 5e6j, 1e3 - 2e3j, 1e3 + 0j, 0 + 1e6j])
    found = thermal_density(ohms, 300.0)
    assert found[0] == found[1] == found[2] > 0.0
    assert found[3] == 0.0


# IEC 61672-1 (read on a public table), third octaves from 31.5 Hz, and 20 Hz.
A_TABLE: Mapping[int, float] = {
    13: -50.5, 15: -39.4, 17: -30.2, 18: -26.2, 19: -22.5, 20: -19.1, 21: -16.1, 22: -13.4, 23: -10.9,
    24: -8.6, 25: -6.6, 26: -4.8, 27: -3.2, 28: -1.9, 29: -0.8, 30: 0.0, 31: 0.6, 32: 1.0, 33: 1.2, 34: 1.3,
    35: 1.2, 36: 1.0, 37: 0.5, 38: -0.1, 39: -1.1, 40: -2.5, 41: -4.3, 42: -6.6, 43: -9.3,
}  # fmt: skip
"""dB at 10^(n/10) Hz: at the exact frequencies; at nominal 160 Hz the same curve reads a false -13.24."""


def test_a_weighting_at_exact_third_octaves() -> None:
    assert len(A_TABLE) == 29
    freqs = 10.0 ** (np.array(list(A_TABLE)) / 10.0)
    want = np.array(list(A_TABLE.values()))
    missed = np.abs(a_weighting_db(freqs) - want)
    assert np.max(missed) <= A_TABLE_DB
    for sign in (-1, 1):  # a twin, a little more than twice the rounding away, misses everywhere
        assert np.all(np.abs(a_weighting_db(freqs) - want + 2 * TWIN_FACTOR * A_TABLE_DB * sign) > A_TABLE_DB)


def test_a_weighting_at_a_nominal_frequency_is_not_the_table() -> None:
    assert a_weighting_db(np.array([160.0]))[0] == pytest.approx(-13.24, abs=0.005)


@dataclass(frozen=True)
class Demo:
    """A demo setting, and a coil whose source ngspice may name as the input."""

    file: str
    position: str
    knobs: Mapping[str, float]
    coil: str

    def wiring(self) -> Wiring:
        return load_wiring(DEMO / f"{self.file}.yaml")

    def setting(self) -> Setting:
        return self.wiring().setting(self.position, self.knobs)

    def __str__(self) -> str:
        return f"{self.file}-{self.position}"


DEMOS = [
    Demo("baritone", "1", {}, "neck_a"),
    Demo("baritone", "4", {"volume": 6.0, "tone": 3.0}, "neck_b"),
    Demo("twelve", "2", {"volume": 8.0, "tone": 7.0}, "neck"),
    Demo("tenor", "2", {"volume": 9.0, "tone": 3.0}, "bridge_a"),
]
ROOM = ".option temp=20 tnom=20"
"""20 °C, for which coil resistances are given; ngspice's own default is 27 °C."""


def analysis(source: str) -> tuple[str, ...]:
    return (f"noise v(out) {source} dec 100 10 40k", "setplot noise1")


def demo_job(demo: Demo) -> real.RealJob:
    deck = netlist(demo.wiring(), demo.setting(), coil=demo.coil)
    lines = [line for line in deck.splitlines() if not line.startswith((".ac", ".print", ".option"))]
    deck = real.with_lines("\n".join(lines), ROOM)
    return real.RealJob(deck, analysis(f"ve_{demo.coil}"), ("frequency", "onoise_spectrum"))


@pytest.fixture(scope="module")
def spice() -> dict[str, tuple[Floats, Floats]]:
    """Frequencies, Hz, and density at the output, V/sqrt(Hz), of every demo setting."""
    found = real.run([demo_job(demo) for demo in DEMOS])
    return {
        str(demo): (one["frequency"], one["onoise_spectrum"]) for demo, one in zip(DEMOS, found, strict=True)
    }


@pytest.mark.parametrize("demo", DEMOS, ids=str)
def test_density_against_ngspice(demo: Demo, spice: Mapping[str, tuple[Floats, Floats]]) -> None:
    freqs, want = spice[str(demo)]
    found = respond(demo.wiring(), [demo.setting()], freqs)
    got = thermal_density(found.output_impedance_ohm[0])
    np.testing.assert_allclose(got, want, rtol=NOISE_SPICE)
    assert np.max(want) / np.min(want) > 1.5, "otherwise the check proves little"
    warmer = thermal_density(found.output_impedance_ohm[0], ROOM_K * (1 + 2 * TWIN_FACTOR * NOISE_SPICE))
    assert np.all(np.abs(warmer / want - 1.0) > 0.9 * TWIN_FACTOR * NOISE_SPICE)


@pytest.mark.parametrize("demo", DEMOS, ids=str)
def test_weighted_total_against_ngspice(demo: Demo, spice: Mapping[str, tuple[Floats, Floats]]) -> None:
    freqs, density = spice[str(demo)]
    want = float(np.sqrt(np.trapezoid((density * 10 ** (a_curve_db(freqs) / 20)) ** 2, freqs)))
    got = weighted_noise_volt(demo.wiring(), demo.setting())
    assert got == pytest.approx(want, rel=NOISE_TOTAL)
    assert got != pytest.approx(want * (1 + TWIN_FACTOR * NOISE_TOTAL * 2), rel=NOISE_TOTAL)
    plain = float(np.sqrt(np.trapezoid(density**2, freqs)))
    assert abs(plain / want - 1.0) > 10 * NOISE_TOTAL, "or the weighting is not tested"


def a_curve_db(freqs_hz: Floats) -> Floats:
    """Compute the A-weighting from its analogue poles as a product of magnitudes (IEC 61672-1, annex)."""
    s = 2j * np.pi * freqs_hz
    low, mid1, mid2, high = (2 * np.pi * f for f in (20.598997, 107.65265, 737.86223, 12194.217))
    gain = s**4 / ((s + low) ** 2 * (s + mid1) * (s + mid2) * (s + high) ** 2)
    reference = np.interp(1000.0, freqs_hz, np.abs(gain))
    return np.asarray(20 * np.log10(np.abs(gain) / reference))


def test_density_of_a_drawn_netlist() -> None:
    """As above, from a netlist drawn by hand: rotary, four coils, coupled pairs, volume and tone part way."""
    deck = (NETWORKS / "baritone_rotary.cir").read_text(encoding="utf-8").replace(".option noopac\n", "")
    params = {"position": 2.0, "v12": 300e3, "v23": 200e3, "t12": 100e3}
    deck = real.with_lines(deck, ROOM)
    job = real.RealJob(deck, analysis("ve_neck_a"), ("frequency", "onoise_spectrum"), params)
    (found,) = real.run([job])
    wiring = load_wiring(NETWORKS / "baritone_rotary.yaml")
    pots = wiring.pots
    knobs = {
        "volume": knob_of(pots["volume"].taper.points, 300e3 / 500e3),
        "tone": knob_of(pots["tone"].taper.points, 100e3 / 500e3),
    }
    setting = wiring.setting("2", knobs)
    assert pots["volume"].segments(knobs["volume"])[0] == pytest.approx(300e3, rel=1e-9)
    impedance = respond(wiring, [setting], found["frequency"]).output_impedance_ohm[0]
    np.testing.assert_allclose(thermal_density(impedance), found["onoise_spectrum"], rtol=NOISE_SPICE)


def knob_of(points: tuple[tuple[float, float], ...], share: float) -> float:
    """Return the knob setting at which straight lines through the points give a share."""
    travel, shares = np.array(points).T
    return 10.0 * float(np.interp(share, shares, travel))
