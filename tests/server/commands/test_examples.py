"""Every example of a help text or the README runs as written."""

from __future__ import annotations

import glob
import importlib
import os
import re
import shlex
import shutil
import urllib.request
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import soundfile
from click.testing import CliRunner
from exciter_rig import record_transfer
from midi_bytes import melody, midi
from places import ROOT
from rig import RATE_HZ, Rig, coil_ohm, opened, resistor, shorted
from server_process import Running
from strummed import Bench, build, record, strum_stems

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import respond
from dsp.measuring.housing_fit import housing_impedances
from dsp.measuring.tone import make_tone, tone_lines
from dsp.parts.coil import Coil
from dsp.parts.load import Load
from server.cli import COMMANDS, EPILOG, main
from server.wirings.text import load_wiring

DEMO = ROOT / "demo_audio"
NETWORKS = ROOT / "tests" / "reference" / "networks"
SERVERS = ("demo", "serve")
"""Commands that run until they are stopped."""
AT_THE_RIG = ("coil", "coils", "jack", "fault", "verify", "sensitivity")
"""Commands that read what a rig recorded."""
STRUMS = "strums"
PLUCKS = "plucks"
LONG = ("listing", "range")
"""Commands whose examples take seconds each."""


def examples_in(text: str) -> Iterator[str]:
    """Return lines that start with ``presolder``, without the remark two blanks after them."""
    for line in text.splitlines():
        if line.strip().startswith("presolder "):
            yield re.split(r"\s{2,}", line.strip())[0]


def of_commands() -> list[tuple[str, str]]:
    found = [("presolder", example) for example in examples_in(EPILOG)]
    for name, (module, _) in COMMANDS.items():
        epilog = importlib.import_module(module).command.epilog or ""
        found += [(name, example) for example in examples_in(epilog)]
    return found


def of_readme() -> list[str]:
    """Return the calls in the README's shell blocks, however they name the program."""
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    calls = re.findall(r"(?:\S*/)?(presolder [^&|;\n]+)", "".join(blocks))
    return [call.strip() for call in calls]


@pytest.fixture(scope="session")
def readings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make what the examples of `presolder coil` read: recordings at a rig, and tables."""
    at = tmp_path_factory.mktemp("readings")
    bridge = coil_ohm(8120.0, 3.2, 120e-12, (0.5, 9000.0))
    parts = {"bridge": bridge, "open": opened, "short": shorted, "known": resistor(99_870.0)}
    for seed, (name, part) in enumerate(parts.items()):
        samples = Rig().record(part, make_tone(RATE_HZ, 4), seed)
        soundfile.write(at / f"{name}.wav", samples.T, RATE_HZ, subtype="PCM_24")
    hz = tone_lines()
    coils = (Coil(4100.0, 2.05, 97e-12), Coil(4250.0, 2.2, 102e-12))
    alone = dict(zip(("a", "b", "both"), housing_impedances(*coils, 0.16, hz), strict=True))
    for name, ohm in {**alone, "bridge": bridge(hz)}.items():
        rows = [f"{f:g},{z.real:.9g},{z.imag:.9g}" for f, z in zip(hz, ohm, strict=True)]
        (at / f"{name}.csv").write_text("\n".join(["f,re,im", *rows]), encoding="utf-8")
    _finished_guitar(at)
    (at / STRUMS).mkdir()
    _strummed_guitar(at / STRUMS)
    (at / PLUCKS).mkdir()
    _plucked_guitar(at / PLUCKS)
    return at


def _finished_guitar(at: Path) -> None:
    """Make what `jack` and `fault` read: a sound baritone, a recording, one with an open joint."""
    wiring = load_wiring(DEMO / "baritone.yaml")
    bare = replace(wiring, load=Load(0.0, amplifier_ohm=1e12, amplifier_f=0.0))
    ohms = [jack_reading_ohm(wiring, wiring.setting(one)) for one in wiring.positions]
    rows = [f"{one},meter,{ohm:.4g}" for one, ohm in zip(wiring.positions, ohms, strict=True)]
    (at / "readings.csv").write_text("\n".join(["setting,what,value", *rows]), encoding="utf-8")
    odd = "setting,what,value\n2,meter,4.6k\n4,meter,4.6k\n4,heard,thin\n"
    (at / "odd.csv").write_text(odd, encoding="utf-8")
    (at / "recorded.csv").write_text("setting,what,value\n1,recording,jack.wav\n", encoding="utf-8")

    excited = [
        f"{at},exciter neck_a,{level}" for at, level in zip("12", ("+ -40 dB", "+ -44.8 dB"), strict=True)
    ]
    excited += ["5,exciter neck_a,silent", "1,blade neck_a,+", "5,blade bridge_a,+"]
    (at / "excited.csv").write_text("\n".join(["setting,what,value", *excited]), encoding="utf-8")

    def jack_ohm(hz: Any) -> Any:
        return respond(bare, [wiring.setting("1")], hz.clip(1.0)).output_impedance_ohm[0]

    samples = Rig().record(jack_ohm, make_tone(RATE_HZ, 4), 9)
    soundfile.write(at / "jack.wav", samples.T, RATE_HZ, subtype="PCM_24")


def _strummed_guitar(at: Path) -> None:
    """Make what `verify` reads: strums of a sound twelve-string in its positions."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    settings = [wiring.setting(one) for one in wiring.positions] + [wiring.setting("1", {"tone": 0.0})]
    recordings = Bench(wiring, settings, 4, 320, hand="pick", strums=3).record_all(wiring, 321)
    for name, samples in zip(("neck", "both", "bridge", "dark"), recordings, strict=True):
        soundfile.write(at / f"{name}.wav", samples, RATE_HZ, subtype="PCM_24")


