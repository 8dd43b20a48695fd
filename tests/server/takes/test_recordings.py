"""Recordings as takes: a channel per string, single lines, known sources, refusals and notes."""

from __future__ import annotations

import shutil
import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from places import DEMO
from plucked_line import LINE, Pluck, heard, third_octaves_db
from tolerances import STRINGS_DB

from dsp.errors import InputError, Problem
from dsp.parts.instrument import Instrument
from dsp.takes.model import COIL_PLACES_LEFT_OUT, COIL_PLACES_ONE_LINE, COIL_PLACES_TRACKED
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.takes.load import load_take
from server.wirings.text import load_wiring

RATE_HZ = 48_000
HEAD = "format: 1\nname: Test\n"
MONO = HEAD + "kind: mono\naudio: a.wav\nsource: flat\nline: single\n"
STRINGS = HEAD + "kind: strings\naudio: a.wav\nchannels: [3, 4]\n"
KNOWN = HEAD + "kind: mono\naudio: a.wav\nsource: {wiring: baritone.yaml, position: 6}\nline: single\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copy(DEMO / "baritone.yaml", tmp_path)
    tone = np.sin(2.0 * np.pi * 110.0 * np.arange(RATE_HZ // 2) / RATE_HZ)
    soundfile.write(tmp_path / "a.wav", np.stack([tone, tone], 1), RATE_HZ, subtype="FLOAT")
    return tmp_path


@pytest.fixture
def baritone() -> Wiring:
    return load_wiring(DEMO / "baritone.yaml")


def take(folder: Path, text: str) -> Performance:
    (folder / "take.yaml").write_text(text, encoding="utf-8")
    return load_take(folder / "take.yaml")


def stems(performance: Performance, wiring: Wiring) -> np.ndarray:
    return np.concatenate(list(performance.stems(wiring, RATE_HZ)), axis=1)


def refused(folder: Path, text: str, wiring: Wiring) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        stems(take(folder, text), wiring)
    return caught.value.problems


@pytest.mark.parametrize(
    ("text", "line", "got"),
    [
        (STRINGS.replace("[3, 4]", "[4]"), 5, "1 named, 2 in a.wav"),
        (STRINGS.replace("[3, 4]", "[3, low]"), 5, "'low'"),
        (STRINGS.replace("[3, 4]", "[4, 0]"), 5, "'0'"),
        (STRINGS.replace("[3, 4]", "[4, 4]"), 5, "'4' twice"),
        (STRINGS.replace("[3, 4]", "[4, 7]"), 5, "string 7"),
        (STRINGS + "at: 3 kg\n", 6, "3 kg"),
        (MONO + "strings: [9]\n", 7, "string 9"),
        (MONO + "strings: []\n", 7, "none"),
        (MONO.replace("single", "chords") + "strings: [1]\n", 7, "strings of chords"),
        (KNOWN.replace("baritone.yaml", "none.yaml"), 5, "no such file"),
        (KNOWN.replace("position: 6", "position: 9"), 5, "'9'"),
        (KNOWN.replace("position: 6", "knobs: {volum: 3}"), 5, "'volum'"),
        (KNOWN.replace("position: 6", "knobs: {volume: 11}"), 5, "'11'"),
        (KNOWN.replace("position: 6", "switches: {split: 1}"), 5, "'split'"),
        (KNOWN.replace("position: 6", "knobs: {volume: 0}"), 5, "no coil reaches the jack"),
        (KNOWN.replace("wiring: baritone.yaml, ", ""), 5, "no wiring"),
        (KNOWN.replace("position: 6", "pos: 6"), 5, "'pos'"),
    ],
)
def test_takes_that_cannot_be_used(folder: Path, baritone: Wiring, text: str, line: int, got: str) -> None:
    found = refused(folder, text, baritone)
    assert any(one.where.startswith(f"{folder / 'take.yaml'}:{line}") and got in one.got for one in found), (
        found
    )


def test_a_broken_source_file_is_reported_with_its_own_line(folder: Path, baritone: Wiring) -> None:
    path = folder / "baritone.yaml"
    path.write_text(path.read_text("utf-8").replace("4.1 kΩ", "4.1 kg"), encoding="utf-8")
    (problem,) = refused(folder, KNOWN, baritone)
    assert problem.where.startswith(f"{path}:")


def test_wirings_without_the_needed_fields(folder: Path) -> None:
    """No strings; a coil without a place, of the new wiring and of the source."""
    wiring = load_wiring(folder / "baritone.yaml")
    (problem,) = refused(folder, MONO, replace(wiring, instrument=Instrument(0.686)))
    where = f"{folder / 'baritone.yaml'}:1: instrument"
    assert (problem.got, problem.where) == ("an instrument without strings", where)
    path = folder / "baritone.yaml"
    path.write_text(path.read_text("utf-8").replace("    at: 176 mm\n", ""), encoding="utf-8")
    for text in (MONO, KNOWN):
        found = refused(folder, text, load_wiring(path))
        assert all(one.where.startswith(f"{path}:") and "no place" in one.got for one in found)
    take(folder, KNOWN.replace("single", "chords")).coil_places(load_wiring(path))


def test_tracked_recordings_end_at_ten_minutes(folder: Path, baritone: Wiring) -> None:
    quiet = np.tile(np.array([1, -1], np.int16), 601 * 4000)
    soundfile.write(folder / "a.wav", quiet, 8000, subtype="PCM_16")
    (problem,) = refused(folder, MONO, baritone)
    assert "10.0 minutes" in problem.got
    assert "up to 10 minutes" in problem.allowed


def test_a_channel_per_string_reaches_every_coil_at_its_place(folder: Path, baritone: Wiring) -> None:
    """Two strings sensed at the bridge: each coil gets the string's motion there, its sign and balance."""
    low = [Pluck(0.2, 0.6, 110.0), Pluck(0.8, 0.6, 110.0, 2), Pluck(1.4, 0.8, 110.0, 5)]
    high = [Pluck(0.3, 0.7, 146.832, 2), Pluck(1.0, 1.2, 146.832, 4)]
    coils = list(baritone.coils.values())
    places = [coil.at_m or 0.0 for coil in coils]
    lines = [heard(line, [0.0, *places], RATE_HZ) for line in (high, low)]
    n = min(line.shape[1] for line in lines)
    soundfile.write(folder / "a.wav", np.stack([line[0, :n] for line in lines], 1), RATE_HZ, subtype="FLOAT")
    performance = take(folder, STRINGS)
    shares: list[float] = []
    performance.prepare(baritone, RATE_HZ, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    got = stems(performance, baritone)
    assert performance.coil_places(baritone) == COIL_PLACES_TRACKED
    assert all("string" in text and "clear in" in text for text in performance.notes(baritone))
    heavy = string_weights()
    for k, coil in enumerate(coils):
        wanted = sum(heavy[c] * lines[c][k + 1, :n] for c in (0, 1)) * coil.string_sign * coil.sensitivity
        differences, _ = third_octaves_db(got[k], wanted, RATE_HZ, 90.0)
        assert np.max(np.abs(differences)) <= STRINGS_DB
        assert got[k] @ wanted > 0.95 * np.sqrt((got[k] @ got[k]) * (wanted @ wanted))


def string_weights() -> list[float]:
    """Signals of strings 3 and 4 re the mean of the set, from gauges by hand.

    A steel core of 0.29 mm and 0.12 of the gauge counts whole, a tenth of the round wire with it.
    """
    sections = []
    for inch, wound in ((0.062, 1), (0.045, 1), (0.034, 1), (0.024, 1), (0.018, 0), (0.014, 0)):
        gauge_mm = 25.4 * inch
        core_mm2 = np.pi / 4.0 * ((0.29 + 0.12 * gauge_mm) if wound else gauge_mm) ** 2
        sections.append(core_mm2 + 0.1 * np.pi / 4.0 * (np.pi / 4.0 * gauge_mm**2 - core_mm2) * wound)
    return [float(sections[index] / np.mean(sections)) for index in (3, 2)]


def test_a_sensor_elsewhere_is_moved_too(folder: Path, baritone: Wiring) -> None:
    """A flat sensor at 12 mm: its own mild comb is removed."""
    coils = list(baritone.coils.values())
    line = heard(LINE[1:3], [0.012, coils[3].at_m or 0.0], RATE_HZ)
    soundfile.write(folder / "a.wav", line[0], RATE_HZ, subtype="FLOAT")
    got = stems(take(folder, STRINGS.replace("[3, 4]", "[4]") + "at: 12 mm\n"), baritone)
    wanted = coils[3].string_sign * line[1]
    gains = got[3] @ wanted / np.sqrt((got[3] @ got[3]) * (wanted @ wanted))
    assert gains > 0.99


def test_silence_stays_silence_and_nothing_clicks(folder: Path, baritone: Wiring) -> None:
    line = heard(LINE[:3], [0.05], RATE_HZ)[0]
    samples = np.concatenate([np.zeros(RATE_HZ), line, np.zeros(RATE_HZ)])
    soundfile.write(folder / "a.wav", samples, RATE_HZ, subtype="FLOAT")
    got = stems(take(folder, MONO), baritone)
    peak = np.max(np.abs(got))
    assert np.max(np.abs(got[:, : RATE_HZ - 9000])) < 1e-9 * peak
    assert np.max(np.abs(got[:, -RATE_HZ + 9000 :])) < 1e-9 * peak
    # where a note fades into noise, no step: nothing above the line's own level there
    rough, smooth = np.abs(np.diff(got[0], 6)), np.abs(np.diff(samples, 6))
    end = slice(RATE_HZ + len(line) - RATE_HZ // 2 + 480, RATE_HZ + len(line) + 9000)
    assert np.max(rough[end]) / np.max(rough) <= np.max(smooth[end]) / np.max(smooth) + 1e-4


def test_the_demo_recording_as_a_single_line(baritone: Wiring) -> None:
    """Slides of an unknown guitar: they sound, and the notes state the tracked share."""
    performance = load_take(DEMO / "e_slide.yaml")
    got = stems(performance, baritone)
    assert got.shape == (4, performance.frames(RATE_HZ))
    assert np.all(np.isfinite(got))
    assert performance.coil_places(baritone) == COIL_PLACES_ONE_LINE
    remarks = performance.notes(baritone)
    assert any("pitch clear in" in text and "%" in text for text in remarks)
    assert any("where it lies lowest" in text for text in remarks)


def test_noise_gets_no_places(folder: Path, baritone: Wiring) -> None:
    tone = np.sin(2.0 * np.pi * 3000.0 * np.arange(RATE_HZ) / RATE_HZ)
    soundfile.write(folder / "a.wav", tone * np.hanning(len(tone)), RATE_HZ, subtype="FLOAT")
    performance = take(folder, MONO + "strings: [6]\n")
    assert performance.coil_places(baritone).startswith(COIL_PLACES_LEFT_OUT)
    assert stems(performance, baritone).shape[1] == RATE_HZ


def test_the_limits_of_a_source_are_noted(folder: Path, baritone: Wiring) -> None:
    """Boost and its limit, no signal above the steps of 16 bits, averaged channels."""
    line = heard(LINE[:2], [0.04], RATE_HZ)[0]
    dark = np.convolve(line, np.hanning(401) / 200.0)[: len(line)]
    soundfile.write(folder / "a.wav", np.stack([dark, dark], 1) * 0.1, RATE_HZ, subtype="PCM_16")
    performance = take(folder, KNOWN.replace("position: 6", "position: 6, knobs: {tone: 0}"))
    remarks = " / ".join(performance.notes(baritone))
    assert "raised by up to" in remarks
    assert "no more than 40 dB" in remarks
    assert "no signal above its noise" in remarks
    assert any("2 channels of a.wav are averaged" in text for text in performance.warnings)


def test_long_chords_do_not_fill_the_memory(folder: Path, baritone: Wiring) -> None:
    samples = np.random.default_rng(5).standard_normal(120 * 8000) * 0.1
    soundfile.write(folder / "a.wav", samples, 8000, subtype="PCM_16")
    performance = take(folder, KNOWN.replace("single", "chords"))
    count, square = 0, 0.0
    tracemalloc.start()
    try:
        for block in performance.stems(baritone, RATE_HZ):
            count += block.shape[1]
            square += float(np.sum(block[3] ** 2))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert count == 120 * RATE_HZ
    assert square > 0.0
    assert peak < 60e6  # the four stems whole would be 184 MB
    assert performance.coil_places(baritone) == COIL_PLACES_LEFT_OUT
