"""Seven synthesised wirings in ngspice: the reference's own code makes the netlist from the written file.

Responses of every coil and position must equal ngspice's answer for the SKETCH, turned round where
the chart says so. Networks, coils and sounds are ours; the physics is the reference program's.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from tolerances import LEVEL_DB, PHASE_DEG, TWIN_FACTOR

from server.cli import main

pytestmark = pytest.mark.reference

COILS = {
    "a": "resistance: 5.9 kΩ, inductance: 2.2 H, capacitance: 105 pF",
    "b": "resistance: 6.6 kΩ, inductance: 2.7 H, capacitance: 115 pF, winding: reverse, magnet: south",
    "c": "resistance: 4.1 kΩ, inductance: 2.3 H, capacitance: 70 pF, eddy: [{share: 18 %, corner: 3.2 kHz}]",
    "d": "resistance: 5.2 kΩ, inductance: 3.1 H, capacitance: 82 pF, winding: reverse, magnet: south",
}
KNOBS = {"volume": 6.0}


@dataclass(frozen=True)
class Sketched:
    """Sounds, the coils they use, coupled pairs, the switch, and joints between coils."""

    switch: str
    sounds: tuple[str, ...]
    coupled: tuple[tuple[str, str], ...] = ()
    options: tuple[str, ...] = ()
    links: tuple[str, ...] = ()


CASES: dict[str, Sketched] = {
    "blade": Sketched("blade_5_two_pole", ("a", "a | b", "b", "b | c", "c")),
    "four-pole": Sketched("blade_5_four_pole", ("a + b", "a | b", "a | c", "c + d", "c | d"), (("a", "b"),)),
    "rotary": Sketched(
        "rotary_6_four_pole", ("a + b", "a + k", "a | c", "c + d", "c | d", "b"), (("c", "d"),)
    ),
    "toggle": Sketched("toggle_on_on_on", ("a + b", "a | b", "a"), options=("--no-shorts",)),
    "two leads": Sketched(
        "blade_5_four_pole",
        ("a + b", "(a + b) | c", "c", "a + b + c", "a + b + -c"),
        (("a", "b"),),
        links=("a.finish, b.start",),
    ),
    "three leads": Sketched(
        "blade_5_four_pole",
        ("a + b", "a", "c", "a | c", "a + b + c"),
        options=("--link-lead", "a.finish"),
        links=("a.finish, b.start",),
    ),
    "push-pull": Sketched("push_pull", ("a | b", "a | -b"), options=("--hanging",)),
}


def sketch_text(case: Sketched) -> str:
    used = [name for name in COILS if any(name in sound for sound in case.sounds)]
    lines = ["format: 1", "name: Sketched", "parts:"]
    lines += [f"  {name}: {{kind: coil, {COILS[name]}}}" for name in used]
    lines += ["  k: {kind: capacitor, capacitance: 10 nF}"] * any("k" in sound for sound in case.sounds)
    lines += ["  volume: {kind: pot, resistance: 250 kΩ, taper: linear}", "  selector:", "    kind: sketch"]
    lines += ["    positions:", *(f"      {i}: {sound}" for i, sound in enumerate(case.sounds, 1))]
    lines += ["  output: {kind: jack}"]
    if case.coupled:
        lines += ["couplings:", *(f"  - {{coils: [{a}, {b}], coefficient: -0.12}}" for a, b in case.coupled)]
    lines += [
        "joints:",
        *(f"  - [{link}]" for link in case.links),
        "  - [selector.hot, volume.3]",
        "  - [volume.2, output.tip]",
    ]
    lines += ["  - [selector.cold, volume.1, output.sleeve]", "load:"]
    lines += ["  cable: {length: 5 m, capacitance: 100 pF/m}"]
    return "\n".join([*lines, "  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}", ""])


def read(path: Path) -> dict[str, Any]:
    data = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    assert isinstance(data, dict)
    return data


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("charts")


@cache
def charted(name: str, folder: Path) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """Return the sketch, the written wiring and the command's report."""
    case, path = CASES[name], folder / f"{name}.yaml"
    path.write_text(sketch_text(case), encoding="utf-8")
    words = ["lugs", str(path), "--switch", case.switch, "--time", "4", "--json", *case.options]
    done = CliRunner().invoke(main, [*words, "--out", str(folder / "out")], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    said = json.loads(done.stdout)
    return read(path), read(Path(said["files"]["wiring"])), said


def answers(wiring: dict[str, Any], position: str) -> dict[str, np.ndarray]:
    """Return ngspice's response of every coil; positions are named as YAML reads them."""
    key: Any = int(position) if position.isdigit() else position
    deck = netlist(wiring, Setting(key, KNOBS))
    (answer,) = runner.run([runner.Job(deck, tuple(emf(name) for name in coils(wiring)))])
    return {name: answer.voltage[emf(name)] for name in coils(wiring)}


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.long if name == "rotary" else ()) for name in CASES]
)
def test_the_chart_gives_the_sketched_responses(name: str, folder: Path) -> None:
    sketch, wiring, said = charted(name, folder)
    assert {one["sound"] for one in said["positions"].values()} == set(
        map(str, range(1, len(CASES[name].sounds) + 1))
    )
    assert [one["parts"]["selector"]["kind"] for one in (sketch, wiring)] == ["sketch", "switch"]
    for position, one in said["positions"].items():
        got, want = answers(wiring, position), answers(sketch, one["sound"])
        sign = -1.0 if one["turned"] else 1.0
        missed = {
            c: deviation(sign * got[c], want[c])
            for c in want
            if not agrees(deviation(sign * got[c], want[c]))
        }
        assert not missed, (position, missed)


def test_twin_a_little_more_than_the_tolerance_is_refused(folder: Path) -> None:
    sketch, wiring, said = charted("blade", folder)
    position, one = next(iter(said["positions"].items()))
    got, want = answers(wiring, position), answers(sketch, one["sound"])
    sign = -1.0 if one["turned"] else 1.0
    loudest = max(want, key=lambda name: float(np.abs(want[name]).max()))
    for factor in (10.0 ** (LEVEL_DB * TWIN_FACTOR / 20.0), np.exp(1j * np.radians(PHASE_DEG * TWIN_FACTOR))):
        assert agrees(deviation(sign * got[loudest], want[loudest]))
        assert not agrees(deviation(sign * got[loudest] * factor, want[loudest]))


def test_twin_another_position_is_refused(folder: Path) -> None:
    sketch, wiring, said = charted("blade", folder)
    first, second, *_ = said["positions"]
    got, want = answers(wiring, first), answers(sketch, said["positions"][second]["sound"])
    assert not all(agrees(deviation(got[c], want[c])) for c in want)
