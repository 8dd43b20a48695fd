"""`presolder render` of a score: the record describes the take, and the positions differ."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO
from tolerances import POSITIONS_DIFFER_DB

from server.cli import main
from server.files.tags import read_tags

SCORE = (
    "format: 1\nname: Notes\nkind: score\ntempo: 120\ncourses: 6\ntail: 0.6 s\n"
    "events:\n  - {beat: 0, frets: [0, 2, 2, 1, 0, 0], force: 0.45}\n  - {beat: 1, string: 1, fret: 5}\n"
)
PLACES = "modelled: every coil hears the string at its own place"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "notes.yaml").write_text(SCORE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def rendered(wiring: Path, *more: str) -> list[dict[str, Any]]:
    words = ["render", str(wiring), "--take", "notes.yaml", "--out", "out", *more]
    done = CliRunner().invoke(main, words, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    clips: list[dict[str, Any]] = json.loads(Path("out/clips.json").read_text("utf-8"))["clips"]
    return clips


def test_the_six_positions_of_the_baritone_differ() -> None:
    """They differ in the wave and in timbre: each pair is still apart at equal level."""
    clips = rendered(DEMO / "baritone.yaml")
    assert [clip["position"] for clip in clips] == list("123456")
    assert {clip["coil_places"] for clip in clips} == {PLACES}
    assert all(clip["design_error"]["meets_contract"] and clip["loudness_lufs"] is not None for clip in clips)
    assert all(clip["warnings"] == [] for clip in clips)
    waves = [soundfile.read(f"out/{clip['file']}")[0] for clip in clips]
    assert {len(wave) for wave in waves} == {round(1.1 * 48_000)}
    scaled = [wave / np.sqrt(np.mean(wave**2)) for wave in waves]
    for i, one in enumerate(scaled):
        for other in scaled[:i]:
            left = min(np.mean((one - sign * other) ** 2) for sign in (1.0, -1.0))
            assert 10.0 * np.log10(left) > POSITIONS_DIFFER_DB


def test_every_position_sounds_from_its_first_note_to_its_end() -> None:
    for clip in rendered(DEMO / "baritone.yaml"):
        wave, _ = soundfile.read(f"out/{clip['file']}")
        assert np.max(np.abs(wave[:2400])) > 0.05 * np.max(np.abs(wave))
        assert np.max(np.abs(wave[-48:])) < 1e-3 * np.max(np.abs(wave)), "the end breaks off"


def test_strings_that_had_to_be_assumed_are_recorded(folder: Path) -> None:
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    start, end = text.index("  strings:"), text.index("parts:")
    (folder / "bare.yaml").write_text(text[:start] + text[end:], encoding="utf-8")
    (clip,) = rendered(folder / "bare.yaml", "-p", "1")
    assert clip["warnings"] == ["the wiring names no strings: E2 A2 D3 G3 B3 E4 on 686 mm are assumed"]


def test_tensions_that_no_string_holds_are_recorded(folder: Path) -> None:
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    assert "note: B3" in text
    (folder / "tight.yaml").write_text(text.replace("note: B3", "note: B4"), encoding="utf-8")
    (clip,) = rendered(folder / "tight.yaml", "-p", "1")
    (warning,) = [text for text in clip["warnings"] if text.startswith("string 1 (B4, ")]
    assert "N/mm² in the steel, which breaks near" in warning
    (folder / "slack.yaml").write_text(text.replace("note: B3", "note: B2"), encoding="utf-8")
    (clip,) = [
        one for one in rendered(folder / "slack.yaml", "-p", "1") if one["wiring_file"] == "slack.yaml"
    ]
    assert "is slack: below 25 N a string rattles" in str(clip["warnings"])


def test_the_tags_say_where_the_coils_places_come_from() -> None:
    (clip,) = rendered(DEMO / "twelve.yaml", "-p", "2", "--format", "flac")
    tags = read_tags(Path("out") / clip["file"], "flac")
    assert tags["coil_places"] == PLACES
    assert tags["take"] == "Notes"


def test_a_score_that_does_not_fit_the_wiring_is_refused_before_any_clip(folder: Path) -> None:
    (folder / "notes.yaml").write_text(
        SCORE.replace("courses: 6\n", "").replace("string: 1,", "string: 9,"), encoding="utf-8"
    )
    words = ["render", str(DEMO / "baritone.yaml"), "--take", "notes.yaml", "--out", "out"]
    done = CliRunner().invoke(main, words, catch_exceptions=False)
    assert done.exit_code == 1
    assert "notes.yaml:8: string: got 9; allowed: 1 to 6 on this instrument" in done.stderr
    assert not list(folder.glob("out/*.wav"))