def _plucked_guitar(at: Path) -> None:
    """Make what `sensitivity` reads: two strings of a sound twelve-string, and an exciter over its coils."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    settings = [wiring.setting(one) for one in wiring.positions]
    guitar = build(wiring, settings, 322)
    for number in (6, 1):
        for k, name in enumerate(("n", "both", "b")):
            frets = [0 if 12 - index == number else None for index in range(12)]
            played = strum_stems(wiring, 322 + 10 * number + k, strums=3, frets=frets)
            samples = record(guitar, k, played, 322 + k)
            soundfile.write(at / f"{name}{number}.wav", samples, RATE_HZ, subtype="PCM_24")
    rows = ["coil,string,setting,recording"]
    for k, (coil, position) in enumerate((("neck", "1"), ("bridge", "3"))):
        setting, turns = wiring.setting(position), 2e-4 * wiring.coils[coil].winding

        def induced_h(hz: Any, k: int = k, setting: Any = setting, turns: float = turns) -> Any:
            return turns * respond(wiring, [setting], hz).coil[0, k]

        soundfile.write(at / f"over_{coil}.wav", record_transfer(induced_h, k).T, RATE_HZ, subtype="PCM_24")
        rows.append(f"{coil},,{position},over_{coil}.wav")
    (at / "over.csv").write_text("\n".join(rows), encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make the examples' files: the demo in the folder itself and in a clone's folder."""
    for target in (tmp_path, tmp_path / "demo_audio"):
        shutil.copytree(DEMO, target, dirs_exist_ok=True)
    wirings = tmp_path / "wirings"
    wirings.mkdir()
    for name in ("baritone.yaml", "twelve.yaml"):
        shutil.copy(DEMO / name, wirings)
    shutil.copy(DEMO / "e_slide.yaml", tmp_path / "riff.yaml")
    soundfile.write(tmp_path / "cabinet.wav", [0.9, 0.5, -0.2], RATE_HZ)
    (tmp_path / "riff.mid").write_bytes(midi(melody([47, 50, 54])))
    shutil.copy(NETWORKS / "baritone_two_jacks.yaml", tmp_path / "two_jacks.yaml")
    sketch = (DEMO / "baritone_sketch.yaml").read_text(encoding="utf-8")
    start, end = sketch.index("      1: "), sketch.index("  output:")
    two = "      1: neck_a + neck_b\n      2: bridge_a\n"
    rest = sketch[end:]
    rest = rest[: rest.index("labels:")] + rest[rest.index("load:") :]
    (tmp_path / "sketch.yaml").write_text(sketch[:start] + two + rest, encoding="utf-8")
    (tmp_path / "my-switch.yaml").write_text(
        "lugs: [A0, A1, A2, B0, B1, B2]\ncontacts: {1: [[A0, A1], [B0, B1]], 2: [[A0, A2], [B0, B2]]}\n",
        encoding="utf-8",
    )
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("platformdirs.user_data_dir", lambda *_, **__: str(tmp_path / "own data"))
    return tmp_path


