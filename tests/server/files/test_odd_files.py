"""Unusual files: pipes, folders, names that are not text, line ends, modes."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO

from dsp.errors import InputError
from server.cli import main
from server.files.whole import write_bytes
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText, load_wiring

ODD = os.fsdecode(b"b\xe4riton")
"""A file name in an old code page, not UTF-8."""


def presolder(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    """Run the command as its own process, with a time limit."""
    return subprocess.run(
        [sys.executable, "-c", "from server.cli import main; main()", *map(str, words)],
        cwd=cwd, capture_output=True, timeout=60, check=False,
        env={**os.environ, "PYTHONPATH": str(DEMO.parent), "LC_ALL": "C.UTF-8"},
    )  # fmt: skip


@pytest.mark.parametrize("words", [("check",), ("response",), ("facts",), ("netlist",)])
def test_a_pipe_is_not_a_file(tmp_path: Path, words: tuple[str, ...]) -> None:
    """Nobody writes into it: opening it would wait for ever."""
    os.mkfifo(tmp_path / "pipe.yaml")
    done = presolder(*words, "pipe.yaml", cwd=tmp_path)
    assert done.returncode == 1
    assert b"a pipe or device" in done.stdout + done.stderr


def test_a_pipe_is_neither_a_take_nor_a_list(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    wiring = DEMO / "baritone.yaml"
    done = presolder("render", wiring, "--take", "pipe.wav", "--out", "out", cwd=tmp_path)
    assert (done.returncode, b"pipe.wav" in done.stderr) == (1, True)
    soundfile.write(tmp_path / "a.wav", 0.1 * np.ones(4800), 48_000)
    (tmp_path / "out").mkdir(exist_ok=True)
    os.mkfifo(tmp_path / "out" / "clips.json")
    done = presolder("render", wiring, "--take", "a.wav", "-p", "1", "--out", "out", cwd=tmp_path)
    assert done.returncode == 0
    assert len(json.loads((tmp_path / "out" / "clips.json").read_text(encoding="utf-8"))["clips"]) == 1
    assert (tmp_path / "out" / "clips.unreadable-1.json").is_fifo()  # put aside, not replaced


@pytest.mark.parametrize("words", [("response", "--svg"), ("set", "volume.resistance=250k", "--out")])
def test_a_pipe_is_not_replaced_by_a_file(tmp_path: Path, words: tuple[str, ...]) -> None:
    """Renaming over it would replace it, or destroy a device."""
    os.mkfifo(tmp_path / "pipe")
    command, *more = words
    done = presolder(command, DEMO / "baritone.yaml", *more, "pipe", cwd=tmp_path)
    assert done.returncode == 1
    assert b"a pipe, a device or a socket" in done.stderr
    assert (tmp_path / "pipe").is_fifo()
    assert [path.name for path in tmp_path.iterdir()] == ["pipe"]


def test_names_that_are_not_utf8(tmp_path: Path) -> None:
    """Every command escapes their odd bytes; JSON reads back as the name."""
    file = tmp_path / f"{ODD}.yaml"
    file.write_bytes((DEMO / "baritone.yaml").read_bytes())
    (tmp_path / f"{ODD}2.yaml").write_text("format: 2\n")
    assert presolder("check", f"{ODD}.yaml", cwd=tmp_path).returncode == 0
    found = json.loads(presolder("check", f"{ODD}.yaml", "--json", cwd=tmp_path).stdout)
    assert found["files"][0]["file"] == f"{ODD}.yaml"
    done = presolder("check", f"{ODD}2.yaml", cwd=tmp_path)
    assert done.returncode == 1
    assert b"\\udce4riton2.yaml:1" in done.stdout
    soundfile.write(os.fsencode(tmp_path / f"{ODD}.wav"), 0.1 * np.ones(4800), 48_000, format="WAV")
    options = ["--format", "wav", "--format", "flac", "--format", "mp3", "-p", "1"]
    done = presolder("render", f"{ODD}.yaml", "--take", f"{ODD}.wav", *options, "--out", ODD, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    clips = json.loads((tmp_path / ODD / "clips.json").read_text(encoding="utf-8"))["clips"]
    assert [entry["wiring_file"] for entry in clips] == [f"{ODD}.yaml"] * 3
    assert all((tmp_path / ODD / entry["file"]).is_file() for entry in clips)


def test_set_keeps_the_line_ends_and_the_mode(tmp_path: Path) -> None:
    """A file as some editors write it, readable by its group only."""
    file = tmp_path / "w.yaml"
    lines = (DEMO / "baritone.yaml").read_bytes().replace(b"\n", b"\r\n")
    file.write_bytes(lines)
    file.chmod(0o640)
    assert CliRunner().invoke(main, ["set", str(file), "tone_cap.capacitance=33 nF"]).exit_code == 0
    after = file.read_bytes()
    assert after.count(b"\r\n") == after.count(b"\n") == lines.count(b"\n")
    assert b"33 nF" in after
    assert len(after) - len(lines) < 20
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert load_wiring(file).coils


@pytest.mark.parametrize("mode", [0o600, 0o664, 0o755, 0o444])
def test_a_file_written_anew_keeps_its_mode(tmp_path: Path, mode: int) -> None:
    file = tmp_path / "a"
    file.write_bytes(b"old")
    file.chmod(mode)
    write_bytes(file, b"new")
    assert (file.read_bytes(), stat.S_IMODE(file.stat().st_mode)) == (b"new", mode)


def test_plain_line_ends_stay_plain() -> None:
    text = (DEMO / "baritone.yaml").read_text(encoding="utf-8")
    assert "\r" not in WiringText(text, "w.yaml").dump()


@pytest.mark.parametrize(
    ("text", "got", "advice"),
    [
        ("format: 1\nparts:\n\ta: b\n", "a tab", "spaces"),
        ("format: 1\nparts:\n  a: b\n c: d\n", "a line indented unlike those above it", "right below"),
        ("joints:\n- [a, b]\n  - [c]\n", "a line indented unlike those above it", "right below"),
        ("a:b\nc: d\n", "a colon where none can stand", "space missing"),
        ("a: [b\nc: d\n", "a list or map in brackets that does not end", "missing"),
        ("a: 'x\nb: c\n", "a quote that does not end", "quote"),
        ("a: @x\n", "a sign that no value starts with", "in quotes"),
    ],
)
def test_slips_of_yaml_in_plain_words(text: str, got: str, advice: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_tree(text, "w.yaml")
    (problem,) = caught.value.problems
    assert problem.got == got
    assert advice in f"{problem.allowed} {problem.hint}"


def test_a_missing_file_reads_as_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        load_wiring(tmp_path / "none.yaml")
    assert str(caught.value).endswith(
        "none.yaml: got no such file or directory; allowed: a file that can be read"
    )
    with pytest.raises(InputError, match="got a folder; allowed: a text file"):
        load_wiring(tmp_path)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    "words", [("parts",), ("check", "baritone.yaml"), ("response", "twelve.yaml", "--json")]
)
def test_a_full_disk_behind_the_output_is_one_sentence(words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-c", "from server.cli import main; main()", *words],
            cwd=DEMO, stdout=full, stderr=subprocess.PIPE, timeout=60, check=False,
            env={**os.environ, "PYTHONPATH": str(DEMO.parent)},
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.count(b"\n") == 1
    assert b"No space left" in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_wiring_that_may_not_be_read_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The superuser may read everything, so the test makes the refusal itself."""

    def refuse(*given: object, **more: object) -> None:
        raise PermissionError(13, "Permission denied", "a.yaml")

    monkeypatch.setattr("server.commands.common.load", refuse)
    done = CliRunner().invoke(main, ["netlist", str(DEMO / "twelve.yaml")])
    assert done.exit_code == 1
    assert "a.yaml: Permission denied" in done.output
