"""Rendering a set of clips: first every clip to plain volts, then the files at their level.

The first pass writes each clip as 32-bit float volts to a scratch folder and measures it;
only then is it known by how much a set must come down so that no file is clipped and the
differences between its clips stay. Memory stays that of a few blocks whatever the length.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.filters.bank import Bank
from dsp.filters.design import design_bank, worst_deviation
from dsp.sound import set_levels
from dsp.sound.loudness import LoudnessMeter
from dsp.sound.movement import steps_of
from dsp.sound.peak import TruePeakMeter
from dsp.sound.render import Renderer
from dsp.wiring.model import Setting
from server.clips.list import write_list
from server.clips.plan import ClipPlan, refuse_twins
from server.clips.record import Measured, entry, level_words
from server.files.audio_out import Clip, Encoding, Written, write_clip, write_set
from server.files.raw_volts import RawVolts, write_volts
from server.files.scratch import scratch_folder
from server.files.tags import ClipTags

Floats = NDArray[np.float64]
Progress = Callable[[float], None]
"""Called with seconds of sound done since the last call."""
Told = Callable[[str], None]
"""Called with a sentence that concerns the set as a whole."""


@dataclass(frozen=True)
class Rendered:
    """A clip in plain volts, and what was measured of it."""

    plan: ClipPlan
    volts: RawVolts
    measured: Measured


@dataclass(frozen=True)
class RenderOptions:
    """How a set of clips is rendered and stored.

    Attributes
    ----------
    rate_hz : int
    encodings : tuple of Encoding
        Each clip is written once in each.
    loudness_lufs : float or None
        Integrated loudness to match; None for as wired.

    Raises
    ------
    InputError
        If an encoding cannot hold the rate.
    """

    rate_hz: int = 48_000
    encodings: tuple[Encoding, ...] = (Encoding(),)
    loudness_lufs: float | None = None

    def __post_init__(self) -> None:
        for encoding in self.encodings:
            encoding.check_rate(self.rate_hz)


def render_set(
    plans: Sequence[ClipPlan],
    out: Path,
    options: RenderOptions,
    *,
    progress: Progress | None = None,
    told: Told | None = None,
) -> list[dict[str, Any]]:
    """Render clips into a folder and list them in ``clips.json``.

    Parameters
    ----------
    plans : sequence of ClipPlan
    out : Path
        Made if it does not exist.
    options : RenderOptions
    progress, told : callable

    Returns
    -------
    list of dict
        The entries of ``clips.json`` for these clips.

    Raises
    ------
    InputError
        If something cannot be read, rendered or written. Files already written stay whole
        and are listed.
    """
    refuse_twins(plans)
    with scratch_folder(out) as scratch:
        rendered = [
            _to_volts(plan, scratch / f"{i}.f32", options.rate_hz, progress) for i, plan in enumerate(plans)
        ]
        entries: list[dict[str, Any]] = []
        try:
            for one, written, encoding in _written(rendered, out, options):
                rate_hz, asked = options.rate_hz, options.loudness_lufs
                entries.append(
                    entry(one.plan, one.measured, written, encoding, rate_hz=rate_hz, asked_lufs=asked)
                )
        except BaseException:
            with contextlib.suppress(InputError, OSError):  # what went wrong first is what is told
                if entries:
                    write_list(out, entries, told=told)
            raise
        write_list(out, entries, told=told)
        return entries


def _to_volts(plan: ClipPlan, path: Path, rate_hz: int, progress: Progress | None) -> Rendered:
    """Render one clip to raw floats, measuring as it goes."""
    n_samples = plan.performance.frames(rate_hz)
    chain = steps_of(plan.wiring, plan.setting, plan.sweeps, plan.flips, n_samples=n_samples, rate_hz=rate_hz)
    renderer = Renderer(chain, designer(plan, rate_hz), rate_hz)
    loudness, peak = LoudnessMeter(rate_hz), TruePeakMeter(rate_hz)

    def blocks() -> Iterator[Floats]:
        for block in renderer.render(plan.performance.stems(plan.wiring, rate_hz)):
            loudness.add(block)
            peak.add(block)
            yield block
            if progress:
                progress(len(block) / rate_hz)

    volts = write_volts(path, blocks())
    error, settled_db = worst_deviation(renderer.banks), renderer.settled_db
    found = Measured(volts.n_samples, loudness.block_powers(), peak.true_peak(), error, settled_db)
    return Rendered(plan, volts, found)


def designer(plan: ClipPlan, rate_hz: int) -> Callable[[Setting], Bank]:
    """Designs banks of a clip's wiring, each setting once."""

    @lru_cache(maxsize=64)
    def designed(position: str, knobs: tuple[Any, ...], switches: tuple[Any, ...]) -> Bank:
        return design_bank(plan.wiring, Setting(position, dict(knobs), dict(switches)), rate_hz)

    return lambda setting: designed(
        setting.position, tuple(setting.knobs.items()), tuple(setting.switches.items())
    )


def _written(
    rendered: Sequence[Rendered], out: Path, options: RenderOptions
) -> Iterator[tuple[Rendered, Written, Encoding]]:
    """Write every clip in every encoding, each given out once it stands on disk."""
    gains = matching_gains([one.measured for one in rendered], options.loudness_lufs)
    for encoding in options.encodings:
        clips = [
            _clip(one, out / f"{one.plan.stem}.{encoding.format}", gain, options.loudness_lufs)
            for one, gain in zip(rendered, gains, strict=True)
        ]
        if encoding.plain_volts and options.loudness_lufs is None:
            for one, clip in zip(rendered, clips, strict=True):
                yield one, write_clip(clip, options.rate_hz, encoding=encoding), encoding
        else:
            loudest = max(one.measured.true_peak * gain for one, gain in zip(rendered, gains, strict=True))
            for one, written in zip(
                rendered, write_set(clips, options.rate_hz, encoding=encoding, loudest=loudest), strict=True
            ):
                yield one, written, encoding


def matching_gains(measured: Sequence[Measured], asked_lufs: float | None) -> list[float]:
    """Gain of each clip before what the set as a whole needs; all 1 as wired.

    Matched clips of a set whose peaks leave no room for the loudness asked for come down
    together: matched to one another is what they are for.
    """
    if asked_lufs is None:
        return [1.0] * len(measured)
    powers = [np.asarray(one.block_powers) if one.audible else None for one in measured]
    return set_levels.matching_gains(powers, [one.true_peak for one in measured], asked_lufs)


def _clip(one: Rendered, path: Path, gain: float, asked_lufs: float | None) -> Clip:
    plan = one.plan
    tags = ClipTags(
        wiring=plan.wiring.name or Path(plan.wiring.file).stem,
        position=plan.setting.position,
        settings=plan.stands,
        take=plan.performance.take.name or plan.performance.name,
        coil_places=plan.performance.coil_places(plan.wiring),
    )
    return Clip(
        path,
        one.volts.blocks,
        tags,
        gain=gain,
        level_at=lambda whole: level_words(one.measured, asked_lufs, whole),
    )
