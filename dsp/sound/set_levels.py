"""Match a set of sounds in loudness, with their peaks below the ceiling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.sound.levels import db
from dsp.sound.limiter import MOST_DB, lost_at, reduction_db
from dsp.sound.loudness import gain_db_to_match
from dsp.sound.peak import gain_for_ceiling

Floats = NDArray[np.float64]
LIMITED_ROUNDS = 20
NEAR_DB = 0.005
ROUNDS = 3
"""Iterations of lowering the target: each moves the gates a little, and so the gains."""


@dataclass(frozen=True)
class LimitedSound:
    """What a limiter needs to know of one sound of a set.

    Attributes
    ----------
    block_powers : ndarray or None
        As for `matching_gains`.
    true_peak : float
        Before the gain, full scale 1.
    lost_lu : sequence of float
        Loudness lost at `dsp.sound.limiter.TRIED_DB`.
    """

    block_powers: Floats | None
    true_peak: float
    lost_lu: Sequence[float]


def limited_gains(sounds: Sequence[LimitedSound], target_lufs: float) -> list[float]:
    """Return the gains before a limiter that bring all to one loudness.

    Returns
    -------
    list of float
        Factors. If a sound would lose more than `MOST_DB`, all come down together, so that they still
        match one another.

    Raises
    ------
    InputError
        If one of the sounds is silent.
    """
    down_db, gains = 0.0, [1.0] * len(sounds)
    for _ in range(LIMITED_ROUNDS):
        gains = [_limited_gain(one, target_lufs - down_db, -down_db) for one in sounds]
        reduced = [reduction_db(one.true_peak, gain) for one, gain in zip(sounds, gains, strict=True)]
        over_db = max(reduced, default=0.0) - MOST_DB
        if over_db <= 0.0:
            break
        down_db += over_db + NEAR_DB
    return gains


def _limited_gain(sound: LimitedSound, target_lufs: float, silent_db: float) -> float:
    if sound.block_powers is None:
        return float(10.0 ** (silent_db / 20.0))
    gain = 0.0
    lost_lu = 0.0
    for _ in range(LIMITED_ROUNDS):
        gain = 10.0 ** (gain_db_to_match(sound.block_powers, target_lufs + lost_lu) / 20.0)
        found_lu = lost_at(reduction_db(sound.true_peak, gain), sound.lost_lu)
        if abs(found_lu - lost_lu) < NEAR_DB:
            break
        lost_lu = found_lu
    return float(gain)


def matching_gains(
    block_powers: Sequence[Floats | None], true_peaks: Sequence[float], target_lufs: float
) -> list[float]:
    """Return the gain of each sound that brings all to one loudness.

    Parameters
    ----------
    block_powers : sequence of ndarray or None
        Per sound, K-weighted powers of its gating blocks, full scale squared. None for a sound
        without loudness, which gets the gain of the set alone.
    true_peaks : sequence of float
        Before the gain, full scale 1.

    Returns
    -------
    list of float
        Factors. If the peaks leave too little headroom for the target, all gains fall together, so
        that the sounds still match one another.

    Raises
    ------
    InputError
        If one of the sounds is silent.
    """
    gains, room, down_db = [1.0] * len(block_powers), 1.0, 0.0
    for _ in range(ROUNDS):
        lufs = target_lufs + down_db
        gains_db = [down_db if one is None else gain_db_to_match(one, lufs) for one in block_powers]
        gains = [10.0 ** (gain_db / 20.0) for gain_db in gains_db]
        peaks = [peak * gain for peak, gain in zip(true_peaks, gains, strict=True)]
        room = gain_for_ceiling(max(peaks, default=0.0))
        if room >= 1.0:
            break
        down_db += db(room)
    return [gain * room for gain in gains]
