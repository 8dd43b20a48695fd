"""The string model's speed and memory: 12 s, 40 notes, 4 coils, on one core.

Compared with the plain way, a loop over modes: over modes and samples in Python, and over modes with
numpy along the samples. Both are measured on a part of the same work and scaled by mode-samples.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from benchmarks.timing import best_s
from places import ROOT

from dsp.strings.curvature import Curvature
from dsp.strings.modes import mode_emfs, mode_rates, modes_of
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.strings.ring import lifetimes_s
from dsp.strings.tuned import tune
from server.wirings.text import load_wiring

pytestmark = pytest.mark.benchmark

RATE_HZ, SECONDS, N_NOTES = 48_000, 12, 40
BAR_S, BAR_TIMES = 3.0, 20.0
SLACK = 0.5


@pytest.fixture(scope="module")
def stage() -> Setup:
    wiring = load_wiring(ROOT / "demo_audio" / "baritone.yaml")
    assert wiring.instrument is not None
    strings = [tune(string, wiring.instrument.scale_m) for string in wiring.instrument.strings]
    return Setup(strings, list(wiring.coils.values()), RATE_HZ, Curvature())


def notes() -> list[Note]:
    """Pluck every string in turn, audibly; each note rings until its string is plucked again."""
    again_s = [0.28 * (i + 6) if i + 6 < N_NOTES else None for i in range(N_NOTES)]
    return [Note(i % 6, 0.28 * i, fret=(3 * i) % 8, again_s=again_s[i], noises=i) for i in range(N_NOTES)]


def mode_samples(stage: Setup) -> float:
    """Return modes times their samples over all notes and coils: the work of a plain loop."""
    total = 0.0
    for note in notes():
        string = stage.strings[note.string]
        modes = modes_of(note, string, RATE_HZ)
        length_m = note.length_m(string.length_m)
        at_rest = mode_rates(modes, note, string, length_m)
        rows = mode_emfs(modes, string, note.string, stage.coils, length_m)
        most_s = (note.again_s or float(SECONDS)) - note.start_s
        total += float(np.minimum(lifetimes_s(at_rest, rows), most_s).sum()) * RATE_HZ * len(stage.coils)
    return total


def python_s() -> float:
    """Return the seconds per mode-sample of a loop in Python."""
    n = 20_000
    start = time.perf_counter()
    total = [0.0] * n
    for i in range(n):
        time_s = i / RATE_HZ
        total[i] += 0.1 * math.exp(-2.0 * time_s) * math.sin(2000.0 * time_s)
    return (time.perf_counter() - start) / n


def numpy_s() -> float:
    """Return the seconds per mode-sample of a loop over modes, with numpy along the samples."""
    time_s, out = np.arange(2 * RATE_HZ) / RATE_HZ, np.zeros(2 * RATE_HZ)

    def work() -> None:
        for mode in range(20):
            out[:] += 0.1 * np.exp(-2.0 * time_s) * np.sin(2000.0 * (mode + 1) * time_s)

    return best_s(work, times=3) / (20 * len(time_s))


def test_stems_of_a_take(stage: Setup, record) -> None:
    played = notes()
    ours_s = best_s(lambda: list(perform(played, stage, SECONDS * RATE_HZ)), times=3)
    visited = mode_samples(stage)
    by_numpy, by_python = numpy_s() * visited / ours_s, python_s() * visited / ours_s
    record(
        f"stems of {SECONDS} s, {N_NOTES} notes, 4 coils",
        f"{ours_s:.2f} s; {by_numpy:.0f} x a numpy loop over modes, {by_python:.0f} x one over samples too",
        f"<= {BAR_S:.0f} s, >= {BAR_TIMES:.0f} x",
    )
    assert by_numpy >= SLACK * BAR_TIMES
    assert by_python >= BAR_TIMES


BEFORE = "2e78d94"
"""The commit before strings glided and magnets bent their sound: linear, two planes."""
BAR_BEFORE = 1.6
PLAYED = """
import sys, time
from pathlib import Path
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.strings.tuned import tune
from server.wirings.text import load_wiring
wiring = load_wiring(Path("demo_audio/baritone.yaml"))
strings = [tune(string, wiring.instrument.scale_m) for string in wiring.instrument.strings]
bent, heard = (), [{} for _ in range(40)]
if "now" in sys.argv:
    from dsp.strings.curvature import Curvature
    bent, heard = (Curvature(),), [{"noises": i} for i in range(40)]
stage = Setup(strings, list(wiring.coils.values()), 48_000.0, *bent)
notes = [
    Note(i % 6, 0.28 * i, fret=3 * i % 8, again_s=0.28 * (i + 6) if i < 34 else None, **heard[i])
    for i in range(40)
]
times = []
for _ in range(4):
    start = time.process_time()
    list(perform(notes, stage, 12 * 48_000))
    times.append(time.process_time() - start)
print(min(times))
"""


def test_beside_the_model_before(tmp_path: Path, record) -> None:
    """All that strings do now, by turns with the commit before, in processor time."""
    packed = subprocess.run(["git", "archive", BEFORE], cwd=ROOT, capture_output=True, check=False)
    if packed.returncode:
        pytest.skip(f"the history does not go back to {BEFORE}")
    subprocess.run(["tar", "x", "-C", str(tmp_path)], input=packed.stdout, check=True)

    def seconds(tree: Path, *more: str) -> float:
        env = {**os.environ, "PYTHONPATH": str(tree), "OPENBLAS_NUM_THREADS": "1"}
        done = subprocess.run(
            [sys.executable, "-c", PLAYED, *more],
            cwd=tree,
            env=env,
            capture_output=True,
            text=True,
            check=True,
        )
        return float(done.stdout)

    ratios = [seconds(ROOT, "now") / seconds(tmp_path) for _ in range(7)]
    found = float(np.median(ratios))
    record(
        "stems of 40 notes, beside the linear model before",
        f"x {found:.2f} ({min(ratios):.2f} to {max(ratios):.2f})",
        f"<= {BAR_BEFORE}",
    )
    assert found <= BAR_BEFORE


MEMORY = """
import re, sys
from pathlib import Path
from server.cli import main
main([*sys.argv[1:]], standalone_mode=False)
# not getrusage: its high-water mark outlives exec and would be the test runner's
print(int(re.search(r'VmHWM:\\s+(\\d+)', Path('/proc/self/status').read_text())[1]) / 1024)
"""


@pytest.mark.slow
def test_memory_of_a_score(tmp_path: Path, record) -> None:
    events = "".join(
        f"  - {{beat: {note.start_s}, string: {6 - note.string}, fret: {note.fret}}}\n" for note in notes()
    )
    (tmp_path / "take.yaml").write_text(
        f"format: 1\nname: Forty notes\nkind: score\ntempo: 60\ntail: 1 s\nevents:\n{events}"
    )
    arguments = ["stems", str(tmp_path / "take.yaml"), str(ROOT / "demo_audio" / "baritone.yaml")]
    done = subprocess.run(
        [sys.executable, "-c", MEMORY, *arguments, "--out", str(tmp_path)],
        capture_output=True, text=True, check=True, cwd=ROOT,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PRESOLDER_CACHE": str(tmp_path / "cache")},
    )  # fmt: skip
    peak_mb = float(done.stdout.strip().splitlines()[-1])
    record("stems of 40 notes to a file", f"{peak_mb:.0f} MB at the most", "< 1000 MB")
    assert peak_mb < 1000.0
