"""A valve's input drawn whole in a wiring file, against ngspice: cable, leak and stopper before the grid.

Independent code makes the netlist from the file. This is how a file states an input exactly: a second jack
stands for the grid, and everything is computed there.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from places import DEMO
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.independent import emf, netlist
from reference.spice.product import product_response
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from tolerances import LEVEL_DB, TWIN_FACTOR

pytestmark = pytest.mark.reference

HIGH = {"leak": ("1 MΩ", False), "stopper": "34 kΩ"}
LOW = {"leak": ("68 kΩ", True), "stopper": "68 kΩ"}
"""Two resistors of 68 kΩ: the high input has them side by side, the low one as a divider (a public
page on amplifier stages)."""


def drawn(network: dict[str, Any]) -> dict[str, Any]:
    """Return the twelve-string's wiring with the jack moved behind an input."""
    yaml = YAML(typ="safe", pure=True)
    wiring: dict[str, Any] = yaml.load((DEMO / "twelve.yaml").read_text(encoding="utf-8"))
    leak, behind = network["leak"]
    wiring["parts"] |= {
        "lead": {"kind": "capacitor", "capacitance": "500 pF"},
        "leak": {"kind": "resistor", "resistance": leak},
        "stopper": {"kind": "resistor", "resistance": network["stopper"]},
        "grid": {"kind": "jack"},
    }
    hot = ["output.tip", "lead.a", "stopper.a"]
    grid = ["stopper.b", "grid.tip"]
    (grid if behind else hot).append("leak.a")
    wiring["joints"] += [hot, grid, ["output.sleeve", "lead.b", "leak.b", "grid.sleeve"]]
    wiring["output"] = "grid"
    wiring["load"] = {
        "cable": {"length": "0 m", "capacitance": "100 pF/m"},
        "amplifier": {"resistance": "1000000 MΩ", "capacitance": "130 pF"},
    }
    return wiring


@pytest.mark.parametrize("network", [HIGH, LOW], ids=["high", "low"])
def test_an_input_drawn_whole_in_ngspice(network: dict[str, Any], tmp_path: Path) -> None:
    wiring = drawn(network)
    path = tmp_path / "drawn.yaml"
    with path.open("w", encoding="utf-8") as file:
        YAML(typ="safe", pure=True).dump(wiring, file)
    sources = tuple(emf(coil) for coil in coils(wiring))
    settings = [
        (position, {"volume": volume, "tone": 10.0, "phase": 1})
        for position in (1, 2, 3)
        for volume in (10.0, 6.0)
    ]
    jobs = [runner.Job(netlist(wiring, Setting(*one)), sources) for one in settings]
    for (position, knobs), answer in zip(settings, runner.run(jobs), strict=True):
        got = product_response(path, position, knobs, answer.freqs_hz)
        for coil, response in got.coils.items():
            want = answer.voltage[emf(coil)]
            assert agrees(deviation(response, want)), (position, knobs, coil)
            louder = response * 10.0 ** (LEVEL_DB * TWIN_FACTOR / 20.0)
            assert agrees(deviation(louder, want)) == (not response.any())
