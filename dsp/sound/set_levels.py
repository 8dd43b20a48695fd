"""Match a set of sounds in loudness, with their peaks below the ceiling."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.sound.levels import db
from dsp.sound.loudness import gain_db_to_match
from dsp.sound.peak import gain_for_ceiling

Floats = NDArray[np.float64]
ROUNDS = 3
"""Iterations of lowering the target: each moves the gates a little, and so the gains."""


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
