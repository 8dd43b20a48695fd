"""The same input gives the same bytes, whatever number of threads the linear algebra would use."""

from __future__ import annotations

import hashlib
import itertools
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tolerances as tol
from places import DEMO, ROOT

RENDER = "from server.cli import main; main()"
PLAY = """
from pathlib import Path
from server.takes.load import load_take
from server.takes.playing import PlayingProcess
from server.wirings.text import load_wiring
demo = Path({demo!r})
if __name__ == "__main__":
    playing = PlayingProcess()
    playing.prepare(load_take(demo / "staccato.yaml"), load_wiring(demo / "baritone.yaml"), 48_000)
    playing.close()
"""
THREADS = ("1", "2")


def run(threads: str, cache: Path | str, *arguments: str, **variables: str) -> None:
    """Run Python with a number of threads for the linear algebra, and a cache of stems."""
    environment = {
        **os.environ,
        **variables,
        "OPENBLAS_NUM_THREADS": threads,
        "OMP_NUM_THREADS": threads,
        "PRESOLDER_CACHE": str(cache),
        "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path]),
    }
    found = subprocess.run([sys.executable, *arguments], env=environment, capture_output=True, timeout=240)
    assert found.returncode == 0, found.stderr.decode()


def digests(folder: Path, pattern: str) -> dict[str, str]:
    """Digest of each file of a folder by its path."""
    files = sorted(path for path in folder.rglob(pattern) if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_a_render_has_the_same_bytes_with_one_thread_and_with_two(tmp_path: Path) -> None:
    words = ["render", str(DEMO / "baritone.yaml"), "--take", str(DEMO / "staccato.yaml"), "-p", "1", "--out"]
    for threads in THREADS:
        run(threads, "", "-c", RENDER, *words, str(tmp_path / threads))
    first, second = (digests(tmp_path / threads, "*") for threads in THREADS)
    assert len(first) == 2  # the clip and the list
    assert first == second


@pytest.mark.long
@pytest.mark.parametrize("curvature", ["on", "off"])
def test_other_kinds_of_processors_change_the_last_bits_alone(tmp_path: Path, curvature: str) -> None:
    """The linear algebra is told to compute as on older kinds; where it cannot, nothing differs."""
    take = tmp_path / "low_riff.yaml"
    take.write_text(
        (DEMO / take.name).read_text(encoding="utf-8") + f"curvature: {curvature}\n", encoding="utf-8"
    )
    words = ["render", str(DEMO / "baritone.yaml"), "--take", str(take), "-p", "4", "--out"]
    clips = []
    for kind in ("", "Haswell", "Nehalem"):
        out = tmp_path / (kind or "own")
        run("1", "", "-c", RENDER, *words, str(out), **({"OPENBLAS_CORETYPE": kind} if kind else {}))
        [clip] = out.rglob("*.wav")
        clips.append(soundfile.read(clip)[0])
    peak = np.max(np.abs(clips[0]))
    off = max(np.max(np.abs(one - other)) for one, other in itertools.combinations(clips, 2))
    assert peak > 0.01
    if curvature == "on":
        assert off <= tol.OTHER_PROCESSOR_BENT_SHARE * peak
    else:
        assert off <= tol.OTHER_PROCESSOR_V
        assert off <= tol.OTHER_PROCESSOR_SHARE * peak


def test_stems_are_cached_with_the_same_bytes_with_one_thread_and_with_two(tmp_path: Path) -> None:
    """The process beside the server plays scores: what it caches reaches renders and listings."""
    script = tmp_path / "play.py"
    script.write_text(PLAY.format(demo=str(DEMO)), encoding="utf-8")
    for threads in THREADS:
        run(threads, tmp_path / threads, str(script))
    first, second = (digests(tmp_path / threads, "*.npy") for threads in THREADS)
    assert len(first) == 1
    assert first == second
