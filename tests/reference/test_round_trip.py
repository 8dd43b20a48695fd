"""A score through one wiring; its clip as a recording through another, against the direct clip.

The direct clip is the reference: the string model hears every coil at its own place. The way round
knows the first clip alone: its pitch is tracked, its wiring divided out, the coils put in their places.
The magnets sense the strings evenly here: what a magnet adds in one place cannot be moved to another
(dsp/README.md says how much that is).
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO
from plucked_line import third_octaves_db
from tolerances import MOVED_PLACES_DB, SAME_PLACES_DB, TWIN_FACTOR

from server.cli import main

pytestmark = [pytest.mark.reference, pytest.mark.slow]

RATE_HZ = 48_000
LOWEST_HZ = 45.0
SCORE = """format: 1
name: Line
kind: score
tempo: 100
seed: 4
curvature: off
tail: 1 s
defaults: {force: 0.7, pluck_at: 130 mm}
events:
  - {beat: 0.2, string: 6, fret: 0, length: 0.9}
  - {beat: 1.2, string: 6, fret: 3, length: 0.45}
  - {beat: 1.7, string: 5, fret: 2, length: 0.45}
  - {beat: 2.2, string: 5, fret: 4, length: 0.9}
  - {beat: 3.2, string: 4, fret: 2, length: 0.45}
  - {beat: 3.7, string: 4, fret: 4, length: 0.45}
  - {beat: 4.2, string: 3, fret: 2, length: 0.45}
  - {beat: 4.7, string: 3, fret: 0, length: 0.9}
  - {beat: 5.7, string: 2, fret: 1, length: 0.45}
  - {beat: 6.2, string: 2, fret: 3, length: 0.45}
  - {beat: 6.7, string: 1, fret: 2, length: 0.9}
  - {beat: 7.7, string: 1, fret: 5, length: 1.5}
"""
POSITIONS = "123456"
Clips = dict[str, np.ndarray]


def render(folder: Path, take: str, *more: str) -> Clips:
    """Render a take through all positions of the demo baritone; return clips by position."""
    words = ["render", str(folder / "baritone.yaml"), "--take", str(folder / take)]
    out = folder / f"clips-{Path(take).stem}{'-'.join(more)}"
    done = CliRunner().invoke(main, [*words, "--out", str(out), *more], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    listed = json.loads((out / "clips.json").read_text())["clips"]
    return {entry["position"]: soundfile.read(out / entry["file"])[0] for entry in listed}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("round")
    shutil.copy(DEMO / "baritone.yaml", found)
    (found / "line.yaml").write_text(SCORE)
    return found


@pytest.fixture(scope="module")
def direct(folder: Path) -> Clips:
    return render(folder, "line.yaml")


def round_trip(folder: Path, position: str, line: str, knobs: str = "") -> Clips:
    """Render a position's clip again as a recording of that position."""
    name = f"from{position}-{line}.yaml"
    source = f"{{wiring: baritone.yaml, position: {position}}}"
    text = f"format: 1\nname: Round\nkind: mono\nsource: {source}\nline: {line}\n"
    (folder / name).write_text(f"{text}audio: clips-line/baritone-line-{position}.wav\n")
    return render(folder, name)


def furthest_db(got: np.ndarray, wanted: np.ndarray) -> float:
    """Return the largest difference of a third-octave band within 40 dB of the peak."""
    assert len(got) == len(wanted)
    differences, centres = third_octaves_db(got, wanted, RATE_HZ, LOWEST_HZ)
    assert len(centres) > 15
    return float(np.max(np.abs(differences)))


@pytest.mark.parametrize(
    "position", [POSITIONS[0], *(pytest.param(one, marks=pytest.mark.long) for one in POSITIONS[1:])]
)
def test_single_notes_move_to_every_other_position(folder: Path, direct: Clips, position: str) -> None:
    """Coil places move: each pair stays within the bar, and the own wiring returns the same clip."""
    back = round_trip(folder, position, "single")
    assert furthest_db(back[position], direct[position]) <= SAME_PLACES_DB
    for other in POSITIONS.replace(position, ""):
        assert furthest_db(back[other], direct[other]) <= MOVED_PLACES_DB, f"{position} to {other}"


@pytest.mark.parametrize("position", ["1", "6"])
def test_chords_are_the_same_through_the_same_coils(folder: Path, direct: Clips, position: str) -> None:
    """Without coil places the same coils come back; others miss by more than the bar for lines."""
    back = round_trip(folder, position, "chords")
    assert furthest_db(back[position], direct[position]) <= SAME_PLACES_DB
    others = [furthest_db(back[other], direct[other]) for other in POSITIONS.replace(position, "")]
    assert min(others) > MOVED_PLACES_DB  # measured 6 to 11 dB: the worth of places


def test_the_same_coils_with_the_tone_turned_down(folder: Path, direct: Clips) -> None:
    """Only the electrical side differs: the same coils, other knobs."""
    darker = render(folder, "line.yaml", "--set", "tone=3", "--position", "5")
    round_trip(folder, "5", "single")
    back = render(folder, "from5-single.yaml", "--set", "tone=3", "--position", "5")
    assert furthest_db(back["5"], darker["5"]) <= SAME_PLACES_DB
    assert furthest_db(direct["5"], darker["5"]) > 3.0  # the knob does something


def test_a_band_off_by_a_little_more_is_found(direct: Clips) -> None:
    """The twin: one octave raised by a little more than the tolerance."""
    spectrum = np.fft.rfft(direct["1"])
    freqs_hz = np.fft.rfftfreq(len(direct["1"]), 1.0 / RATE_HZ)
    for tolerance in (SAME_PLACES_DB, MOVED_PLACES_DB):
        raised = spectrum.copy()
        raised[(freqs_hz > 400.0) & (freqs_hz < 800.0)] *= 10.0 ** (TWIN_FACTOR * tolerance / 20.0)
        assert furthest_db(np.fft.irfft(raised, len(direct["1"])), direct["1"]) > tolerance
