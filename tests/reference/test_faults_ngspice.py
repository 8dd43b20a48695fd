"""Jack impedances of faulty wirings against ngspice: the fault is drawn here once more, into the file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from places import DEMO
from reference.spice import runner
from reference.spice.independent import INJECTION, netlist
from reference.spice.wiring_file import Setting
from ruamel.yaml import YAML
from tolerances import TWIN_FACTOR

from dsp.checking.faults import find_faults
from dsp.checking.points import Point, ohm_of, predict
from dsp.circuit.copies import Copies
from dsp.parts.kinds import new_part
from dsp.wiring.model import Joint, Wiring
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference
HZ = (120.0, 900.0, 4000.0, 8800.0)
CLOSE = 1e-5
"""Relative: the order of what the two solvers differ by elsewhere, and far below a meter's error."""


def _without(joints: list[list[str]], terminal: str) -> list[list[str]]:
    return [[t for t in joint if t != terminal] for joint in joints]


def _open(data: dict[str, Any]) -> None:
    data["joints"] = _without(data["joints"], "volume.3")


def _cold(data: dict[str, Any]) -> None:
    data["parts"]["bad"] = {"kind": "resistor", "resistance": "8 kΩ"}
    joints = data["joints"]
    at = next(joint for joint in joints if "neck_b.finish" in joint)
    at[at.index("neck_b.finish")] = "bad.a"
    joints.append(["bad.b", "neck_b.finish"])


def _exchanged(data: dict[str, Any]) -> None:
    to = {"bridge_a.start": "bridge_a.finish", "bridge_a.finish": "bridge_a.start"}
    data["joints"] = [[to.get(t, t) for t in joint] for joint in data["joints"]]


def _short(data: dict[str, Any]) -> None:
    data["joints"].append(["neck_a.start", "neck_a.finish"])


CASES: dict[str, Callable[[dict[str, Any]], None]] = {
    "the joint at volume.3 is open": _open,
    "the joint at neck_b.finish is cold, about 8 kΩ": _cold,
    "start and finish of bridge_a are exchanged": _exchanged,
    "neck_a.start touches neck_a.finish": _short,
}


def test_faulty_baritones_in_ngspice() -> None:
    path = DEMO / "baritone.yaml"
    wiring = load_wiring(path)
    faults = {fault.text: fault for fault in find_faults(wiring)}
    jobs, want = [], []
    for text, edit in CASES.items():
        data = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
        edit(data)
        data["load"] = {
            "cable": {"length": "0 m", "capacitance": "100 pF/m"},
            "amplifier": {"resistance": 1e10, "capacitance": 0.0},
        }
        for position in (1, 2, 5):
            setting = Setting(position, {"volume": 10.0, "tone": 10.0})
            deck = "\n".join(
                line
                for line in netlist(data, setting).splitlines()
                if not line.startswith(("C_cable", "C_amp"))
            )
            jobs.append(runner.Job(deck + "\n", (INJECTION,), sweeps=runner.at(HZ)))
            points = [Point(wiring.setting(str(position)), hz) for hz in HZ]
            want.append(ohm_of(predict(faults[text].wiring, points, Copies(1)))[0])
    sound = ohm_of(predict(wiring, [Point(wiring.setting("1"), hz) for hz in HZ], Copies(1)))[0]
    assert np.abs(want[0] / sound - 1).max() > 0.01, "the fault is read"
    for job, ohm in zip(runner.run(jobs), want, strict=True):
        spice = np.minimum(np.abs(job.voltage[INJECTION]), 20e6)
        assert ohm == pytest.approx(spice, rel=CLOSE)
        assert ohm * (1 + TWIN_FACTOR * CLOSE * 2) != pytest.approx(spice, rel=CLOSE)


def test_half_a_coil_shorted_in_ngspice() -> None:
    """Two halves of one core with k^2 = 0.75 as two inductors; one shorted through its own wire."""
    deck = "\n".join(
        [
            "* half of a coil",
            "IOUT 0 out AC 0",
            "R_a out a 3000",
            "L_a a 0 0.75",
            "R_b b c 3000",
            "L_b b 0 0.75",
            "V_b c 0 0",
            f"K_ab L_a L_b {0.75**0.5!r}",
            "C_w out 0 200p",
            "R_far out 0 1e10",
            ".end",
            "",
        ]
    )
    (answer,) = runner.run([runner.Job(deck, ("IOUT",), sweeps=runner.at(HZ))])
    coil = new_part("coil", resistance=6e3, inductance=3.0, capacitance=100e-12)
    ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    wiring = Wiring("one", "", {"neck": coil, "output": new_part("jack")}, tuple(map(Joint, ends)))
    fault = next(one for one in find_faults(wiring) if one.kind == "half")
    points = [Point(wiring.setting("1"), hz) for hz in HZ]
    found = ohm_of(predict(fault.wiring, points, Copies(1)))[0]
    spice = np.abs(answer.voltage["IOUT"])
    assert found == pytest.approx(spice, rel=CLOSE)
    off = replace(coil, inductance_h=0.76)  # type: ignore[type-var]
    wrong = replace(fault.wiring, parts={**fault.wiring.parts, "neck": off})
    assert ohm_of(predict(wrong, points, Copies(1)))[0] != pytest.approx(spice, rel=CLOSE)
