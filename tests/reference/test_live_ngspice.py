"""The polynomials of live knobs in ngspice; independent code makes the netlist from the file."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from places import DEMO
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from tolerances import TWIN_FACTOR

from dsp.live.model import make_model
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

KNOBS = ({"volume": 8.3, "tone": 4.0}, {"volume": 6.1, "tone": 0.4}, {"volume": 10.0, "tone": 10.0})


def test_every_knob_value_in_ngspice() -> None:
    path, position = DEMO / "baritone.yaml", 2
    wiring: dict[str, Any] = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    product = load_wiring(path)
    model = make_model(product, product.setting(str(position)))
    chosen = np.flatnonzero((model.frequencies_hz >= 20.0) & (model.frequencies_hz <= 20e3))[::5]
    sources = tuple(emf(coil) for coil in coils(wiring))
    sweeps = runner.at(model.frequencies_hz[chosen])
    jobs = [runner.Job(netlist(wiring, Setting(position, knobs)), sources, sweeps) for knobs in KNOBS]
    heard = []
    for knobs, answer in zip(KNOBS, runner.run(jobs), strict=True):
        found = model.respond(knobs)[:, chosen]
        for coil, response in zip(model.coils, found, strict=True):
            want = answer.voltage[emf(coil)]
            assert agrees(deviation(response, want)), f"{knobs} {coil}"
            heard.append(response)
    assert not agrees(deviation(heard[0] * (1.0 + 1.2e-4 * TWIN_FACTOR), heard[0]))
