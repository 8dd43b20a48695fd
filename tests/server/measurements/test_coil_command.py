"""The commands rig and coil as a technician calls them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from rig import RATE_HZ, Impedance, Rig, coil_ohm, opened, resistor, shorted

from dsp.measuring.housing_fit import HousingFit, housing_impedances
from dsp.measuring.tone import make_tone, tone_lines
from dsp.parts.coil import Coil, Eddy
from server.cli import main
from server.measurements.rig import CAUTIONS
from server.wirings.text import load_wiring

VALUES = (6200.0, 2.35, 118e-12, (0.5, 9000.0))
WIRING = """format: 1
# the workshop's own
parts:
  # hot one
  bridge:
    kind: coil
    resistance: 8 kΩ # by the label
    inductance: 3 H
    capacitance: 100 pF
    cover: metal
  neck: {kind: coil, resistance: 6 kΩ, inductance: 2 H, capacitance: 100 pF}
  volume: {kind: pot, resistance: 500 kΩ, taper: linear}
  output: {kind: jack}
joints:
  - [bridge.start, volume.3]
  - [neck.start, bridge.finish]
  - [neck.finish, volume.1, output.sleeve]
  - [volume.2, output.tip]
"""


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what an interface recorded of a coil, of nothing, a short, a resistor."""
    folder = tmp_path_factory.mktemp("rig")
    parts: dict[str, Impedance] = {
        "bridge": coil_ohm(*VALUES),
        "open": opened,
        "short": shorted,
        "known": resistor(99_870.0),
    }
    for seed, (name, part) in enumerate(parts.items()):
        samples = Rig().record(part, make_tone(RATE_HZ, 4), seed)
        soundfile.write(folder / f"{name}.wav", samples.T, RATE_HZ, subtype="PCM_24")
    return folder


def rig_words(folder: Path, *, known: str = "99.87k") -> list[str]:
    return [
        *("--open", str(folder / "open.wav"), "--short", str(folder / "short.wav")),
        *("--known", f"{folder / 'known.wav'}={known}"),
    ]


def test_a_recorded_coil_prints_its_values(recordings: Path) -> None:
    done = call(
        "coil",
        str(recordings / "bridge.wav"),
        *rig_words(recordings),
        "--dc",
        "6.2k",
        "--at",
        "20C",
        "--json",
    )
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert found["resistance_ohm"] == pytest.approx(6200.0, rel=0.005)
    assert found["inductance_h"] == pytest.approx(2.35, rel=0.005)
    assert found["capacitance_f"] == pytest.approx(118e-12, rel=0.01)
    assert found["order"] == 1
    assert found["eddy"][0] == pytest.approx({"share": 0.5, "corner_hz": 9000.0}, rel=0.02)
    low, high = found["intervals"]["inductance_h"]
    assert low < 2.35 < high
    assert found["notes"] == []


