"""`presolder sensitivity`: what it prints and writes, and what it refuses, each in words."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from places import DEMO
from plucked_guitar import Player, Truth
from strummed import RATE_HZ

from server.cli import main
from server.verifying.sensitivity import sensitivity_lines
from server.wirings.text import load_wiring

FEWER = """    - {note: E2, gauge: 0.046 in, wound: true}
    - {note: D3, gauge: 0.026 in, wound: true}
"""
TRUTH = Truth(np.array([[0.0, 0.0], [5.0, 1.0]]), np.array([1.0, 1.0]))
SETTINGS = ("1:2", "2:2", "3:2", "1:1", "2:1", "3:1")
"""String 2 is the lower of the two."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a wiring of two strings, and recordings of a guitar whose bridge coil is louder."""
    folder = tmp_path_factory.mktemp("sensitivity")
    text = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
    start, end = text.index("    - {note: E2"), text.index("parts:")
    (folder / "guitar.yaml").write_text(text[:start] + FEWER + text[end:], encoding="utf-8")
    wiring = load_wiring(folder / "guitar.yaml")
    settings = [wiring.setting(position) for position in wiring.positions]
    for number, samples in enumerate(Player(wiring, settings, 3, 831).record_all(TRUTH, 831), 1):
        write(folder / f"r{number}.wav", samples)
    good = soundfile.read(folder / "r1.wav")[0]
    write(folder / "clipped.wav", np.clip(30.0 * good / np.abs(good).max(), -1.0, 1.0))
    write(folder / "short.wav", good[: 2 * RATE_HZ])
    write(folder / "zero.wav", 0.0 * good)
    hum = 0.01 * np.sin(2 * np.pi * 50 * np.arange(5 * RATE_HZ) / RATE_HZ)
    write(folder / "hum.wav", hum)
    write(folder / "same.wav", 0.5 * good)
    return folder


def write(path: Path, samples: np.ndarray) -> None:
    soundfile.write(path, np.clip(samples, -1.0, 1.0), RATE_HZ, subtype="PCM_24")


def call(folder: Path, *options: str, **instead: str) -> Result:
    """Read the recordings; some replaced by other files, by number."""
    words = [
        f"{folder / instead.get(f'r{number}', f'r{number}.wav')}={setting}"
        for number, setting in enumerate(SETTINGS, 1)
    ]
    return CliRunner().invoke(main, ["sensitivity", str(folder / "guitar.yaml"), *words, *options])


def test_values_are_found_and_written_with_day_and_method(made: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.yaml"
    shutil.copy(made / "guitar.yaml", out)
    done = call(made, "--json", "--reference", "neck", "--out", str(out))
    assert done.exit_code == 0, done.output
    record = json.loads(done.output)
    (coil,) = record["coils"]
    assert coil["coil"] == "bridge"
    assert coil["change_db"] == pytest.approx(3.0, abs=coil["within_db"])
    low, high = coil["interval"]
    assert low < 0.055 * 10 ** (3.0 / 20.0) < high
    assert [one["string"] for one in coil["balance"]] == [2, 1]
    assert coil["balance"][0]["change_db"] == pytest.approx(2.0, abs=coil["balance"][0]["within_db"])
    (pair,) = record["polarities"]
    assert (pair["wired"], pair["heard"]) == ("in phase", "in phase")
    assert record["cautions"]
    assert "simulated" in record["notes"][-2]
    told = "\n".join(sensitivity_lines(record))
    assert told.startswith("Heed:")
    assert "in phase, as the file says" in told
    assert "  bridge" in told
    assert "    string 2" in told
    assert "neck, string by string: its own sensitivity and balance stay" in told
    text = out.read_text(encoding="utf-8")
    assert "plucked strings, positions compared, against neck" in text
    written = load_wiring(out).coils["bridge"]
    assert written.sensitivity == pytest.approx(coil["sensitivity"], rel=5e-3)
    assert list(written.string_balance_db) == coil["string_balance"]
    assert load_wiring(out).coils["neck"] == load_wiring(made / "guitar.yaml").coils["neck"]
    again = call(made, "--reference", "neck", "--out", str(out))  # the file has them already
    assert again.exit_code == 1
    assert "bridge with other values" in again.output


def test_without_recordings_it_tells_what_to_record(made: Path) -> None:
    done = CliRunner().invoke(main, ["sensitivity", str(made / "guitar.yaml")])
    assert done.exit_code == 0
    assert "Heed:" in done.output
    lines = [line.strip() for line in done.output.splitlines() if line.startswith("  ")]
    assert {"1", "2", "3", "2 phase=2"} <= set(lines)
    plan = json.loads(CliRunner().invoke(main, ["sensitivity", str(made / "guitar.yaml"), "--json"]).output)
    assert set(plan["settings"]) >= {"1", "2", "3", "2 phase=2"}


@pytest.mark.parametrize(
    ("instead", "words"),
    [
        ("clipped.wav", "channel 1 is clipped"),
        ("short.wav", "2.0 s long"),
        ("zero.wav", "silence from start to end"),
        ("hum.wav", "no pluck over the noise"),
        ("same.wav", "the same sound as"),
        ("nothing.wav", "no such file"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(made: Path, instead: str, words: str) -> None:
    done = call(made, r2=instead)
    assert done.exit_code == 1
    assert words in done.output, done.output
    assert instead in done.output
    assert "Traceback" not in done.output


@pytest.mark.parametrize(
    ("setting", "words"),
    [("9:1", "9"), ("1:7", "1, the highest, to 2"), ("1:x", "1, the highest"), ("1 treble=3:1", "treble")],
)
def test_a_setting_or_string_that_is_not_there_is_refused(made: Path, setting: str, words: str) -> None:
    done = CliRunner().invoke(
        main, ["sensitivity", str(made / "guitar.yaml"), f"{made / 'r1.wav'}={setting}"]
    )
    assert done.exit_code == 1
    assert words in done.output


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--reference", "middle"), "allowed: neck, bridge"),
        (("--hand", "toe"), "thin pick"),
        (("--frets", "1"), "2 frets from 0"),
    ],
)
def test_wrong_options_are_refused_in_words(made: Path, options: tuple[str, ...], words: str) -> None:
    done = call(made, *options)
    assert done.exit_code == 2
    assert words in done.output


def test_one_recording_compares_with_nothing(made: Path) -> None:
    guitar, first = str(made / "guitar.yaml"), f"{made / 'r1.wav'}=1:2"
    one = CliRunner().invoke(main, ["sensitivity", guitar, first])
    assert one.exit_code == 1
    assert "two or more" in one.output
