"""Rendering a set of clips: first every clip to plain volts, then the files at their level.

The first pass writes each clip as 32-bit float volts to a temporary folder and measures it;
only then is it known by how much a set must come down so that no file is clipped and the
differences between its clips stay. Memory stays that of a few blocks whatever the length.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.filters.bank import Bank, DesignError
from dsp.filters.design import design, worst
from dsp.sound.loudness import LoudnessMeter, gain_db_to_match
from dsp.sound.peak import TruePeakMeter, dbtp, gain_for_ceiling
from dsp.sound.plan import stages
from dsp.sound.render import Renderer
from dsp.wiring.model import Setting
from server.jobs.clips import ClipPlan, describe_flip, describe_sweep, refuse_twins
from server.storage.audio_out import Clip, Encoding, Written, write_clip, write_set
from server.storage.tags import ClipTags
from server.storage.whole_files import write_text

Floats = NDArray[np.float64]
Progress = Callable[[float], None]
"""Called with seconds of sound done since the last call."""

LIST_NAME = "clips.json"
BLOCK = 1 << 16


@dataclass(frozen=True)
class Volts:
    """A rendered clip in plain volts, on disk, and what was measured of it.

    Attributes
    ----------
    path : Path
        Raw 32-bit floats.
    n_samples : int
    loudness_lufs, true_peak : float
        Of 1 V as full scale.
    error : DesignError
        Largest over the filters of the clip.
    """

    path: Path
    n_samples: int
    loudness_lufs: float
    true_peak: float
    error: DesignError

    def blocks(self) -> Iterator[Floats]:
        """The samples, shape (n,) a block, afresh at each call."""
        with self.path.open("rb") as file:
            while len(block := np.fromfile(file, np.float32, BLOCK)):
                yield block.astype(float)


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
    """

    rate_hz: int = 48_000
    encodings: tuple[Encoding, ...] = (Encoding(),)
    loudness_lufs: float | None = None

    @property
    def level(self) -> str:
        """As the tags and the list say it."""
        return "as wired" if self.loudness_lufs is None else f"matched to {self.loudness_lufs:g} LUFS"


def render_set(
    plans: Sequence[ClipPlan], out: Path, options: RenderOptions, *, progress: Progress | None = None
) -> list[dict[str, Any]]:
    """Render clips into a folder and list them in ``clips.json``.

    Parameters
    ----------
    plans : sequence of ClipPlan
    out : Path
        Made if it does not exist.
    options : RenderOptions
    progress : callable

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
    for encoding in options.encodings:
        encoding.check_rate(options.rate_hz)
    try:
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".presolder-", dir=out) as temporary:
            rendered = [
                _to_volts(plan, Path(temporary) / f"{i}.f32", options.rate_hz, progress)
                for i, plan in enumerate(plans)
            ]
            return _write(plans, rendered, out, options)
    except OSError as error:
        raise InputError(str(out), error.strerror or str(error), "a folder that can be written to") from error


def _to_volts(plan: ClipPlan, path: Path, rate_hz: int, progress: Progress | None) -> Volts:
    """Render one clip to raw floats, measuring as it goes."""
    n_samples = plan.performance.frames(rate_hz)
    chain = stages(plan.wiring, plan.setting, plan.sweeps, plan.flips, n_samples=n_samples, rate_hz=rate_hz)
    renderer = Renderer(chain, _designer(plan, rate_hz), rate_hz)
    loudness, peak = LoudnessMeter(rate_hz), TruePeakMeter(rate_hz)
    written = 0
    with path.open("wb") as file:
        for block in renderer.render(plan.performance.stems(plan.wiring, rate_hz)):
            block.astype(np.float32).tofile(file)
            loudness.add(block)
            peak.add(block)
            written += len(block)
            if progress:
                progress(len(block) / rate_hz)
    return Volts(path, written, loudness.integrated_lufs(), peak.true_peak(), worst(renderer.banks))


def _designer(plan: ClipPlan, rate_hz: int) -> Callable[[Setting], Bank]:
    """Designs banks of a clip's wiring; a setting that comes back is not designed again."""

    @lru_cache(maxsize=64)
    def designed(position: str, knobs: tuple[Any, ...], switches: tuple[Any, ...]) -> Bank:
        return design(plan.wiring, Setting(position, dict(knobs), dict(switches)), rate_hz)

    return lambda setting: designed(
        setting.position, tuple(setting.knobs.items()), tuple(setting.switches.items())
    )


def _write(
    plans: Sequence[ClipPlan], rendered: Sequence[Volts], out: Path, options: RenderOptions
) -> list[dict[str, Any]]:
    """Write every clip in every encoding, then the list."""
    gains = _matching_gains(plans, rendered, options)
    entries: list[dict[str, Any]] = []
    for encoding in options.encodings:
        clips = [
            _clip(plan, volts, out / f"{plan.stem}.{encoding.format}", gain, options)
            for plan, volts, gain in zip(plans, rendered, gains, strict=True)
        ]
        if encoding.plain_volts and options.loudness_lufs is None:
            written = [write_clip(clip, options.rate_hz, encoding=encoding) for clip in clips]
        else:
            loudest = max(volts.true_peak * gain for volts, gain in zip(rendered, gains, strict=True))
            written = write_set(clips, options.rate_hz, encoding=encoding, loudest=loudest)
        for plan, volts, gain, one in zip(plans, rendered, gains, written, strict=True):
            entries.append(_entry(plan, volts, gain * one.gain, one, encoding, options))
    _write_list(out, entries)
    return entries


