"""Filtering and encoding alone: stems in memory, banks designed before the clock starts.

Run as a program it prints "ready", waits for a line, works, and prints its wall and processor time.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from dsp.filters.bank import Bank
from dsp.filters.design import design_bank
from dsp.filters.run import Runner
from server.clips.plan import ClipPlan
from server.files.audio_out import Encoding
from server.listings.making.plan import plan_listing
from server.takes.load import load_take

RATE_HZ = 48_000
FORMATS = ("flac", "mp3")
LOUD, HIGHEST = 0.05, 0.89
"""Of full scale: the mean of the samples, and their peak."""


def make_clip(bank: Bank, stems: Iterable[NDArray[np.float64]], stem: Path) -> None:
    """Filter one clip, stems of shape (n_coils, n), and write it in both formats."""
    runner = Runner(bank)
    state, volts = runner.initial_state(), []
    for block in stems:
        out, state = runner.run(block, state)
        volts.append(out)
    samples = np.concatenate(volts)
    samples *= LOUD / np.sqrt(np.mean(samples**2))
    samples *= min(1.0, HIGHEST / np.abs(samples).max())
    for name in FORMATS:
        options = Encoding(name).options()
        with soundfile.SoundFile(stem.with_suffix(f".{name}"), "w", RATE_HZ, 1, **options) as file:
            file.write(samples)


def main(listing: str, folder: str, first: str, step: str) -> None:
    """Make every so many of a listing's clips, from the first on."""
    plan = plan_listing(Path(listing), load_take)
    clips: list[ClipPlan] = [clip.plan for one in plan.instruments for clip in one.clips]
    clips = clips[int(first) :: int(step)]
    stems: dict[tuple[str, str], list[NDArray[np.float64]]] = {}
    for clip in clips:
        key = (clip.wiring.file, clip.performance.take.file)
        stems.setdefault(key, list(clip.performance.stems(clip.wiring, RATE_HZ)))
    banks = [design_bank(clip.wiring, clip.setting, RATE_HZ) for clip in clips]
    print("ready", flush=True)
    sys.stdin.readline()
    wall, cpu = time.perf_counter(), time.process_time()
    for clip, bank in zip(clips, banks, strict=True):
        make_clip(bank, stems[clip.wiring.file, clip.performance.take.file], Path(folder) / first)
    print(json.dumps([time.perf_counter() - wall, time.process_time() - cpu]))


if __name__ == "__main__":
    main(*sys.argv[1:])
