"""Hum that is heard, against ngspice: what is rendered of a take that has gone silent, at 50 Hz."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO
from reference.spice import runner
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from render_case import COILS
from ruamel.yaml import YAML
from tolerances import HUM_REL

from dsp.sound.hum import pick_up_m2
from server.cli import main
from server.files.tags import read_tags
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

RATE_HZ, SECONDS = 48_000, 2
TESLA = 1e-6
"""The first harmonic of a stage's field, rms."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Render a click and the silence after it on a stage, every position."""
    path = tmp_path_factory.mktemp("hum")
    stems = np.zeros((SECONDS * RATE_HZ, len(COILS)))
    stems[0] = 1e-3
    soundfile.write(path / "silence.wav", stems, RATE_HZ, "FLOAT")
    take = f"format: 1\nname: Silence\nkind: coils\naudio: silence.wav\nchannels: [{', '.join(COILS)}]\n"
    (path / "silence.yaml").write_text(take, encoding="utf-8")
    words = [str(DEMO / "baritone.yaml"), "--take", str(path / "silence.yaml"), "--out", str(path)]
    done = CliRunner().invoke(main, ["render", *words, "--hum", "stage"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return path


def heard(folder: Path, position: str, hertz: float) -> complex:
    """Return the complex amplitude at a frequency, of the second second; sine phase is real."""
    samples, _ = soundfile.read(folder / f"baritone-silence-{position}-hum-stage50.wav")
    n = np.arange(RATE_HZ, 2 * RATE_HZ)
    return complex(2.0 * np.mean(samples[n] * np.exp(-2j * np.pi * hertz * n / RATE_HZ)) * 1j)


@pytest.mark.parametrize(("hertz", "share"), [(50.0, 1.0), (150.0, 0.3)])
def test_the_hum_of_every_position_is_that_of_ngspice(folder: Path, hertz: float, share: float) -> None:
    path = DEMO / "baritone.yaml"
    wiring: dict[str, Any] = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    sources = tuple(emf(coil) for coil in coils(wiring))
    positions = "123456"
    at = runner.at([hertz])
    jobs = [runner.Job(netlist(wiring, Setting(int(one), {})), sources, at) for one in positions]
    areas = dict(zip(load_wiring(path).coils, pick_up_m2(load_wiring(path)), strict=True))
    volt = 2.0 * np.pi * hertz * share * np.sqrt(2.0) * TESLA
    for position, answer in zip(positions, runner.run(jobs), strict=True):
        want = sum(areas[coil] * volt * answer.voltage[emf(coil)][0] for coil in coils(wiring))
        one = max(abs(areas[coil] * volt * answer.voltage[emf(coil)][0]) for coil in coils(wiring))
        got = heard(folder, position, hertz)
        assert abs(got - want) <= HUM_REL * one, position
        assert abs(1.01 * got - want) > HUM_REL * abs(want), "the twin"


def test_records_and_tags_name_the_room(folder: Path) -> None:
    for entry in json.loads((folder / "clips.json").read_text(encoding="utf-8"))["clips"]:
        assert entry["hum"] == "a stage with lamps and cables, 1 µT at 50 Hz"
        assert read_tags(folder / entry["file"], "wav")["hum"] == entry["hum"]


def test_a_room_that_is_not_there_is_refused(folder: Path) -> None:
    words = [str(DEMO / "baritone.yaml"), "--take", str(folder / "silence.yaml"), "--out", str(folder)]
    for text in ("hall", "stage,55 Hz", "stage,"):
        done = CliRunner().invoke(main, ["render", *words, "--hum", text], catch_exceptions=False)
        assert done.exit_code == 2
        assert "quiet, stage, amplifier, then perhaps a comma and 50 Hz or 60 Hz" in " ".join(
            done.stderr.split()
        )
