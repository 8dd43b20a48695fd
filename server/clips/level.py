"""What a clip measures before any gain, and the level at which its files are written."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dsp.filters.bank import Deviation
from dsp.sound import limiter, set_levels
from dsp.sound.levels import db
from dsp.sound.loudness import gated_lufs
from server.clips.plan import ClipPlan
from server.files.tags import ClipTags

NEAR_LU = 0.05
"""A clip within this of the target counts as on target: an encoder's overshoot may cost as much."""

LEAST_TOLD_DB = 0.05
"""Less reduction is as good as none."""


@dataclass(frozen=True)
class Measurement:
    """What was measured of a rendered clip before any gain.

    Attributes
    ----------
    block_powers : tuple of float
        K-weighted power of every gating block, V².
    true_peak : float
        Relative to a full scale of 1 V.
    error : Deviation
        Largest error of any filter of the clip.
    excess_db : float
        By how much its drive should give way; see `dsp.chain.run.Chain.excess_db`.
    lost_lu : tuple of float
        Loudness lost at the reductions of `dsp.sound.limiter.TRIED_DB`; empty without a limiter.
    settled_db : float
        Decay of the slowest mode by the time its bank was first heard, dB.
    """

    n_samples: int
    block_powers: tuple[float, ...]
    true_peak: float
    error: Deviation
    settled_db: float
    excess_db: float = 0.0
    lost_lu: tuple[float, ...] = ()

    @property
    def audible(self) -> bool:
        """Whether any gating block is loud enough for a loudness."""
        return math.isfinite(self.loudness_lufs())

    def loudness_lufs(self, gain_db: float = 0.0) -> float:
        """Integrated loudness after a gain, LUFS with 1 V as full scale."""
        return gated_lufs(np.asarray(self.block_powers) * 10.0 ** (gain_db / 10.0))

    def reduction_db(self, limiter_gain: float | None) -> float:
        """Return what a limiter takes off the highest peak, dB.

        Parameters
        ----------
        limiter_gain : float or None
            Factor before it; None without one.
        """
        return 0.0 if limiter_gain is None else limiter.reduction_db(self.true_peak, limiter_gain)

    def reached_lufs(self, gain: float, limiter_gain: float | None) -> float:
        """Return the loudness in the end, LUFS.

        Parameters
        ----------
        gain : float
            Factor, all in all.
        limiter_gain : float or None
            The part of it before the limiter, a factor; None without one.
        """
        lost_lu = limiter.lost_at(self.reduction_db(limiter_gain), self.lost_lu) if self.lost_lu else 0.0
        return self.loudness_lufs(db(gain)) - lost_lu


def set_gains(measured: Sequence[Measurement], target_lufs: float | None) -> list[float]:
    """Return each clip's own gain, before the gain that its whole set shares.

    Parameters
    ----------
    measured : sequence of Measurement
        Of all clips of the set.
    target_lufs : float or None
        None keeps the clips as wired: every gain is 1. If the peaks leave no room for the
        target, all clips come down together and stay matched to one another. With a limiter the
        gains are those before it, and it makes room.
    """
    if target_lufs is None:
        return [1.0] * len(measured)
    if any(one.lost_lu for one in measured):
        return set_levels.limited_gains(
            [
                set_levels.LimitedSound(
                    np.asarray(one.block_powers) if one.audible else None, one.true_peak, one.lost_lu
                )
                for one in measured
            ],
            target_lufs,
        )
    powers = [np.asarray(one.block_powers) if one.audible else None for one in measured]
    return set_levels.matching_gains(powers, [one.true_peak for one in measured], target_lufs)


def peak_of(measured: Measurement, gain: float) -> float:
    """Return the true peak behind a clip's gain (a factor) and limiter."""
    peak = measured.true_peak * gain
    return min(peak, 10.0 ** (limiter.LIMIT_DBTP / 20.0)) if measured.lost_lu else peak


def misses_loudness(
    measured: Measurement, target_lufs: float | None, gain: float, limiter_gain: float | None = None
) -> bool:
    """Whether a clip stays below its target.

    Parameters
    ----------
    gain, limiter_gain : float
        Factors; see `Measurement.reached_lufs`.
    """
    if target_lufs is None or not measured.audible:
        return False
    return measured.reached_lufs(gain, limiter_gain) < target_lufs - NEAR_LU


def level_text(
    measured: Measurement, target_lufs: float | None, gain: float, limiter_gain: float | None = None
) -> str:
    """Describe the level of a clip for its tags and the list of clips.

    Parameters
    ----------
    target_lufs : float or None
        None for as wired.
    gain : float
        Factor applied in the end.
    limiter_gain : float or None
        The part of it before a limiter; None without one.
    """
    if target_lufs is None:
        return "as wired"
    if not measured.audible:
        return "silent: nothing to match"
    reduced_db = measured.reduction_db(limiter_gain)
    limited = f", peaks limited by up to {reduced_db:.1f} dB" if reduced_db > LEAST_TOLD_DB else ""
    if misses_loudness(measured, target_lufs, gain, limiter_gain):
        reached = measured.reached_lufs(gain, limiter_gain)
        why = "true peak leaves no room"
        if limiter_gain is not None and db(gain / limiter_gain) > -LEAST_TOLD_DB:
            why = f"the limiter takes at most {limiter.MOST_DB:g} dB"
        return f"matched to {reached:.1f} LUFS (asked {target_lufs:g}: {why}){limited}"
    return f"matched to {target_lufs:g} LUFS{limited}"


def tags_of(plan: ClipPlan, *, wiring: str = "", level: str = "") -> ClipTags:
    """Return the tags of a clip's files.

    Parameters
    ----------
    wiring : str
        Name to use for the wiring; its own, or that of its file, if empty.
    level : str
        See `level_text`.
    """
    return ClipTags(
        wiring=wiring or plan.wiring.name or Path(plan.wiring.file).stem,
        position=plan.setting.position,
        settings=plan.settings_text,
        take=plan.performance.take.name or plan.performance.name,
        coil_places=plan.performance.coil_places(plan.wiring),
        level=level,
        through=plan.heard_text if plan.way.amplified else "",
        hum=plan.hum.text if plan.hum else "",
    )
