"""What an exciter over one coil gives at the jack, against ngspice: an EMF in series with that coil's branch.

The other coil of a housing hears a share of the field; signs and the share are written here again.
"""

from __future__ import annotations

import numpy as np
import pytest
from places import DEMO
from reference.spice import runner
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from tolerances import TWIN_FACTOR

from dsp.checking.exciter import EXCITER_HZ, predict_all, transfer_of_level
from dsp.checking.points import Point
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference
CLOSE = 1e-6
"""Relative to a coil that reaches the jack alone."""
LOAD = {
    "cable": {"length": "1 m", "capacitance": "500 pF/m"},
    "amplifier": {"resistance": "1 MΩ", "capacitance": 0.0},
}
OTHER = 0.2
CASES = {
    "baritone": (
        [(position, {}) for position in range(1, 7)],
        {
            "neck_a": ("neck_b", 1), "neck_b": ("neck_a", -1),
            "bridge_a": ("bridge_b", 1), "bridge_b": ("bridge_a", -1),
        },
    ),
    "twelve": (
        [(position, {"phase": phase}) for position in (1, 2, 3) for phase in (1, 2)],
        {"neck": ("", 1), "bridge": ("", -1)},
    ),
}  # fmt: skip
"""By wiring: settings; by coil the other of its housing, and its own winding."""


@pytest.mark.parametrize("name", CASES)
def test_transfers_of_an_exciter_in_ngspice(name: str) -> None:
    path = DEMO / f"{name}.yaml"
    wiring = load_wiring(path)
    data = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    data["load"] = LOAD
    settings, by_coil = CASES[name]
    sources = tuple(emf(coil) for coil in coils(data))
    jobs = []
    for position, switches in settings:
        deck = netlist(data, Setting(position, {"volume": 10.0, "tone": 10.0, **switches}))
        deck = "\n".join(line for line in deck.splitlines() if not line.startswith("C_amp"))
        jobs.append(runner.Job(deck + "\n", sources, sweeps=runner.at(EXCITER_HZ)))
    points, want = [], []
    for (position, switches), answer in zip(settings, runner.run(jobs), strict=True):
        setting = wiring.setting(str(position), {}, {one: str(at) for one, at in switches.items()})
        for coil, (other, winding) in by_coil.items():
            own = answer.voltage[emf(coil)]
            heard = own + OTHER * answer.voltage[emf(other)] if other else own
            want += list(winding * heard.real)
            points += [Point(setting, hz, coil) for hz in EXCITER_HZ]
    found = transfer_of_level(predict_all(wiring, points, (), np.zeros((1, 0)))[0])
    assert found == pytest.approx(np.array(want), abs=CLOSE)
    assert np.abs(found).max() > 0.9, "a coil reaches the jack"
    assert np.ptp(np.sign(np.round(found, 3))) == 2.0, "coils of both windings"
    assert found + TWIN_FACTOR * 2 * CLOSE != pytest.approx(np.array(want), abs=CLOSE)
