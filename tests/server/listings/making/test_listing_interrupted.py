"""A run killed repeatedly, at any moment, ends in the result of an undisturbed one."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from listing_case import catalogue, content

from server.listings.making.folder import OWN

TIMES = 20
MORE = "formats: [flac, mp3]\nloudness: -26 LUFS\npositions: [1, 2, 5]"


def start(path: Path, *more: str) -> subprocess.Popen[str]:
    """Start the command as a person runs it."""
    words = [sys.executable, "-c", "from server.cli import main; main()", "listing", str(path), *more]
    return subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def finish(path: Path, *more: str) -> str:
    going = start(path, *more)
    printed, said = going.communicate(timeout=300)
    assert going.returncode == 0, said
    return printed


def whole_files(out: Path) -> None:
    """Assert that every file under its final name outside the run's own folder is whole."""
    for path in out.rglob("*"):
        if path.suffix in (".flac", ".mp3") and OWN not in path.parts:
            samples, _ = soundfile.read(path)
            assert len(samples) > 0
        if path.suffix == ".js":
            assert path.read_text().endswith('");\n')


@pytest.mark.long
def test_killed_twenty_times_at_random_and_resumed_it_equals_a_whole_run(tmp_path):
    """Signals that can be handled and one that cannot, in turn, at random moments."""
    (tmp_path / "whole").mkdir()
    (tmp_path / "killed").mkdir()
    how = {"instruments": 7, "takes": 2, "more": MORE, "tail_s": 1.0}
    finish(catalogue(tmp_path / "whole", **how), "--jobs", "2")
    path = catalogue(tmp_path / "killed", **how)
    rng = np.random.default_rng(20)
    endings = (signal.SIGKILL, signal.SIGINT, signal.SIGTERM)
    out, interrupted, files = path.parent / "out", 0, []
    for i in range(TIMES):
        going = start(path, "--json", "--jobs", str(1 + i % 2))
        interrupted += end_somewhere(going, endings[i % 3], rng)
        whole_files(out)
        files.append(len(list(out.rglob("*.flac"))))
    assert interrupted == TIMES
    assert files[0] < max(files)
    finish(path)
    assert content(out) == content(tmp_path / "whole" / "out")


def end_somewhere(going: subprocess.Popen[str], ending: signal.Signals, rng: np.random.Generator) -> bool:
    """Wait for some files and a random moment, then end a run; return whether it still worked."""
    assert going.stdout is not None
    files = int(rng.integers(0, 5))
    going.stdout.readline()
    while files and (line := going.stdout.readline()):
        files -= '"times_real_time": null' not in line
    time.sleep(float(rng.exponential(0.04)))
    at_work = going.poll() is None
    going.send_signal(ending)
    going.communicate(timeout=60)
    return at_work


def test_an_interrupt_says_that_the_work_stays(tmp_path):
    path = catalogue(tmp_path, instruments=6, more=MORE, tail_s=2.0)
    going = start(path, "--json", "--jobs", "2")
    assert going.stdout is not None
    assert '"event": "start"' in going.stdout.readline()
    going.send_signal(signal.SIGINT)
    _, said = going.communicate(timeout=60)
    assert going.returncode == 1
    assert "the same command goes on from there" in said
    assert "Traceback" not in said
    assert not (path.parent / "out" / OWN / "scratch").exists()


def test_parts_that_a_crash_left_are_cleared_away(tmp_path):
    path = catalogue(tmp_path, instruments=1, more=MORE)
    folder = path.parent / "out" / "baritone_000"
    (path.parent / "out" / OWN / "scratch").mkdir(parents=True)
    folder.mkdir()
    left = [folder / ".index.html.0123456789ab.part", path.parent / "out" / OWN / "scratch" / "3.f32"]
    for part in left:
        part.write_bytes(b"half")
    finish(path, "--jobs", "1")
    assert not [part for part in left if part.exists()]


@pytest.mark.long
def test_two_runs_at_once_on_one_folder_are_refused(tmp_path):
    path = catalogue(tmp_path, instruments=4, more=MORE, tail_s=2.0)
    first = start(path, "--json", "--jobs", "1")
    assert first.stdout is not None
    first.stdout.readline()
    second = start(path, "--jobs", "1")
    _, said = second.communicate(timeout=60)
    assert second.returncode == 1
    assert f"another run at work on this folder (process {first.pid})" in said
    assert "one run at a time" in said
    first.kill()
    first.communicate()
    finish(path, "--jobs", "1")  # the lock ends with its process, even a killed one
    assert (path.parent / "out" / OWN / "lock").read_text() == ""
