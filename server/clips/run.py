"""Run clips: from a take's stems to plain volts in files, measured on the way.

`render`, listings, proposals and blind tests all make their clips here. Clips of one wiring
and one take run in step: the take is played once, and memory stays that of a few blocks.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.chain.divider import input_share
from dsp.chain.impulse import Cabinet
from dsp.chain.run import Chain
from dsp.chain.stream import Stream
from dsp.chain.ways import Way
from dsp.filters.bank import Bank
from dsp.filters.design import design_bank, worst_deviation
from dsp.sound.hum import add_hum
from dsp.sound.limiter import TRIED_DB, Limiter, gain_reducing
from dsp.sound.loudness import LoudnessMeter
from dsp.sound.movement import steps_of
from dsp.sound.peak import TruePeakMeter
from dsp.sound.render import Renderer
from dsp.wiring.model import Setting, Wiring
from server.clips.level import Measurement
from server.clips.plan import ClipPlan
from server.files.raw_volts import RawVolts, VoltsFile
from server.files.whole import make_folder
from server.processes.threads import use_one_thread

Floats = NDArray[np.float64]
Progress = Callable[[float], None]
"""Called with the seconds of sound rendered since the last call."""
MOST_IN_STEP = 12
"""Clips of one take in one run: enough to read the stems seldom, few enough for many workers."""


@dataclass(frozen=True)
class MeasuredClip:
    """A clip in plain volts, and what was measured of it."""

    plan: ClipPlan
    volts: RawVolts
    measured: Measurement


def run_clips(
    plans: Sequence[ClipPlan],
    folder: Path,
    rate_hz: int,
    *,
    stems: Iterable[Floats] | None = None,
    span: tuple[int, int] | None = None,
    lowered_db: float = 0.0,
    progress: Progress | None = None,
) -> list[MeasuredClip]:
    """Render clips of one wiring and one take to 32-bit float volts, in step.

    Parameters
    ----------
    plans : sequence of ClipPlan
        All of the first one's wiring, take and hum.
    folder : Path
        For the files; made if it does not exist.
    stems : iterable of ndarray, shape (n_coils, n), volt
        Blocks to use instead of the take's own.
    span : tuple of int or None
        First sample, and the one after the last, that are written and measured. The filters
        run from the start of the take all the same.
    lowered_db : float
        What the drive of the ways gives way by.

    Raises
    ------
    InputError
        If the take does not fit the wiring, or its recording cannot be read.
    OSError
        If the disk refuses a file.
    """
    if not plans:
        return []
    use_one_thread()
    first = plans[0]
    if span:  # a take that is not read to its end is not cached either
        first.performance.prepare(first.wiring, rate_hz)
    blocks = first.performance.stems(first.wiring, rate_hz) if stems is None else stems
    if first.hum:
        blocks = add_hum(blocks, first.wiring, first.hum, rate_hz)
    bank_of = bank_designer(first.wiring, rate_hz)
    make_folder(folder)
    share = input_share(first.wiring.load)
    streams = [
        Stream(
            make_chain(plan.way, rate_hz, lowered_db, share, plan.cabinet.cabinet if plan.cabinet else None)
        )
        for plan in plans
    ]
    runs = [
        ClipRun(plan, folder / f"{i}.f32", rate_hz, bank_of, stream, span)
        for i, (plan, stream) in enumerate(zip(plans, streams, strict=True))
    ]
    try:
        for n_samples in _run_in_step(runs, blocks):
            if progress:
                progress(n_samples / rate_hz)
    finally:
        for run in runs:
            run.close()
    return [run.result() for run in runs]


def _run_in_step(runs: Sequence[ClipRun], blocks: Iterable[Floats]) -> Iterator[int]:
    """Advance every clip by one block, again and again; yield the samples of each step."""
    copies = itertools.tee(blocks, len(runs))
    going = [(run, run.outputs(copy)) for run, copy in zip(runs, copies, strict=True)]
    del copies  # an iterator held here would hold every block from the first on
    while going:
        still = []
        for run, outputs in going:
            n_samples = next(outputs, None)
            if n_samples is not None:
                still.append((run, outputs))
                yield n_samples
        going = still


class ClipRun:
    """One clip on its way to volts, measured block by block.

    Parameters
    ----------
    bank_of : callable
        Designs the bank of a setting.
    stream : Stream
        Runs the way in which it is heard.
    span : tuple of int or None
        See `run_clips`.
    """

    def __init__(
        self,
        plan: ClipPlan,
        path: Path,
        rate_hz: int,
        bank_of: Callable[[Setting], Bank],
        stream: Stream,
        span: tuple[int, int] | None,
    ) -> None:
        n_samples = plan.performance.frames(rate_hz)
        chain = steps_of(
            plan.wiring, plan.setting, plan.sweeps, plan.flips, n_samples=n_samples, rate_hz=rate_hz
        )
        self._plan, self._stream, self._span, self._rate_hz = plan, stream, span, rate_hz
        self._renderer = Renderer(chain, bank_of, rate_hz)
        self._loudness, self._peak = LoudnessMeter(rate_hz), TruePeakMeter(rate_hz)
        self._file = VoltsFile(path)

    def outputs(self, stems: Iterable[Floats]) -> Iterator[int]:
        """Store and measure one block at each step; yield its samples.

        Parameters
        ----------
        stems : iterable of ndarray, shape (n_coils, n), volt
        """
        done = 0
        for block in self._heard(self._renderer.render(stems)):
            self._add(block if self._span is None else _within(block, done, *self._span))
            done += len(block)
            yield len(block)
            if self._span is not None and done >= self._span[1]:
                return

    def _heard(self, volts: Iterator[Floats]) -> Iterator[Floats]:
        """Return the volts themselves if they are heard direct, cut as they are."""
        return self._stream.run(volts) if self._plan.way.amplified else volts

    def _add(self, block: Floats) -> None:
        self._loudness.add(block)
        self._peak.add(block)
        self._file.add(block)

    def close(self) -> None:
        """Close the file of volts."""
        self._file.close()

    def result(self) -> MeasuredClip:
        """Return the finished clip."""
        volts = RawVolts(self._file.path, self._file.n_samples)
        peak = self._peak.true_peak()
        measured = Measurement(
            self._file.n_samples,
            self._loudness.block_powers(),
            peak,
            worst_deviation(self._renderer.banks),
            self._renderer.settled_db,
            self._stream.excess_db,
            _lost_lu(volts, peak, self._rate_hz) if self._plan.limited else (),
        )
        return MeasuredClip(self._plan, volts, measured)


def _lost_lu(volts: RawVolts, true_peak: float, rate_hz: int) -> tuple[float, ...]:
    """Return the loudness that a clip loses at each reduction that is tried, LU."""
    lost = []
    for tried_db in TRIED_DB:
        if true_peak <= 0.0:
            lost.append(0.0)
            continue
        gain = gain_reducing(true_peak, tried_db)
        before, after = LoudnessMeter(rate_hz), LoudnessMeter(rate_hz)
        for block in volts.blocks():
            before.add(gain * block)
        for block in Limiter(rate_hz, gain).run(volts.blocks()):
            after.add(block)
        away = before.integrated_lufs() - after.integrated_lufs()
        lost.append(away if np.isfinite(away) else 0.0)
    return tuple(round(one, 4) for one in lost)


def _within(block: Floats, start: int, first: int, last: int) -> Floats:
    """Return the part of a block, which starts at a sample, that lies within a span."""
    return block[max(first - start, 0) : max(last - start, 0)]


@lru_cache(maxsize=8)
def make_chain(
    way: Way, rate_hz: int, lowered_db: float, share: float, cabinet: Cabinet | None = None
) -> Chain:
    """Return the filters of a way, with a cache; they hold no state.

    Parameters
    ----------
    share : float
        Of the voltage at the input; see `input_share`.
    """
    return Chain(way, rate_hz, cabinet=cabinet, lowered_db=lowered_db, input_share=share)


def bank_designer(wiring: Wiring, rate_hz: int) -> Callable[[Setting], Bank]:
    """Return a function that designs the bank of a setting, with a cache."""

    @lru_cache(maxsize=64)
    def designed(position: str, knobs: tuple[Any, ...], switches: tuple[Any, ...]) -> Bank:
        return design_bank(wiring, Setting(position, dict(knobs), dict(switches)), rate_hz)

    return lambda setting: designed(
        setting.position, tuple(setting.knobs.items()), tuple(setting.switches.items())
    )


def batch_plans(plans: Sequence[ClipPlan]) -> list[list[int]]:
    """Group clips that can run in step; return the indexes of each group.

    A clip with movements runs alone: its many designs take longer than reading the stems.
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for i, plan in enumerate(plans):
        alone = (i,) if plan.sweeps or plan.flips else ()
        groups.setdefault((id(plan.wiring), id(plan.performance), plan.hum, *alone), []).append(i)
    return [
        group[start : start + MOST_IN_STEP]
        for group in groups.values()
        for start in range(0, len(group), MOST_IN_STEP)
    ]
