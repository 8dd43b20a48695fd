"""One network of each kind for a knob in ngspice; independent code makes the netlist from the edited file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from places import DEMO
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from tolerances import LEVEL_DB, TWIN_FACTOR

from dsp.circuit.response import respond
from dsp.knobs.advice import best_of_kinds, suggest_networks
from dsp.knobs.bypass import try_bypasses
from dsp.knobs.networks import KINDS
from dsp.wiring.change import Change
from dsp.wiring.model import Wiring
from server.wirings.changed import EditedText
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

FILE = DEMO / "baritone.yaml"
POSITION = 5


@pytest.fixture(scope="module")
def edits() -> dict[str, Change]:
    wiring = load_wiring(FILE)
    setting = wiring.setting(str(POSITION))
    best = best_of_kinds(suggest_networks(wiring, setting, "tone"))
    found = {kind: one.change(wiring) for kind, one in best.items()}
    return found | {"bypass": list(try_bypasses(wiring, setting, "volume"))[-1].change}


def answers(path: Path, knobs: dict[str, float]) -> dict[str, np.ndarray]:
    wiring: dict[str, Any] = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    names = tuple(coils(wiring))
    deck = netlist(wiring, Setting(POSITION, knobs))
    (answer,) = runner.run([runner.Job(deck, tuple(emf(name) for name in names))])
    return {name: answer.voltage[emf(name)] for name in names}


@pytest.mark.parametrize("kind", [*KINDS, "bypass"])
@pytest.mark.parametrize("knobs", [{"tone": 3.0, "volume": 6.0}, {"tone": 0.0}])
def test_an_edited_wiring_in_ngspice(
    kind: str, knobs: dict[str, float], edits: dict[str, Change], tmp_path: Path
) -> None:
    wiring: Wiring = load_wiring(FILE)
    text = EditedText.of(FILE)
    text.put_change(wiring, edits[kind])
    text.save(tmp_path / "edited.yaml")
    want = answers(tmp_path / "edited.yaml", knobs)
    built = edits[kind].apply(wiring)
    hz = np.geomspace(20.0, 20_000.0, 61)
    got = dict(
        zip(built.coils, respond(built, [built.setting(str(POSITION), knobs)], hz).coil[0], strict=True)
    )
    for name in want:
        assert agrees(deviation(got[name], want[name])), name
    loudest = max(want, key=lambda name: float(np.abs(want[name]).max()))
    twin = got[loudest] * 10.0 ** (LEVEL_DB * TWIN_FACTOR / 20.0)
    assert not agrees(deviation(twin, want[loudest]))
