"""Integrated loudness by ITU-R BS.1770, block by block.

The K filter's coefficients come from pyloudnorm's "DeMan" class, whose default class reads
0.04 LU low. Its 48 kHz coefficients are the standard's table; at other rates its high-pass
keeps the table's numerator 1, -2, 1 and so a pass-band gain that moves with the rate
(0.022 dB low at 96 kHz), whereas the standard asks for the 48 kHz response at every rate:
the difference is taken out here. Filtering and gating are done in blocks, since pyloudnorm
holds two further copies of the signal, too many for ten minutes at 96 kHz.

References
----------
ITU-R BS.1770-5 (2023), annex 1: equations 1-7.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.levels import WindowPower

Floats = NDArray[np.float64]

OFFSET_LU = -0.691
GATE_LUFS = -70.0
RELATIVE_GATE = 10.0 ** (-10.0 / 10.0)
HOP_S = 0.1
HOPS_PER_BLOCK = 4  # 400 ms blocks, 75 % overlap
CHANNEL_WEIGHTS = (1.0, 1.0, 1.0, 1.41, 1.41)  # left, right, centre, left and right surround
TABLE_RATE_HZ = 48000.0
AT_ONCE = 1 << 16  # frames; bounds the memory whatever the caller hands over
SILENT = 1e-20
"""Power of a tenth of a nanovolt where 1 V is full scale: far below any noise."""
STEPS = 4
"""Of finding a gain: each moves the gate by what the last one was off; two are nearly always enough."""
DENORMAL = 1e-30  # far below anything audible; keeps the filter out of slow denormal arithmetic


def k_filter(rate_hz: float) -> Floats:
    """Second-order sections of the K weighting, shape (2, 6), at any rate."""
    from pyloudnorm import Meter

    def stages(rate: float) -> list[Floats]:
        meter = Meter(rate, filter_class="DeMan")
        return [np.concatenate([stage.b, stage.a]) for stage in meter._filters.values()]

    sections = np.array(stages(rate_hz))
    sections[1, :3] *= _gain_at_nyquist(stages(TABLE_RATE_HZ)[1]) / _gain_at_nyquist(sections[1])
    return sections


def _gain_at_nyquist(section: Floats) -> float:
    """Pass-band gain of a high-pass section: its response at z = -1."""
    signs = np.array([1.0, -1.0, 1.0])
    return float(section[:3] @ signs / (section[3:] @ signs))


class LoudnessMeter:
    """Measures integrated loudness of a signal that comes in blocks.

    Parameters
    ----------
    channels : int
        1 to 5, in the order left, right, centre, left surround, right surround.

    Raises
    ------
    InputError
        For another number of channels.
    """

    def __init__(self, rate_hz: float, channels: int = 1) -> None:
        if not 1 <= channels <= len(CHANNEL_WEIGHTS):
            raise InputError("loudness", f"{channels} channels", f"1 to {len(CHANNEL_WEIGHTS)} channels")
        self._weights = np.array(CHANNEL_WEIGHTS[:channels])
        self._sections = k_filter(rate_hz)
        self._state = np.zeros((len(self._sections), 2, channels))
        self._windows = WindowPower(rate_hz, HOP_S)

    def add(self, samples: Floats) -> None:
        """Take the next block, shape (n,) or (n, channels), full scale 1."""
        from scipy.signal import sosfilt

        frames = samples.reshape(len(samples), len(self._weights))
        for start in range(0, len(frames), AT_ONCE):
            weighted, self._state = sosfilt(
                self._sections, frames[start : start + AT_ONCE], axis=0, zi=self._state
            )
            self._state[np.abs(self._state) < DENORMAL] = 0.0
            self._windows.add((np.square(weighted) @ self._weights)[:, None])

    @property
    def is_padded(self) -> bool:
        """True when silence had to fill the first gating block."""
        return len(self._windows.full_sums()) < HOPS_PER_BLOCK

    def integrated_lufs(self) -> float:
        """Integrated loudness so far, LUFS; see `integrated_lufs`."""
        return gated_lufs(self._block_powers())

    def block_powers(self) -> tuple[float, ...]:
        """K-weighted power of each gating block so far, full scale squared."""
        return tuple(float(f"{power:.4e}") for power in self._block_powers())

    def _block_powers(self) -> Floats:
        hops = self._windows.full_sums()[:, 0]
        block_frames = HOPS_PER_BLOCK * self._windows.frames_per_window
        if self.is_padded:
            return np.atleast_1d(hops.sum() + np.sum(self._windows.open_sum())) / block_frames
        return np.convolve(hops, np.ones(HOPS_PER_BLOCK), mode="valid") / block_frames


def gated_lufs(power: Floats) -> float:
    """Integrated loudness of gating blocks' powers: both gates of BS.1770.

    Parameters
    ----------
    power : ndarray, shape (n_blocks,), full scale 1 squared
        K-weighted.

    Returns
    -------
    float
        LUFS; minus infinity where no block reaches -70 LUFS.
    """
    heard = power[power >= 10.0 ** ((GATE_LUFS - OFFSET_LU) / 10.0)]
    if not heard.size:
        return -math.inf
    kept = heard[heard > RELATIVE_GATE * heard.mean()]
    return OFFSET_LU + 10.0 * math.log10(kept.mean())


def integrated_lufs(samples: Floats, rate_hz: float) -> float:
    """Integrated loudness of a whole signal, LUFS (ITU-R BS.1770).

    Parameters
    ----------
    samples : ndarray, shape (n,) or (n, channels), full scale 1
        One to five channels.

    Returns
    -------
    float
        LUFS; minus infinity for silence, that is when no block exceeds -70 LUFS. A signal
        shorter than one 400 ms gating block has no integrated loudness in the standard's
        sense: it is then read as if silence filled the block, as a meter reads a file
        played into silence (`LoudnessMeter.padded` tells). A last block that is not full
        is left out, as the standard asks.

    Raises
    ------
    InputError
        For more than five channels.
    """
    meter = LoudnessMeter(rate_hz, samples.shape[1] if samples.ndim == 2 else 1)
    meter.add(samples)
    return meter.integrated_lufs()


def gain_db_to_match(power: Floats, target_lufs: float) -> float:
    """Gain that brings gating blocks to a loudness, dB.

    Parameters
    ----------
    power : ndarray, shape (n_blocks,), full scale 1 squared
        K-weighted, before the gain.
    target_lufs : float
        Integrated loudness, LUFS.

    Returns
    -------
    float
        The absolute gate does not move with the level, so the loudness found at one gain is not
        quite that at another: the gain is found in a few steps, from where the loudest block
        alone would be right.

    Raises
    ------
    InputError
        When there is nothing to match: silence.
    """
    loudest = float(np.max(power, initial=0.0))
    if loudest <= SILENT:
        raise InputError("loudness", "silence", "a clip that is not silent", "silence has no level to match")
    gain_db = target_lufs - OFFSET_LU - 10.0 * math.log10(loudest)
    for _ in range(STEPS):
        gain_db += target_lufs - gated_lufs(power * 10.0 ** (gain_db / 10.0))
    return gain_db
