"""Every position of the demo's wirings in ngspice; independent code makes the netlist from the file."""

from __future__ import annotations

from typing import Any

import pytest
from places import DEMO
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.independent import emf, netlist
from reference.spice.product import product_response
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from tolerances import TWIN_FACTOR

pytestmark = pytest.mark.reference

KNOBS = ({"volume": 10.0, "tone": 10.0}, {"volume": 7.0, "tone": 3.5}, {"tone": 0.0})
SETTINGS = {
    "baritone": [(position, knobs) for position in range(1, 7) for knobs in KNOBS[1:]],
    "twelve": [(position, {**KNOBS[1], "phase": phase}) for position in (1, 2, 3) for phase in (1, 2)],
    "tenor": [(position, knobs) for position in range(1, 6) for knobs in KNOBS],
}


@pytest.mark.parametrize("name", SETTINGS)
def test_the_demo_in_ngspice(name: str) -> None:
    path = DEMO / f"{name}.yaml"
    wiring: dict[str, Any] = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    sources = tuple(emf(coil) for coil in coils(wiring))
    jobs = [runner.Job(netlist(wiring, Setting(*one)), sources) for one in SETTINGS[name]]
    heard = []
    for (position, knobs), answer in zip(SETTINGS[name], runner.run(jobs), strict=True):
        got = product_response(path, position, knobs, answer.freqs_hz)
        for coil, response in got.coils.items():
            want = answer.voltage[emf(coil)]
            assert agrees(deviation(response, want)), f"{position} {knobs} {coil}"
            heard.append(response)
    assert not agrees(deviation(heard[0] * (1.0 + 1.2e-4 * TWIN_FACTOR), heard[0]))
