"""The record of a rendered clip: its entry in the list of clips, with warnings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from dsp.sound.levels import db
from dsp.sound.loudness import GATE_LUFS
from dsp.sound.peak import dbtp
from dsp.sound.render import UNSETTLED_DB
from server.clips.level import Measurement, level_text, misses_loudness
from server.clips.plan import ClipPlan, describe_flip, describe_sweep
from server.files.audio_out import Encoding, Written


def clip_record(
    plan: ClipPlan,
    measured: Measurement,
    written: Written,
    encoding: Encoding,
    *,
    rate_hz: int,
    target_lufs: float | None,
    lowered_db: float = 0.0,
) -> dict[str, Any]:
    """Return everything known about one file, as ``clips.json`` lists it.

    Parameters
    ----------
    lowered_db : float
        What the drive of its set gave way by.
    """
    gain_db = db(written.gain)
    lufs = measured.reached_lufs(written.gain, written.limiter_gain)
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
        "through": plan.way.name,
        "cabinet": plan.cabinet.name if plan.cabinet else "",
        "drive_lowered_db": round(lowered_db, 3),
        "hum": plan.hum.text if plan.hum else "",
        "format": encoding.format,
        "depth": encoding.depth,
        "rate_hz": rate_hz,
        "samples": measured.n_samples,
        "seconds": measured.n_samples / rate_hz,
        "level": level_text(measured, target_lufs, written.gain, written.limiter_gain),
        "gain_db": round(gain_db, 4),
        "limited_db": round(measured.reduction_db(written.limiter_gain), 2),
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
            *_warnings(measured, written, encoding, target_lufs),
            *_lowered(plan, lowered_db),
        ],
    }


def _warnings(
    measured: Measurement, written: Written, encoding: Encoding, target_lufs: float | None
) -> Iterator[str]:
    if not measured.audible:
        yield f"silent: nothing above {GATE_LUFS:g} LUFS"
    told = target_lufs, written.gain, written.limiter_gain
    if misses_loudness(measured, *told):
        yield f"{level_text(measured, *told)}; every clip of the set alike"
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


def _lowered(plan: ClipPlan, lowered_db: float) -> Iterator[str]:
    if lowered_db > 0.0:
        yield (
            f"{plan.way.name}: driven {lowered_db:.1f} dB less, every clip of the set alike:"
            " more would add tones that no string makes"
        )