def test_values_are_written_with_date_and_method_and_comments_stay(recordings: Path, tmp_path: Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(WIRING, encoding="utf-8")
    words = [
        *rig_words(recordings),
        "--dc",
        "6.2k",
        "--at",
        "28 °C",
        "--name",
        "bridge",
        "--out",
        str(file),
    ]
    done = call("coil", str(recordings / "bridge.wav"), *words)
    assert done.exit_code == 0, done.output
    assert re.search(r"^inductance +2\.3\d+ H +2\.3\d+ H to 2\.3\d+ H$", done.stdout, re.MULTILINE)
    text = file.read_text(encoding="utf-8")
    assert re.search(
        r"^  # read \d{4}-\d\d-\d\d: impedance at the leads, open-short-known$", text, re.MULTILINE
    )
    for comment in ("# the workshop's own", "# hot one", "# by the label"):
        assert comment in text
    assert "cover" not in text, "what was read holds the cover's loss"
    coil = load_wiring(file).parts["bridge"]
    assert isinstance(coil, Coil)
    assert coil.inductance_h == pytest.approx(2.35, rel=0.006)
    assert coil.resistance_ohm == pytest.approx(6200.0 / 1.0312, rel=0.005)


def test_two_coils_of_a_housing_write_their_coupling(tmp_path: Path) -> None:
    first = Coil(4100.0, 2.05, 97e-12, eddy=(Eddy(0.48, 3800.0),))
    second = Coil(4250.0, 2.2, 102e-12, eddy=(Eddy(0.45, 3500.0),))
    hz = tone_lines()
    names = ("a", "b", "both")
    for name, ohm in zip(names, housing_impedances(first, second, 0.16, hz), strict=True):
        rows = [f"{f:g},{z.real:.9g},{z.imag:.9g}" for f, z in zip(hz, ohm, strict=True)]
        (tmp_path / f"{name}.csv").write_text("\n".join(["f,re,im", *rows]), encoding="utf-8")
    file = tmp_path / "own.yaml"
    file.write_text(WIRING, encoding="utf-8")
    tables = [str(tmp_path / f"{name}.csv") for name in names]
    done = call(
        *("coil", *tables, "--dc", "4.1k", "--dc", "4.25k"),
        *("--name", "bridge", "--name", "neck", "--out", str(file)),
    )
    assert done.exit_code == 0, done.output
    (pair,) = load_wiring(file).couplings
    assert (pair.first, pair.second) == ("bridge", "neck")
    assert pair.coefficient == pytest.approx(0.16, abs=0.001)
    again = call(
        *("coil", *tables, "--dc", "4.1k", "--dc", "4.25k"),
        *("--name", "bridge", "--name", "neck", "--out", str(file)),
    )
    assert again.exit_code == 0, again.output
    assert len(load_wiring(file).couplings) == 1


def test_meters_alone_say_what_they_leave_open() -> None:
    done = call("coil", "--bridge", "100=2.31H,8.2k", "--bridge", "1k=2.28H,8.9k", "--dc", "8.12k", "--json")
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["inductance_h"] == pytest.approx(2.31, rel=0.02)
    assert "usual coils" in json.loads(done.stdout)["notes"][0]
    done = call("coil", "--peak", "470p=4.1k", "--peak", "2n2=2.2k", "--height", "7dB", "--dc", "8.12k")
    assert done.exit_code == 0, done.output
    assert "note: Peaks leave the capacitance uncertain" in done.stdout


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["coil"], 2, "readings as files, or --bridge, or --peak"),
        (["coil", "bridge.wav"], 1, "a recording without the rig's own"),
        (["coil", "bridge.wav", "--open", "open.wav"], 2, "--open, --short and --known together"),
        (["coil", "a.csv", "b.csv"], 2, "2 readings; allowed: one, or three"),
        (["coil", "bridge.wav", "--dc", "1k", "--dc", "2k"], 2, "--dc: got 2; allowed: 1"),
        (["coil", "bridge.wav", "--name", "bridge"], 2, "--out takes 1 --name"),
        (["coil", "bridge.wav", "--at", "hot"], 2, "-20 to 60"),
        (["coil", "none.csv"], 1, "none.csv"),
        (["coil", "--bridge", "1k", "--dc", "8k"], 2, "HZ=LS,RS"),
        (["coil", "--peak", "470p", "--dc", "8k"], 2, "FARAD=HZ"),
        (["coil", "--peak", "470p=4.1k"], 2, "the meter's reading"),
    ],
)
def test_wrong_usage_is_told(
    words: list[str], code: int, said: str, recordings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(recordings)
    done = call(*words)
    assert done.exit_code == code, done.output
    assert said in done.output


def test_an_unknown_coil_writes_nothing(recordings: Path, tmp_path: Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(WIRING, encoding="utf-8")
    words = [*rig_words(recordings), "--dc", "6.2k", "--name", "brigde", "--out", str(file)]
    done = call("coil", str(recordings / "bridge.wav"), *words)
    assert done.exit_code == 1
    assert "got brigde; allowed: a coil: bridge, neck (did you mean 'bridge'?)" in done.output
    assert file.read_text(encoding="utf-8") == WIRING


def test_the_rig_is_told_with_its_cautions_and_its_tone(tmp_path: Path) -> None:
    done = call("rig", "--tone", str(tmp_path / "rig"), "--seconds", "4")
    assert done.exit_code == 0, done.output
    for line in CAUTIONS:
        assert line in done.stdout
    assert (tmp_path / "rig" / "rig.txt").read_text(encoding="utf-8").startswith("Heed:")
    samples, rate = soundfile.read(tmp_path / "rig" / "tone-48000.wav")
    assert (rate, len(samples)) == (48_000, 4 * 48_000)
    assert np.abs(samples - make_tone(48_000, 4)).max() < 1 / 32_000


def test_notes_of_two_coils_name_their_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    reflection = "# HZ S RI R 50\n100 0.98 0.001\n1000 0.985 0.01\n10000 0.99 0.01\n"
    for name in ("a", "b", "both"):
        (tmp_path / f"{name}.s1p").write_text(reflection, encoding="utf-8")
    one = Coil(4100.0, 2.05, 97e-12)
    fit = HousingFit(one, one, 0, 0.1, (0.0, 0.2), 1.0)
    monkeypatch.setattr("server.measurements.coil.fit_housing", lambda *curves, **known: fit)
    files = [str(tmp_path / f"{name}.s1p") for name in ("a", "b", "both")]
    notes = json.loads(call("coil", *files, "--json").output)["notes"]
    assert [note.split(":")[0] for note in notes] == ["a.s1p", "b.s1p", "both.s1p"]
    assert "note: both.s1p: Impedances reach" in call("coil", *files).output
