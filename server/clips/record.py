"""What is told of a rendered clip: its level in words, its warnings, its entry in the list."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from dsp.filters.bank import Deviation
from dsp.sound.levels import db
from dsp.sound.loudness import GATE_LUFS, gated_lufs
from dsp.sound.peak import dbtp
from dsp.sound.render import UNSETTLED_DB
from server.clips.plan import ClipPlan, describe_flip, describe_sweep
from server.files.audio_out import Encoding, Written

NEAR_LU = 0.05
"""A loudness this near to the one asked for is that one: what an encoder's overshoot may cost."""


@dataclass(frozen=True)
class Measured:
    """What was measured of a rendering before any gain.

    Attributes
    ----------
    n_samples : int
    block_powers : tuple of float
        K-weighted power of every gating block, V².
    true_peak : float
        Of 1 V as full scale.
    error : DesignError
        Largest over the filters of the clip.
    settled_db : float
        How far the slowest mode had died away where a bank was first heard, dB.
    """

    n_samples: int
    block_powers: tuple[float, ...]
    true_peak: float
    error: Deviation
    settled_db: float

    @property
    def audible(self) -> bool:
        """Whether there is a loudness at all."""
        return math.isfinite(self.loudness_lufs())

    def loudness_lufs(self, gain_db: float = 0.0) -> float:
        """Integrated loudness behind a gain, LUFS of 1 V as full scale."""
        return gated_lufs(np.asarray(self.block_powers) * 10.0 ** (gain_db / 10.0))


def level_words(measured: Measured, asked_lufs: float | None, gain: float) -> str:
    """A clip's level as its tags and the list say it: as it was reached.

    Parameters
    ----------
    measured : Measured
    asked_lufs : float or None
        Integrated loudness asked for; None for as wired.
    gain : float
        Factor applied in the end.
    """
    if asked_lufs is None:
        return "as wired"
    if not measured.audible:
        return "silent: nothing to match"
    if short_of(measured, asked_lufs, gain):
        reached = measured.loudness_lufs(db(gain))
        return f"matched to {reached:.1f} LUFS (asked {asked_lufs:g}: true peak leaves no room)"
    return f"matched to {asked_lufs:g} LUFS"


def short_of(measured: Measured, asked_lufs: float | None, gain: float) -> bool:
    """Whether a clip stays below the loudness asked for; gain as a factor."""
    if asked_lufs is None or not measured.audible:
        return False
    return measured.loudness_lufs(db(gain)) < asked_lufs - NEAR_LU


def entry(
    plan: ClipPlan,
    measured: Measured,
    written: Written,
    encoding: Encoding,
    *,
    rate_hz: int,
    asked_lufs: float | None,
) -> dict[str, Any]:
    """Everything there is to know about one file, as ``clips.json`` lists it."""
    gain_db = db(written.gain)
    lufs = measured.loudness_lufs(gain_db)
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
        "rate_hz": rate_hz,
        "samples": measured.n_samples,
        "seconds": measured.n_samples / rate_hz,
        "level": level_words(measured, asked_lufs, written.gain),
        "gain_db": round(gain_db, 4),
        "loudness_lufs": round(lufs, 3) if math.isfinite(lufs) else None,
        "true_peak_dbtp": round(dbtp(written.true_peak), 3) if written.true_peak > 0.0 else None,
        "design_error": {
            "level_db": measured.error.level_db,
            "phase_deg": measured.error.phase_deg,
            "level_db_to_20_khz": measured.error.top_level_db,
            "meets_contract": measured.error.meets_contract,
        },
        "warnings": [
            *plan.performance.warnings,
            *plan.performance.notes(plan.wiring),
            *_warnings(measured, written, encoding, asked_lufs),
        ],
    }


def _warnings(
    measured: Measured, written: Written, encoding: Encoding, asked_lufs: float | None
) -> Iterator[str]:
    if not measured.audible:
        yield f"silent: nothing above {GATE_LUFS:g} LUFS"
    if short_of(measured, asked_lufs, written.gain):
        yield f"{level_words(measured, asked_lufs, written.gain)}; every clip of the set alike"
    if encoding.plain_volts and written.true_peak > 1.0:
        yield (
            "float volts above full scale, which many players clip: --format flac or --loudness keep below it"
        )
    if not measured.error.meets_contract:
        error = measured.error
        yield (
            f"the filters miss the circuit by {error.level_db:.3f} dB and {error.phase_deg:.2f} degrees"
            f" up to 18 kHz, {error.top_level_db:.2f} dB up to 20 kHz"
        )
    if measured.settled_db > UNSETTLED_DB:
        yield (
            "the circuit settles very slowly: at a flip or sweep its slowest movement, below hearing, starts"
            f" with an error of {measured.settled_db:.0f} dB of itself"
        )
