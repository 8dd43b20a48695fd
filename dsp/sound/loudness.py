"""Measure integrated loudness by ITU-R BS.1770, block by block.

The K filter's coefficients come from pyloudnorm's "DeMan" class; its default class reads 0.04 LU
low. At 48 kHz they are the standard's table. At other rates its high-pass keeps the numerator
1, -2, 1, so that its pass-band gain changes with the rate (0.022 dB low at 96 kHz). The standard
requires the 48 kHz response at every rate, so this module corrects the gain. It filters and gates
in blocks, because pyloudnorm's two copies of the signal need too much memory for ten minutes at
96 kHz.

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
TABLE = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585),
    (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621),
)
"""Sections of the K weighting at `TABLE_RATE_HZ`: tables 1 and 2 of annex 1."""
AT_ONCE = 1 << 16  # frames; bounds the memory whatever the caller hands over
SILENT = 1e-20
"""Power of 0.1 nV re 1 V: far below any noise."""
STEPS = 4
"""Iterations to find a gain; two nearly always suffice."""
DENORMAL = 1e-30  # far below anything audible; keeps the filter out of slow denormal arithmetic


def k_filter(rate_hz: float) -> Floats:
    """Return the second-order sections of the K weighting, shape (2, 6)."""
    from pyloudnorm import Meter

    def stages(rate: float) -> list[Floats]:
        meter = Meter(rate, filter_class="DeMan")
        return [np.concatenate([stage.b, stage.a]) for stage in meter._filters.values()]

    sections = np.array(stages(rate_hz))
    sections[1, :3] *= _gain_at_nyquist(stages(TABLE_RATE_HZ)[1]) / _gain_at_nyquist(sections[1])
    return sections


def _gain_at_nyquist(section: Floats) -> float:
    """Return the pass-band gain of a high-pass section, its response at z = -1."""
    signs = np.array([1.0, -1.0, 1.0])
    return float(section[:3] @ signs / (section[3:] @ signs))


def k_power(frequencies_hz: Floats, rate_hz: float) -> Floats:
    """Return the K weighting of power, shape of frequencies_hz.

    At 48 kHz by the standard's table itself, which loads no library.
    """
    back = np.exp(-2j * np.pi * frequencies_hz / rate_hz)
    power = np.ones(back.shape)
    for section in TABLE if rate_hz == TABLE_RATE_HZ else k_filter(rate_hz):
        above = section[0] + section[1] * back + section[2] * back**2
        below = section[3] + section[4] * back + section[5] * back**2
        power *= np.abs(above / below) ** 2
    return power


class LoudnessMeter:
    """Measures the integrated loudness of a signal, block by block.

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
        """Add the next block, shape (n,) or (n, channels), full scale 1."""
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
        """Whether silence had to fill the first gating block."""
        return len(self._windows.full_sums()) < HOPS_PER_BLOCK

    def integrated_lufs(self) -> float:
        """Return the integrated loudness so far, LUFS; see `integrated_lufs`."""
        return gated_lufs(self._block_powers())

    def block_powers(self) -> tuple[float, ...]:
        """Return the power of each gating block so far, full scale squared."""
        return tuple(float(f"{power:.4e}") for power in self._block_powers())

    def _block_powers(self) -> Floats:
        hops = self._windows.full_sums()[:, 0]
        block_frames = HOPS_PER_BLOCK * self._windows.frames_per_window
        if self.is_padded:
            return np.atleast_1d(hops.sum() + np.sum(self._windows.open_sum())) / block_frames
        return np.convolve(hops, np.ones(HOPS_PER_BLOCK), mode="valid") / block_frames


def gated_lufs(power: Floats) -> float:
    """Return the integrated loudness of block powers, by both BS.1770 gates.

    Parameters
    ----------
    power : ndarray, shape (n_blocks,), full scale 1 squared
        K-weighted.

    Returns
    -------
    float
        LUFS; minus infinity where no block reaches -70 LUFS.
    """
    loud = is_loud(power)
    return OFFSET_LU + 10.0 * math.log10(power[loud].mean()) if loud.any() else -math.inf


def is_loud(power: Floats) -> NDArray[np.bool_]:
    """Return which blocks both gates of BS.1770 leave, shape (n_blocks,).

    Parameters
    ----------
    power : ndarray, shape (n_blocks,), full scale 1 squared
        K-weighted.
    """
    heard = power >= 10.0 ** ((GATE_LUFS - OFFSET_LU) / 10.0)
    found: NDArray[np.bool_] = (
        heard & (power > RELATIVE_GATE * np.mean(power, where=heard)) if heard.any() else heard
    )
    return found


def integrated_lufs(samples: Floats, rate_hz: float) -> float:
    """Return the integrated loudness of a signal, LUFS (ITU-R BS.1770).

    Parameters
    ----------
    samples : ndarray, shape (n,) or (n, channels), full scale 1
        One to five channels.

    Returns
    -------
    float
        LUFS; minus infinity if no block exceeds -70 LUFS. The standard defines no loudness for a
        signal shorter than one 400 ms gating block: silence then fills the block, as for a meter
        that reads a file played into silence (see `LoudnessMeter.is_padded`). An incomplete last
        block is left out, as the standard requires.

    Raises
    ------
    InputError
        For more than five channels.

    Examples
    --------
    A sine of 997 Hz at full scale reads -3.01 LUFS (BS.1770-5, annex 1):

    >>> sine = np.sin(2.0 * np.pi * 997.0 / 48_000.0 * np.arange(48_000))
    >>> round(integrated_lufs(sine, 48_000.0), 2)
    -3.01
    """
    meter = LoudnessMeter(rate_hz, samples.shape[1] if samples.ndim == 2 else 1)
    meter.add(samples)
    return meter.integrated_lufs()


def gain_db_to_match(power: Floats, target_lufs: float) -> float:
    """Return the gain that brings gating blocks to a loudness, dB.

    Parameters
    ----------
    power : ndarray, shape (n_blocks,), full scale 1 squared
        K-weighted, before the gain.
    target_lufs : float
        Integrated loudness, LUFS.

    Returns
    -------
    float
        The absolute gate does not move with the level, so loudness is not quite proportional to
        gain. A few iterations find it, starting from the loudest block alone.

    Raises
    ------
    InputError
        If the blocks are silent.
    """
    loudest = float(np.max(power, initial=0.0))
    if loudest <= SILENT:
        raise InputError(
            "loudness", "silence", "a clip that is not silent", "silence has no loudness to match"
        )
    gain_db = target_lufs - OFFSET_LU - 10.0 * math.log10(loudest)
    for _ in range(STEPS):
        gain_db += target_lufs - gated_lufs(power * 10.0 ** (gain_db / 10.0))
    return gain_db
