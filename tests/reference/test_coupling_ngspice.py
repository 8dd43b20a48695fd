"""What a coupling's coefficient means, with eddy shares in both coils: netlists by hand, ngspice judges.

The coefficient refers to the whole inductances, as an LCR meter reads them at low frequency. The
netlists have K between the lossless inductors, which is all that SPICE can couple.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from small_wirings import read

from dsp.circuit.netlist import netlist
from dsp.circuit.response import respond
from dsp.errors import InputError

pytestmark = pytest.mark.reference

K = 0.27
METER_HZ = 1.0
"""Far below the eddy corners; capacitances count for 1e-8 there."""

PARTS = """format: 1
parts:
  upper:
    kind: coil
    resistance: 4.4 kΩ
    inductance: 2.5 H
    capacitance: 95 pF
    eddy: [{{share: 30 %, corner: 2.5 kHz}}]
  lower:
    kind: coil
    resistance: 3.9 kΩ
    inductance: 1.6 H
    capacitance: 120 pF
    eddy: [{{share: 20 %, corner: 4 kHz}}, {{share: 15 %, corner: 11 kHz}}]
    winding: reverse
  volume: {{kind: pot, resistance: 500 kΩ, taper: linear}}
  output: {{kind: jack}}
couplings: [{{coils: [upper, lower], coefficient: {k}}}]
joints:
  - [volume.2, output.tip]
{joints}
load:
  cable: {{length: 5 m, capacitance: 100 pF/m}}
  amplifier: {{resistance: 1 MΩ, capacitance: 20 pF}}
"""
JOINTS = {
    "aiding": ("upper.start, volume.3", "upper.finish, lower.start", "lower.finish, volume.1, output.sleeve"),
    "opposing": (
        "upper.start, volume.3",
        "upper.finish, lower.finish",
        "lower.start, volume.1, output.sleeve",
    ),
    "parallel": ("upper.start, lower.start, volume.3", "upper.finish, lower.finish, volume.1, output.sleeve"),
}
ENDS = {  # start and finish of upper, of lower: nodes of the netlist
    "aiding": ("hot", "m", "m", "0"),
    "opposing": ("hot", "m", "0", "m"),
    "parallel": ("hot", "0", "hot", "0"),
}


def file(joined: str, k: float = K) -> str:
    return PARTS.format(k=k, joints="\n".join(f"  - [{joint}]" for joint in JOINTS[joined]))


def deck(joined: str, *outside: str, farads: bool = True) -> str:
    """2.5 H = 1.75 lossless + 0.75; 1.6 H = 1.04 + 0.32 + 0.24. K: M = 0.27 sqrt(2.5 x 1.6) = 0.54 H."""
    a, b, c, d = ENDS[joined]
    lines = [
        f"VE_upper e1 {b} DC 0 AC 0", "R1 e1 w1 4.4k", "L1x w1 x1 0.75",
        f"R1x w1 x1 {2 * math.pi * 2500 * 0.75!r}",
        f"L1 {a} x1 1.75", f"VE_lower e2 {d} DC 0 AC 0", "R2 e2 w2 3.9k", "L2x w2 x2 0.32",
        f"R2x w2 x2 {2 * math.pi * 4000 * 0.32!r}",
        "L2y x2 y2 0.24", f"R2y x2 y2 {2 * math.pi * 11000 * 0.24!r}",
        f"L2 {c} y2 1.04", f"K12 L1 L2 {0.54 / math.sqrt(1.75 * 1.04)!r}",
    ]  # fmt: skip
    if farads:
        lines += [f"C1 {a} {b} 95p", f"C2 {c} {d} 120p"]
    return "\n".join(["* two coupled coils by hand", ".option noopac", *lines, *outside, ".end", ""])


LOADED = ("Rp hot 0 500k", "Rl hot 0 1meg", "Cl hot 0 520p")


@pytest.mark.parametrize("joined", JOINTS)
def test_responses_agree_with_the_netlist_by_hand(joined: str) -> None:
    job = runner.Job(deck(joined, *LOADED), ("VE_upper", "VE_lower"), node="hot")
    (found,) = runner.run([job])
    wiring = read(file(joined))
    ours = respond(wiring, [wiring.setting("1")], found.freqs_hz).coil[0]
    turned = read(file(joined, -K))
    wrong = respond(turned, [turned.setting("1")], found.freqs_hz).coil[0]
    for row, name in enumerate(("VE_upper", "VE_lower")):
        assert agrees(deviation(ours[row], found.voltage[name])), name
        assert not agrees(deviation(wrong[row], found.voltage[name])), "the sign would not matter"


@pytest.mark.parametrize("joined", JOINTS)
def test_the_netlist_that_is_written_says_the_same(joined: str) -> None:
    wiring = read(file(joined))
    written = runner.run_as_printed(netlist(wiring, wiring.setting("1"), coil="lower"))
    ours = respond(wiring, [wiring.setting("1")], written.freqs_hz).coil[0, 1]
    (voltage,) = written.voltage.values()
    np.testing.assert_allclose(np.abs(ours), np.abs(voltage), rtol=1e-4)  # as many digits as are printed


def meter_h(joined: str) -> float:
    """Inductance that ngspice reads at low frequency, 1 A through what is between hot and ground."""
    job = runner.Job(
        deck(joined, "IOUT 0 hot AC 0", farads=False), ("IOUT",), runner.at([METER_HZ]), node="hot"
    )
    (found,) = runner.run([job])
    return float(found.voltage["IOUT"][0].imag / (2 * np.pi * METER_HZ))


def test_the_coefficient_is_what_a_meter_gives() -> None:
    aiding, opposing = meter_h("aiding"), meter_h("opposing")
    assert (aiding - opposing) / (4 * math.sqrt(2.5 * 1.6)) == pytest.approx(K, rel=1e-6)
    assert aiding + opposing == pytest.approx(2 * (2.5 + 1.6), rel=1e-6)


LIMIT = math.sqrt(0.70 * 0.65)
"""Largest |k| of the two coils: M may not exceed the mean of the lossless 1.75 H and 1.04 H."""


@pytest.mark.parametrize("sign", [1, -1])
def test_what_passivity_forbids_is_refused_with_the_limit(sign: int) -> None:
    read(file("aiding", sign * (LIMIT - 1e-4)))
    with pytest.raises(InputError) as caught:
        read(file("aiding", sign * (LIMIT + 1e-4)))
    (problem,) = caught.value.problems
    assert problem.got == f"upper and lower with {sign * (LIMIT + 1e-4):g}"
    assert problem.allowed.startswith("|k| below 0.6745")
