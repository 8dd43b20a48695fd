"""A coil's values from a rig that ngspice computes: dividers, calibration, fit.

The netlists are written here by hand. Bars: the rig's ratio 1e-5; without noise the calibrated
impedance 1e-9 of a formula by our own rig, 1e-5 of ngspice.
"""

from __future__ import annotations

import numpy as np
import pytest
from reference.spice import runner
from rig import Complex, Floats, Impedance, Rig, coil_ohm, opened, resistor, shorted

from dsp.measuring.coil_fit import fit_coil
from dsp.measuring.curve import Curve, calibrate
from dsp.measuring.tone import tone_lines
from dsp.measuring.transfer import Transfer

pytestmark = pytest.mark.reference

KNOWN_OHM = 99_870.0
COILS = {
    "narrow": ((6200.0, 2.35, 118e-12, (0.5, 16_000.0)), 1),
    "double": ((4100.0, 2.05, 97e-12, (0.48, 3800.0)), 1),
    "plated": ((7300.0, 3.1, 135e-12, (0.14, 3000.0), (0.45, 15_000.0)), 2),
    "plain": ((5500.0, 2.0, 160e-12), 0),
}
RIG = """rig
v1 a 0 ac 0
rs a b 100k
rin b 0 1meg
cin b 0 150p
{part}
.option noopac
.end
"""
LEADS = {"open": "", "short": "rx b 0 1m", "known": f"rx b 0 {KNOWN_OHM}"}


def coil_lines(resistance: float, inductance: float, capacitance: float, *eddy: tuple[float, float]) -> str:
    """The coil as a network: series losses, capacitance across."""
    lossless = inductance * (1 - sum(share for share, _ in eddy))
    lines = [f"r0 b n0 {resistance!r}", f"l0 n0 n1 {lossless!r}"]
    for i, (share, corner) in enumerate(eddy, 1):
        ends = f"n{i} {'0' if i == len(eddy) else f'n{i + 1}'}"
        lines += [
            f"l{i} {ends} {inductance * share!r}",
            f"r{i}x {ends} {2 * np.pi * corner * inductance * share!r}",
        ]
    if not eddy:
        lines[1] = f"l0 n0 0 {lossless!r}"
    return "\n".join([*lines, f"cw b 0 {capacitance!r}"])


@pytest.fixture(scope="module")
def ratios() -> dict[str, Complex]:
    """Voltage at the coil over the source's, by ngspice at the tone's lines."""
    parts = {**LEADS, **{name: coil_lines(*values) for name, (values, _) in COILS.items()}}
    sweeps = runner.at(tone_lines())
    jobs = [runner.Job(RIG.format(part=part), ("v1",), sweeps=sweeps, node="b") for part in parts.values()]
    return {name: answer.voltage["v1"] for name, answer in zip(parts, runner.run(jobs), strict=True)}


def transfer(name: str, ratio: Complex, hz: Floats | None = None) -> Transfer:
    hz = tone_lines() if hz is None else hz
    return Transfer(name, "lines", hz, ratio, np.zeros(len(hz)), -12.0, -100.0)


def calibrated(found: dict[str, Complex], name: str) -> Curve:
    readings = [transfer(one, found[one]) for one in (name, "open", "short", "known")]
    return calibrate(*readings, KNOWN_OHM)


@pytest.mark.parametrize("name", COILS)
def test_our_rig_is_the_networks(ratios: dict[str, Complex], name: str) -> None:
    parts: dict[str, Impedance] = {
        "open": opened,
        "short": resistor(1e-3),
        "known": resistor(KNOWN_OHM),
        name: coil_ohm(*COILS[name][0]),
    }
    for one, part in parts.items():
        ours = Rig().ratio(part, tone_lines())
        assert np.abs(ours / ratios[one] - 1).max() < 1e-5, one


@pytest.mark.parametrize("name", COILS)
def test_the_impedance_of_the_network_comes_back(ratios: dict[str, Complex], name: str) -> None:
    curve = calibrated(ratios, name)
    expected = coil_ohm(*COILS[name][0])(tone_lines())
    assert np.abs(curve.ohm / expected - 1).max() < 1e-5
    naive = 100e3 * ratios[name] / (1 - ratios[name])
    assert np.abs(naive / expected - 1).max() > 0.1, "without calibration the inputs count as the coil's"


@pytest.mark.parametrize("name", COILS)
def test_the_fit_finds_the_network(ratios: dict[str, Complex], name: str) -> None:
    (resistance, inductance, capacitance, *eddy), order = COILS[name]
    fit = fit_coil(calibrated(ratios, name), name, dc_ohm=resistance, known_ohm=KNOWN_OHM)
    assert fit.order == order
    assert fit.coil.resistance_ohm == pytest.approx(resistance, rel=1e-3)
    assert fit.coil.inductance_h == pytest.approx(inductance, rel=1e-3)
    assert fit.coil.capacitance_f == pytest.approx(capacitance, rel=2e-3)
    for found, (share, corner) in zip(fit.coil.eddy, sorted(eddy, key=lambda one: one[1]), strict=True):
        assert (found.share, found.corner_hz) == pytest.approx((share, corner), rel=0.02)


@pytest.mark.parametrize("name", COILS)
def test_gains_skew_and_leads_drop_out(name: str) -> None:
    """Open-short-known is exact for every linear rig."""
    rig = Rig(series_ohm=47e3, input_ohm=33e3, input_f=720e-12, gains=(0.7, 1.1), skew_s=11e-6)
    parts = {"open": opened, "short": shorted, "known": resistor(KNOWN_OHM), name: coil_ohm(*COILS[name][0])}
    hz = tone_lines()
    curve = calibrated({one: rig.ratio(part, hz) for one, part in parts.items()}, name)
    assert np.abs(curve.ohm / coil_ohm(*COILS[name][0])(hz) - 1).max() < 1e-9