def run(example: str, folder: Path) -> str:
    """Run an example as a shell would: quotes, file patterns, output into a file."""
    if " && " in example:
        return "".join(run(part, folder) for part in example.split(" && "))
    call, _, target = example.partition(" > ")
    program, *words = shlex.split(call)
    if program == "cd":
        os.chdir(words[0])  # the fixture goes back
        return ""
    assert program == "presolder"
    if words[0] in SERVERS:
        return served(words, folder)
    expanded = [path for word in words for path in (sorted(glob.glob(word)) or [word])]  # noqa: PTH207
    done = CliRunner().invoke(main, expanded, catch_exceptions=False)
    assert done.exit_code == 0, f"{example}: {done.output}"
    if target:
        (folder / target.strip()).write_text(done.stdout, encoding="utf-8")
    return done.stdout


def served(words: list[str], folder: Path) -> str:
    """Start a server by an example, query it, stop it, and return its output."""
    server = Running(folder / "data", folder / "server.log", tuple(words)).start("--port", "0")
    try:
        with urllib.request.urlopen(f"{server.url}/api/commissions") as answer:
            assert answer.status == 200
    finally:
        server.stop()
    return server.printed()


def timed() -> list[Any]:
    """Return the examples; all but a quick command's first are marked long."""
    found, seen = [], set(LONG)
    for command, example in of_commands():
        found.append(pytest.param(command, example, marks=[pytest.mark.long] if command in seen else []))
        seen.add(command)
    return found


@pytest.mark.parametrize(("command", "example"), timed(), ids=lambda value: value[:60])
def test_example_of_a_help_text(
    command: str, example: str, folder: Path, request: pytest.FixtureRequest
) -> None:
    if command in AT_THE_RIG:
        recorded = request.getfixturevalue("readings")
        own = {"verify": STRUMS, "sensitivity": PLUCKS}  # their bridge.wav is another than a coil's
        shutil.copytree(recorded / own.get(command, ""), folder, dirs_exist_ok=True)
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    printed = run(example, folder)
    after = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    assert printed or before != after, "an example does something"


@pytest.mark.parametrize("example", of_readme())
def test_example_of_the_readme(example: str, folder: Path) -> None:
    run(example, folder)
    assert len(list((folder / "clips").glob("*.wav"))) == 6
    assert (folder / "clips" / "clips.json").is_file()


def test_every_command_has_an_example() -> None:
    assert {command for command, _ in of_commands()} == {"presolder", *COMMANDS}
    assert of_readme()


def test_lines_of_other_programs_are_the_known_ones() -> None:
    """No test here runs `ngspice`; tests/reference runs it on the same netlist."""
    others = set()
    for module, _ in COMMANDS.values():
        epilog = importlib.import_module(module).command.epilog or ""
        lines = [line for line in epilog.splitlines() if re.match(r"  \S", line)]
        others |= {line.split()[0] for line in lines} - {"presolder"}
    assert others == {"ngspice"}
