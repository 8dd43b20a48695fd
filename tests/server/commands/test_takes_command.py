"""`presolder takes`: the takes it finds, what it reports, and unusable files."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from places import DEMO

from server.cli import main
from server.commands import takes as command
from server.takes.load import load_take

SCORES = sorted(path.name for path in DEMO.glob("*.yaml") if "kind: score" in path.read_text("utf-8"))
SCORE = "format: 1\nname: One\nkind: score\ntempo: 120\ntail: 1 s\nevents: [{beat: 2, string: 1}]\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str, status: int = 0) -> Result:
    done = CliRunner().invoke(main, ["takes", *words], catch_exceptions=False)
    assert done.exit_code == status, done.output
    return done


def listed(*words: str, status: int = 0) -> list[dict[str, object]]:
    found: list[dict[str, object]] = json.loads(run(*words, "--json", status=status).stdout)["takes"]
    return found


def test_by_default_it_lists_the_demos_and_this_folders(folder: Path) -> None:
    (folder / "mine.yaml").write_text(SCORE, encoding="utf-8")
    found = listed()
    names = [Path(str(one["file"])).name for one in found]
    assert names == [*sorted([*SCORES, "e_slide.yaml"]), "mine.yaml"]
    assert len(SCORES) >= 7
    assert not {"baritone.yaml", "twelve.yaml", "baritone_sketch.yaml"} & set(names)


def test_in_the_demos_own_folder_each_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(DEMO)
    files = [str(one["file"]) for one in listed()]
    assert len(files) == len(set(files)) == len(SCORES) + 1


def test_each_take_is_described(folder: Path) -> None:
    (folder / "mine.yaml").write_text(SCORE, encoding="utf-8")
    text = run("mine.yaml").stdout
    assert (
        text
        == "mine.yaml\n  One: score, 2.0 s; coil places: "
        + load_take(Path("mine.yaml")).take.coil_places
        + "\n"
    )
    (one,) = listed("mine.yaml")
    assert one == {
        "file": "mine.yaml",
        "name": "One",
        "kind": "score",
        "seconds": 2.0,
        "coil_places": "modelled: every coil hears the string at its own place",
        "verdict": [],
        "notes": [],
        "warnings": [],
    }


def test_a_line_is_told_stretch_by_stretch(folder: Path) -> None:
    slide = str(DEMO / "e_slide.yaml")
    (one,) = listed(slide)
    *stretches, octaves = one["verdict"]
    assert stretches[0].startswith("0.0 to ")
    assert stretches[0].endswith("one note at a time")
    assert all(" s: " in text for text in stretches)
    assert "octave or a twelfth" in octaves
    assert octaves in run(slide).stdout


def test_a_folder_and_files_together(folder: Path) -> None:
    shutil.copytree(DEMO, folder / "demo")
    soundfile.write("loud.wav", np.clip(3.0 * np.sin(np.arange(9600) / 9.0), -1, 1), 48_000)
    found = listed("demo", "loud.wav")
    assert len(found) == len(SCORES) + 2
    assert (found[-1]["kind"], found[-1]["seconds"]) == ("mono", 0.2)
    assert "clip" in str(found[-1]["warnings"]).lower()
    assert "note: " in run("loud.wav").stdout


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (SCORE.replace("string: 1", "string: 0"), "broken.yaml:6: event: string: got '0'"),
        (SCORE.replace("kind: score", "kind: scroe"), "broken.yaml:3: kind: got 'scroe'"),
        (SCORE.replace("kind: score", "kind: [score]"), "broken.yaml:3: kind: got a list of 1"),
        (SCORE + "tempo: 100\n", "broken.yaml:7: got 'tempo' again"),
        (SCORE.replace("}]", "]"), "broken.yaml:"),
    ],
    ids=["event", "kind", "kind no word", "twice", "no YAML"],
)
def test_a_broken_take_is_reported_and_the_others_listed(folder: Path, text: str, message: str) -> None:
    """The same within a folder: a slip must not make a take vanish from the list."""
    (folder / "here").mkdir()
    (folder / "here" / "broken.yaml").write_text(text, encoding="utf-8")
    (folder / "here" / "good.yaml").write_text(SCORE, encoding="utf-8")
    done = run("here", status=1)
    assert message in done.stderr
    assert "allowed: " in done.stderr
    assert "here/good.yaml\n  One: score" in done.stdout
    bad, good = listed("here", status=1)
    assert message in str(bad["problems"])
    assert good["kind"] == "score"


def test_files_that_are_not_takes_are_skipped(folder: Path) -> None:
    here = folder / "here"
    (here / "sub.yaml").mkdir(parents=True)
    (here / "wiring.yaml").write_text(
        "format: 1\nparts:\n  a: {kind: pot, resistance: 1 kΩ}\n", encoding="utf-8"
    )
    (here / "list.yaml").write_text("- kind: score\n", encoding="utf-8")
    (here / "binary.yaml").write_bytes(bytes(range(256)))
    (here / "text.txt").write_text(SCORE, encoding="utf-8")
    assert run("here").stdout == ""
    (here / "upper.YML").write_text(SCORE, encoding="utf-8")
    assert [Path(str(one["file"])).name for one in listed("here")] == ["upper.YML"]


def test_an_empty_folder_says_so(folder: Path) -> None:
    (folder / "empty").mkdir()
    done = run("empty")
    assert done.stdout == ""
    assert done.stderr == "no takes in empty\n"
    assert listed("empty") == []


def test_missing_places_are_reported(folder: Path) -> None:
    done = run("gone.yaml", "gone", status=1)
    assert done.stdout == ""
    assert "gone.yaml: got" in done.stderr
    assert done.stderr.count("allowed: ") == 2


def test_a_folder_that_cannot_be_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "locked").mkdir()

    def refuse(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    refused = "locked: got permission denied; allowed: a folder that can be read"
    assert refused in run("locked", status=1).stderr


def test_the_demos_takes_have_no_problem_and_no_warning() -> None:
    assert all(
        one["name"] and one["seconds"] and not one["warnings"]
        for one in listed(str(DEMO))
        if one["kind"] == "score"
    )
    assert command.demo_folder() == DEMO


def test_a_tone_that_is_written_as_a_line_is_told(folder: Path) -> None:
    tone = 0.5 * np.sin(2.0 * np.pi * 3000.0 * np.arange(16_000) / 16_000)
    soundfile.write(folder / "tone.wav", tone, 16_000)
    text = "format: 1\nname: Tone\nkind: mono\naudio: tone.wav\nsource: flat\nline: single\n"
    (folder / "tone.yaml").write_text(text, encoding="utf-8")
    want = "not modelled: electrical voicing only (no note of a string)"
    assert f"coil places: {want}" in run("tone.yaml").stdout
    assert listed("tone.yaml")[0]["coil_places"] == want
