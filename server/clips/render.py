"""Render a set of clips: first every clip to plain volts, then the files at their level.

The gain that a set needs is known only once every clip is measured: no file may clip, and the
differences between the clips stay. Each clip therefore goes to 32-bit float volts in a scratch
folder first. A set through an amplifier is rendered once more with less drive where the first
rendering says so. Memory stays that of a few blocks, whatever the length.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dsp.errors import InputError
from server.clips.level import level_text, peak_of, set_gains, tags_of
from server.clips.list import write_list
from server.clips.plan import ClipPlan
from server.clips.record import clip_record
from server.clips.run import MeasuredClip, Progress, batch_plans, run_clips
from server.files.audio_out import Clip, Encoding, Written, write_clip, write_set
from server.files.names import require_unique_names
from server.files.scratch import scratch_folder


@dataclass(frozen=True)
class RenderOptions:
    """How a set of clips is rendered and stored.

    Attributes
    ----------
    encodings : tuple of Encoding
        Each clip is written once in each.
    loudness_lufs : float or None
        Integrated loudness to match; None for as wired.
    lowered_db : float
        What the drive of a way gives way by at least.

    Raises
    ------
    InputError
        If an encoding cannot hold the rate.
    """

    rate_hz: int = 48_000
    encodings: tuple[Encoding, ...] = (Encoding(),)
    loudness_lufs: float | None = None
    lowered_db: float = 0.0

    def __post_init__(self) -> None:
        for encoding in self.encodings:
            encoding.check_rate(self.rate_hz)


def render_set(
    plans: Sequence[ClipPlan],
    out: Path,
    options: RenderOptions,
    *,
    progress: Progress | None = None,
    note: Callable[[str], None] | None = None,
) -> list[dict[str, Any]]:
    """Render clips into a folder and list them in ``clips.json``.

    Parameters
    ----------
    out : Path
        Made if it does not exist.
    note : callable
        Called with a sentence that concerns the set as a whole.

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
    require_unique_names("names of the clips", ((plan.stem, plan.source) for plan in plans))
    with scratch_folder(out) as scratch:
        lowered_db = options.lowered_db
        measured = _run_all(plans, scratch, options.rate_hz, progress, lowered_db)
        more_db = max((clip.measured.excess_db for clip in measured), default=0.0)
        if more_db > 0.0:
            lowered_db += more_db
            measured = _run_all(plans, scratch, options.rate_hz, progress, lowered_db)
        records: list[dict[str, Any]] = []
        try:
            for clip, written, encoding in _write_files(measured, out, options):
                records.append(
                    clip_record(
                        clip.plan,
                        clip.measured,
                        written,
                        encoding,
                        rate_hz=options.rate_hz,
                        target_lufs=options.loudness_lufs,
                        lowered_db=lowered_db,
                    )
                )
        except BaseException:
            with contextlib.suppress(InputError, OSError):  # the first failure is the one to report
                if records:
                    write_list(out, records, note=note)
            raise
        write_list(out, records, note=note)
        return records


def _run_all(
    plans: Sequence[ClipPlan],
    scratch: Path,
    rate_hz: int,
    progress: Progress | None,
    lowered_db: float = 0.0,
) -> list[MeasuredClip]:
    """Render every clip to plain volts, those of one wiring and one take in step."""
    measured: dict[int, MeasuredClip] = {}
    for number, batch in enumerate(batch_plans(plans)):
        clips = run_clips(
            [plans[i] for i in batch],
            scratch / f"{number}-{lowered_db:g}",
            rate_hz,
            lowered_db=lowered_db,
            progress=progress,
        )
        measured.update(zip(batch, clips, strict=True))
    return [measured[i] for i in range(len(plans))]


def _write_files(
    measured: Sequence[MeasuredClip], out: Path, options: RenderOptions
) -> Iterator[tuple[MeasuredClip, Written, Encoding]]:
    """Write every clip in every encoding; yield each once it is on the disk."""
    gains = set_gains([clip.measured for clip in measured], options.loudness_lufs)
    volts = options.loudness_lufs is None and not any(clip.plan.way.amplified for clip in measured)
    for encoding in options.encodings:
        files = [
            _file_of(clip, out / f"{clip.plan.stem}.{encoding.format}", gain, options.loudness_lufs)
            for clip, gain in zip(measured, gains, strict=True)
        ]
        if encoding.plain_volts and volts:
            for clip, file in zip(measured, files, strict=True):
                yield clip, write_clip(file, options.rate_hz, encoding=encoding), encoding
        else:
            loudest = max(peak_of(clip.measured, gain) for clip, gain in zip(measured, gains, strict=True))
            whole_set = write_set(files, options.rate_hz, encoding=encoding, loudest=loudest)
            for clip, written in zip(measured, whole_set, strict=True):
                yield clip, written, encoding


def _file_of(clip: MeasuredClip, path: Path, gain: float, target_lufs: float | None) -> Clip:
    return Clip(
        path,
        clip.volts.blocks,
        tags_of(clip.plan),
        gain=gain,
        limited=clip.plan.limited,
        level_at=lambda whole: level_text(
            clip.measured, target_lufs, whole, gain if clip.plan.limited else None
        ),
    )
