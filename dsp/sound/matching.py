"""Loudness of a setting without rendering it: from the stems' spectra and the bank's response.

The K-weighted cross spectra of all coils are taken once for a take, block by block and pooled
into narrow bands. The power of every gating block at the output of any bank is then one matrix
times one vector, and the gates of BS.1770 are applied to these powers as to measured ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.filters.bank import Bank
from dsp.sound.levels import Floats
from dsp.sound.loudness import GATE_LUFS, HOP_S, HOPS_PER_BLOCK, OFFSET_LU, RELATIVE_GATE, k_filter

TARGET_LUFS = -20.0
"""Loudness that settings are matched to for comparing; leaves room for the peaks of a plucked string."""
BANDS_HZ = (20.0, 22_000.0)
PER_OCTAVE = 12
"""Bands a semitone wide: a resonance of a guitar coil is several times wider than that."""
MOST_NUMBERS = 3_000_000
"""Of a take's table. A longer take is judged by fewer of its overlapping blocks, evenly spread."""


@dataclass(frozen=True)
class TakeSpectra:
    """Cross spectra of a take's stems, K-weighted, per gating block and band.

    Attributes
    ----------
    rate_hz : float
    centres_hz : ndarray, shape (n_bands,), Hz
        Middle of each band.
    table : ndarray, shape (n_blocks, n_bands * n_coils**2), V²
        Per band the coils' powers, then twice the real, then twice the imaginary parts of the
        cross powers of every pair of coils.
    """

    rate_hz: float
    centres_hz: Floats
    table: NDArray[np.float32]

    def loudness_lufs(self, bank: Bank) -> float:
        """Integrated loudness at the output of a bank, 1 V as full scale.

        Parameters
        ----------
        bank : Bank

        Returns
        -------
        float
            LUFS; minus infinity where no block exceeds the absolute gate.
        """
        response = bank.response(self.centres_hz)
        first, second = np.triu_indices(len(response), 1)
        pairs = response[first] * response[second].conj()
        weights = np.concatenate([np.abs(response) ** 2, pairs.real, -pairs.imag]).T
        power = self.table @ weights.astype(np.float32).ravel()
        return _gated(np.maximum(power.astype(float), 0.0))


def _gated(power: Floats) -> float:
    """Both gates of BS.1770 over block powers."""
    heard = power[power >= 10.0 ** ((GATE_LUFS - OFFSET_LU) / 10.0)]
    if not heard.size:
        return -math.inf
    kept = heard[heard > RELATIVE_GATE * heard.mean()]
    return OFFSET_LU + 10.0 * math.log10(kept.mean())


def take_spectra(stems: NDArray[np.floating], rate_hz: float) -> TakeSpectra:
    """The spectra of a take's stems.

    Parameters
    ----------
    stems : ndarray, shape (n_coils, n_samples), volt
    rate_hz : float

    Returns
    -------
    TakeSpectra

    Notes
    -----
    Frames two hops long under a sine window: the squares of overlapping windows add up to one,
    so the frames share the signal's power among them without loss.
    """
    hop = round(HOP_S * rate_hz)
    length = 2 * hop
    n_coils, n = stems.shape
    n_hops = max(math.ceil(n / hop), HOPS_PER_BLOCK)
    padded = np.zeros((n_coils, (n_hops + 2) * hop))
    padded[:, hop : hop + n] = stems  # half a frame of silence before, so the first hop counts whole
    window = np.sin(np.pi * (np.arange(length) + 0.5) / length)
    hz = np.asarray(np.fft.rfftfreq(length, 1.0 / rate_hz), float)
    inside, starts = _bands(hz)
    weight = (2.0 / (length * hop)) * _k_power(hz[inside], rate_hz)
    hops = np.empty((n_hops, len(starts), n_coils**2))
    for i in range(n_hops):
        spectrum = np.fft.rfft(padded[:, i * hop : i * hop + length] * window)[:, inside]
        hops[i] = _crossed(spectrum, weight, starts).T
    blocks = _blocks(hops.reshape(n_hops, -1))
    return TakeSpectra(rate_hz, _centres(hz[inside], starts), blocks)


def _bands(hz: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Bins within the bands, and the first of each band that has any."""
    inside = np.flatnonzero((hz >= BANDS_HZ[0]) & (hz <= BANDS_HZ[1]))
    band = np.floor(PER_OCTAVE * np.log2(hz[inside] / BANDS_HZ[0])).astype(int)
    return inside, np.flatnonzero(np.diff(band, prepend=-1))


def _crossed(spectrum: NDArray[np.complex128], weight: Floats, starts: NDArray[np.intp]) -> Floats:
    """Powers and twice the cross powers per band, (n_coils**2, n_bands)."""
    first, second = np.triu_indices(len(spectrum), 1)
    pairs = 2.0 * spectrum[first] * spectrum[second].conj()
    every = np.concatenate([np.abs(spectrum) ** 2, pairs.real, pairs.imag])
    return np.add.reduceat(every * weight, starts, axis=1)


def _blocks(hops: Floats) -> NDArray[np.float32]:
    """Means of four hops, one hop on from block to block, or more where that would be too much."""
    n_blocks = len(hops) - HOPS_PER_BLOCK + 1
    every = max(1, math.ceil(n_blocks * hops.shape[1] / MOST_NUMBERS))
    starts = range(0, n_blocks, every)
    return np.array([hops[i : i + HOPS_PER_BLOCK].mean(axis=0) for i in starts], np.float32)


def _centres(hz: Floats, starts: NDArray[np.intp]) -> Floats:
    """Middle of each band's bins, Hz."""
    counts = np.diff(np.append(starts, len(hz)))
    centres: Floats = np.add.reduceat(hz, starts) / counts
    return centres


def _k_power(hz: Floats, rate_hz: float) -> Floats:
    """Squared response of the K filter."""
    back = np.exp(-2j * np.pi * hz / rate_hz)
    power = np.ones(len(hz))
    for section in k_filter(rate_hz):
        above = section[0] + section[1] * back + section[2] * back**2
        below = section[3] + section[4] * back + section[5] * back**2
        power *= np.abs(above / below) ** 2
    return power
