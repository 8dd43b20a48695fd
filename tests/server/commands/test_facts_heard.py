"""How loud a position is on an amplifier: what `facts` computes against clips that are rendered so."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO
from tolerances import HEARD_LU

from dsp.sound.loudness import integrated_lufs
from server.cli import main

CHORDS = """format: 1
name: Three chords
kind: score
tempo: 120
courses: 6
tail: 1.5 s
events:
  - {beat: 0, frets: [0, 2, 2, 1, 0, 0], force: 0.5, spread: 10 ms}
  - {beat: 2, frets: [3, 2, 0, 0, 0, 3], force: 0.4, spread: 10 ms}
  - {beat: 4, frets: [x, 3, 2, 0, 1, 0], force: 0.5, spread: 10 ms, up: true}
"""


def said(*words: str) -> str:
    done = CliRunner().invoke(main, [*words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.mark.parametrize("name", ["baritone", "twelve"])
def test_levels_of_a_take_are_those_of_clips_rendered_through_clean(name: str, tmp_path: Path) -> None:
    """Each position is rendered as wired and through clean, and measured by the meter of BS.1770."""
    wiring, take = str(DEMO / f"{name}.yaml"), tmp_path / "chords.yaml"
    take.write_text(CHORDS, encoding="utf-8")
    facts = json.loads(said("facts", wiring, "--take", str(take), "--json"))["facts"]
    moved = []
    for way, fact in (("direct", "loudness_lufs"), ("clean", "clean_loudness_lufs")):
        out = tmp_path / way
        said("render", wiring, "--take", str(take), "-p", "all", "--through", way, "--out", str(out))
        clips = {one["position"]: one for one in json.loads((out / "clips.json").read_text())["clips"]}
        measured = [
            integrated_lufs(*soundfile.read(out / clip["file"])) - clip["gain_db"]
            for clip in (clips[one["position"]] for one in facts)
        ]
        told = [one["take"][fact] for one in facts]
        assert told == pytest.approx(measured, abs=HEARD_LU)
        moved.append([lufs - measured[0] for lufs in measured])
    assert max(abs(a - b) for a, b in zip(*moved, strict=True)) > 2.0, "clean moves the levels"


def test_the_text_tells_levels_as_wired_and_through_clean(tmp_path: Path) -> None:
    take = tmp_path / "chords.yaml"
    take.write_text(CHORDS, encoding="utf-8")
    text = said("facts", str(DEMO / "twelve.yaml"), "--take", str(take))
    assert "the same, below the loudest    -5.6 dB as wired, -0.6 LU through clean" in text
    assert "the take, below the loudest    0.0 LU as wired" in text
    assert "the same through clean" in text
    alone = said("facts", str(DEMO / "twelve.yaml"), "--take", str(take), "-p", "1")
    assert "LUFS as wired, 1 V as full scale" in alone
