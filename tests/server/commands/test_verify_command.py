"""`presolder verify`: what it prints, and what it refuses, each in words."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from numpy.typing import NDArray
from places import DEMO
from strummed import RATE_HZ, Bench, settings_of, with_leads_turned

from dsp.errors import InputError
from server.cli import main
from server.verifying.verdict import check_settings, settings_to_record
from server.wirings.text import load_wiring

Floats = NDArray[np.float64]
SETTINGS = ("1", "2", "3", "2 phase=2", "1 tone=0")
FEWER = """    - {note: E2, gauge: 0.046 in, wound: true}
    - {note: D3, gauge: 0.026 in, wound: true}
    - {note: E4, gauge: 0.010 in}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a wiring of three strings, and recordings of a sound guitar and of one with a fault."""
    folder = tmp_path_factory.mktemp("verify")
    text = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
    start, end = text.index("    - {note: E2"), text.index("parts:")
    (folder / "guitar.yaml").write_text(text[:start] + FEWER + text[end:], encoding="utf-8")
    wiring = load_wiring(folder / "guitar.yaml")
    bench = Bench(wiring, settings_of(wiring), 6, 310, hand="pick", strums=3)
    for name, built in (("sound", wiring), ("turned", with_leads_turned(wiring, "bridge"))):
        for number, samples in enumerate(bench.record_all(built, 311), 1):
            write(folder / f"{name}{number}.wav", samples)
    return folder


def write(path: Path, samples: Floats, rate_hz: int = RATE_HZ) -> None:
    soundfile.write(path, np.clip(samples, -1.0, 1.0), rate_hz, subtype="PCM_24")


def call(folder: Path, name: str, *options: str, **instead: str) -> Result:
    """Verify the recordings of one guitar; some replaced by other files, by number."""
    words = [
        f"{folder / instead.get(f'r{number}', f'{name}{number}.wav')}={setting}"
        for number, setting in enumerate(SETTINGS, 1)
        if instead.get(f"r{number}") != ""
    ]
    return CliRunner().invoke(main, ["verify", str(folder / "guitar.yaml"), *words, *options])


def test_a_sound_guitar_is_as_proposed_and_a_turned_coil_is_not(made: Path) -> None:
    sound = call(made, "sound")
    assert sound.exit_code == 0, sound.output
    assert sound.output.startswith("As proposed.")
    assert "10 of 10 pairs agree" in sound.output
    assert "; 4 of 7 planned settings recorded." in sound.output
    assert "These recordings cannot show: " in sound.output
    assert " more." in sound.output
    wrong = call(made, "turned", "--json")
    assert wrong.exit_code == 1
    record = json.loads(wrong.output)
    assert record["verdict"] == "not as proposed"
    assert record["probability_sound"] < 0.01
    assert any("bridge" in text for text in record["likely"][0]["causes"])
    assert len(record["pairs"]) == 10
    assert {len(one["heard_db"]) for one in record["pairs"]} == {len(record["bands_hz"])}
    assert "simulated" in record["notes"][0]


def test_without_recordings_it_tells_what_to_record() -> None:
    done = CliRunner().invoke(main, ["verify", str(DEMO / "baritone.yaml")])
    assert done.exit_code == 0
    assert "Heed:" in done.output
    lines = [line.split()[0] for line in done.output.splitlines() if line.startswith("  ")]
    assert {"1", "2", "3", "4", "5", "6"} <= set(lines)
    assert "tone=0" in done.output
    assert "volume=0" not in done.output  # nothing is heard there


@pytest.fixture(scope="module")
def hostile(made: Path) -> Path:
    """Make what people bring by mistake, beside the good ones."""
    good, rate_hz = soundfile.read(made / "sound1.wav")
    write(made / "short.wav", good[: 2 * rate_hz])
    write(made / "clipped.wav", np.clip(30.0 * good / np.abs(good).max(), -1.0, 1.0))
    write(made / "zero.wav", 0.0 * good)
    chance = np.random.default_rng(6)
    write(made / "hiss.wav", 0.1 * (good / np.abs(good).max() + 2.0 * chance.standard_normal(len(good))))
    write(made / "one_strum.wav", good[: round(2.2 * rate_hz)].tolist() + [0.0] * rate_hz)
    write(made / "louder.wav", 0.5 * good)
    other = np.stack([good, 0.5 * np.roll(good, 4000) + 0.1 * good**2], axis=1)
    write(made / "stereo.wav", other)
    write(made / "one_side.wav", np.stack([0.0 * good, good], axis=1))
    many = np.stack([good] * 3, axis=1)
    write(made / "three.wav", many)
    (made / "words.wav").write_text("no sound", encoding="utf-8")
    return made


@pytest.mark.parametrize(
    ("instead", "words"),
    [
        ("short.wav", "2.0 s long; allowed: 3 s or more"),
        ("clipped.wav", "channel 1 is clipped"),
        ("zero.wav", "silence from start to end"),
        ("one_strum.wav", "too few that ring"),
        ("stereo.wav", "two channels that differ"),
        ("three.wav", "3 channels"),
        ("words.wav", "not readable as sound"),
        ("nothing.wav", "no such file"),
    ],
)
def test_what_cannot_be_judged_is_refused_in_words(hostile: Path, instead: str, words: str) -> None:
    done = call(hostile, "sound", r1=instead)
    assert done.exit_code == 1
    assert words in done.output, done.output
    assert instead in done.output
    assert "Traceback" not in done.output


def test_the_same_recording_twice_is_refused(hostile: Path) -> None:
    done = call(hostile, "sound", r2="louder.wav")  # at another gain it is the same still
    assert done.exit_code == 1
    assert "the same sound as" in done.output


def test_a_missing_position_is_refused_unless_some_are_enough(made: Path) -> None:
    done = call(made, "sound", r3="")
    assert done.exit_code == 1
    assert "none of position 3" in done.output
    some = call(made, "sound", "--some", r3="")
    assert some.exit_code == 0, some.output


def test_a_setting_twice_and_a_wrong_one_are_refused(made: Path) -> None:
    guitar, first, second = (str(made / name) for name in ("guitar.yaml", "sound1.wav", "sound2.wav"))
    twice = CliRunner().invoke(main, ["verify", guitar, f"{first}=1", f"{second}=1", "--some"])
    assert twice.exit_code == 1
    assert "setting 1 again" in twice.output
    wrong = CliRunner().invoke(main, ["verify", guitar, f"{first}=7"])
    assert wrong.exit_code == 1
    assert "7" in wrong.output
    bare = CliRunner().invoke(main, ["verify", guitar, first])
    assert bare.exit_code == 2
    assert "RECORDING=POSITION" in bare.output


def test_one_side_silent_and_44100_hz_are_read(hostile: Path) -> None:
    import soxr

    for number in range(1, 6):
        samples, rate_hz = soundfile.read(hostile / f"sound{number}.wav")
        write(hostile / f"slow{number}.wav", soxr.resample(samples, rate_hz, 44_100), 44_100)
    done = call(hostile, "slow", r1="one_side.wav")
    assert done.exit_code == 0, done.output


def test_one_position_that_sounds_alone_is_told(hostile: Path) -> None:
    """All others are noise: whatever silences them is told, and the one that sounds has none to stand by."""
    chance = np.random.default_rng(7)
    for number in (1, 3, 4, 5):
        write(hostile / f"noise{number}.wav", 1e-3 * chance.standard_normal(4 * RATE_HZ))
    others = {f"r{number}": f"noise{number}.wav" for number in (1, 3, 4, 5)}
    done = call(hostile, "sound", **others)
    assert done.exit_code == 1
    assert "Traceback" not in done.output
    assert "Not as proposed." in done.output, done.output
    assert done.output.count("no strum is heard") == 4
    assert "none to compare with" in done.output


def test_a_position_that_is_off_is_neither_planned_nor_missed(made: Path) -> None:
    wiring = load_wiring(made / "guitar.yaml")
    lines = wiring_with_off((made / "guitar.yaml").read_text(encoding="utf-8"))
    (made / "off.yaml").write_text(lines, encoding="utf-8")
    killed = load_wiring(made / "off.yaml")
    assert killed.positions == (*wiring.positions, "4")
    assert "4" not in {one.position for one in settings_to_record(killed)}
    settings = [killed.setting(one) for one in ("1", "2", "3")]
    check_settings(killed, settings, ["a", "b", "c"], some=False)
    with pytest.raises(InputError, match="none of position 3"):
        check_settings(killed, settings[:2], ["a", "b"], some=False)


def wiring_with_off(text: str) -> str:
    """Add a position to the selector that joins nothing."""
    return text.replace("      3: [[C, B]]\n", "      3: [[C, B]]\n      4: []\n")


def test_a_recording_under_hiss_is_told(hostile: Path) -> None:
    done = call(hostile, "sound", r1="hiss.wav")
    assert done.exit_code == 1
    assert "over its noise" in done.output or "no strum is heard" in done.output, done.output


@pytest.mark.parametrize(
    ("frets", "good"), [("0 2 x", True), ("0 2", False), ("x x x", False), ("a b c", False)]
)
def test_the_chord_is_a_fret_for_every_string(made: Path, frets: str, good: bool) -> None:
    done = CliRunner().invoke(main, ["verify", str(made / "guitar.yaml"), "--frets", frets])
    assert done.exit_code == (0 if good else 2)
    assert good or "3 frets from 0 to 24" in done.output


def test_the_load_of_the_recording_counts(made: Path) -> None:
    """An input of 50 kΩ would dull the guitar; its levels are predicted otherwise."""
    records = [json.loads(call(made, "sound", "--json", *more).output) for more in ((), ("--input", "50k"))]
    first, second = (np.array(one["pairs"][0]["predicted_db"], float) for one in records)
    assert np.nanmax(np.abs(first - second)) > 0.3