def _matching_gains(
    plans: Sequence[ClipPlan], rendered: Sequence[Volts], options: RenderOptions
) -> list[float]:
    """Gain of each clip before what the set as a whole needs; all 1 as wired.

    Matched clips of a set whose peaks leave no room for the loudness asked for come down
    together: matched to one another is what they are for.
    """
    if options.loudness_lufs is None:
        return [1.0] * len(rendered)
    gains = [
        10.0 ** (gain_db_to_match(volts.loudness_lufs, options.loudness_lufs) / 20.0)
        if np.isfinite(volts.loudness_lufs)
        else 1.0
        for volts in rendered
    ]
    room = min(gain_for_ceiling(volts.true_peak * gain) for volts, gain in zip(rendered, gains, strict=True))
    return [gain * room for gain in gains]


def _clip(plan: ClipPlan, volts: Volts, path: Path, gain: float, options: RenderOptions) -> Clip:
    tags = ClipTags(
        wiring=plan.wiring.name or Path(plan.wiring.file).stem,
        position=plan.setting.position,
        settings=plan.stands,
        take=plan.performance.take.name or plan.performance.name,
        coil_places=plan.performance.coil_places(plan.wiring),
        level=options.level,
    )
    return Clip(path, lambda: (block * gain for block in volts.blocks()), tags)


def _entry(
    plan: ClipPlan, volts: Volts, gain: float, written: Written, encoding: Encoding, options: RenderOptions
) -> dict[str, Any]:
    """Everything there is to know about one file."""
    gain_db = 20.0 * np.log10(gain)
    audible = np.isfinite(volts.loudness_lufs)
    return {
        "file": written.path.name,
        "wiring": plan.wiring.name,
        "wiring_file": Path(plan.wiring.file).name,
        "take": plan.performance.take.name,
        "take_file": Path(plan.performance.take.file).name,
        "position": plan.setting.position,
        "label": plan.wiring.labels.get(plan.setting.position, ""),
        "settings": {**plan.setting.knobs, **plan.setting.switches},
        "sweeps": [describe_sweep(sweep) for sweep in plan.sweeps],
        "flips": [describe_flip(flip) for flip in plan.flips],
        "coil_places": plan.performance.coil_places(plan.wiring),
        "silent_coils": list(plan.performance.silent_coils(plan.wiring)),
        "format": encoding.format,
        "depth": encoding.depth,
        "rate_hz": options.rate_hz,
        "samples": volts.n_samples,
        "seconds": volts.n_samples / options.rate_hz,
        "level": options.level,
        "gain_db": round(float(gain_db), 4),
        "loudness_lufs": round(volts.loudness_lufs + float(gain_db), 3) if audible else None,
        "true_peak_dbtp": round(dbtp(written.true_peak), 3) if written.true_peak > 0.0 else None,
        "design_error": {
            "level_db": volts.error.level_db,
            "phase_deg": volts.error.phase_deg,
            "level_db_to_20_khz": volts.error.top_level_db,
            "meets_contract": volts.error.meets,
        },
        "warnings": [
            *plan.performance.warnings,
            *plan.performance.notes(plan.wiring),
            *_warnings(plan, volts, options),
        ],
    }


def _warnings(plan: ClipPlan, volts: Volts, options: RenderOptions) -> Iterator[str]:
    if not np.isfinite(volts.loudness_lufs):
        yield "silent: nothing above -70 LUFS"
    if not volts.error.meets:
        error = volts.error
        yield (
            f"the filters miss the circuit by {error.level_db:.3f} dB and {error.phase_deg:.2f} degrees"
            f" up to 18 kHz, {error.top_level_db:.2f} dB up to 20 kHz"
        )


def _write_list(out: Path, entries: Sequence[dict[str, Any]]) -> None:
    """Put the entries into the folder's list; clips of earlier renders that are still there stay."""
    path = out / LIST_NAME
    new = {entry["file"] for entry in entries}
    kept = [entry for entry in _listed(path) if entry["file"] not in new and (out / entry["file"]).exists()]
    write_text(path, json.dumps({"clips": [*kept, *entries]}, indent=1, ensure_ascii=False) + "\n")


def _listed(path: Path) -> list[dict[str, Any]]:
    """Entries of a list written before; a file that is none is left out of account."""
    try:
        clips = json.loads(path.read_text())["clips"]
        return [entry for entry in clips if isinstance(entry["file"], str)]
    except (OSError, ValueError, KeyError, TypeError):
        return []
