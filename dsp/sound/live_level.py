"""Loudness of a setting without rendering: from stem spectra and the bank's response.

A take's K-weighted cross spectra of all coils are computed once, per gating block and narrow band.
The block powers at the output of any bank are then one matrix times one vector. The gates of
BS.1770 apply to these powers as to measured ones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import Complex
from dsp.filters.bank import Bank
from dsp.sound.levels import Floats
from dsp.sound.loudness import HOP_S, HOPS_PER_BLOCK, SILENT, gain_db_to_match, gated_lufs, is_loud, k_power

TARGET_LUFS = -20.0
"""Loudness of matched settings, and of the loudest position as wired, where the page's slider starts.
It leaves headroom for the peaks of a plucked string."""
MOST_MONITOR_DB = 40.0
"""Upper bound of the monitor gain: beyond it one would turn up the noise of a recording."""
FRAMES_PER_HOP = 4
"""Short frames keep power within its block: with 200 ms frames a decaying note reads 0.6 LU too loud."""
BANDS_HZ = (20.0, 22_000.0)
PER_OCTAVE = 12
"""Bands of a semitone: a coil's resonance is several times wider."""
MOST_NUMBERS = 3_000_000
"""Size of a take's table. A longer take uses fewer of its overlapping blocks, evenly spread."""


@dataclass(frozen=True)
class TakeSpectra:
    """Cross spectra of a take's stems, K-weighted, per gating block and band.

    Attributes
    ----------
    centres_hz : ndarray, shape (n_bands,), Hz
        Middle of each band.
    table : ndarray, shape (n_blocks, n_bands * n_coils**2), V²
        Per band the coils' powers, then twice the real, then twice the imaginary parts of the
        cross powers of every pair of coils.
    """

    rate_hz: float
    centres_hz: Floats
    table: NDArray[np.float32]

    def heard(self, power: Floats) -> TakeSpectra:
        """Return the spectra of the take as heard behind filters.

        Parameters
        ----------
        power : ndarray, shape (n_bands,)
            What the filters make of the power in each band; see `clean_power`.
        """
        per_band = self.table.shape[1] // len(power)
        return replace(self, table=self.table * np.repeat(power, per_band).astype(np.float32))

    def loudness_lufs(self, bank: Bank, *, gain_db: float = 0.0) -> float:
        """Return the integrated loudness at a bank's output; 1 V is full scale.

        Parameters
        ----------
        gain_db : float
            After the bank.

        Returns
        -------
        float
            LUFS; minus infinity if no block exceeds the absolute gate.
        """
        return gated_lufs(self._block_powers(bank) * 10.0 ** (gain_db / 10.0))

    def match_gain_db(self, bank: Bank, behind: Complex | None = None) -> float:
        """Return the gain after a bank that brings it to `TARGET_LUFS`.

        Parameters
        ----------
        behind : ndarray, shape (n_bands,), or None
            Response of what is heard behind the bank, at `centres_hz`.

        Returns
        -------
        float
            dB; infinite for silence.
        """
        return match_gain_db(self._block_powers(bank, behind))

    def loud_powers(self, bank: Bank) -> tuple[Floats, Floats]:
        """Return mean powers for a page that knows no blocks.

        The mean runs over the blocks that the gates of BS.1770 leave at a setting, of the coils' summed
        powers where that is silent. A setting's loudness is then one sum, right at this one.

        Parameters
        ----------
        bank : Bank
            Filters of the setting.

        Returns
        -------
        hz : ndarray, shape (n_bands,)
        values : ndarray, shape (n_bands * n_coils**2,), V²
            As a row of the table.
        """
        power = self._block_powers(bank)
        if power.max(initial=0.0) <= SILENT:
            n_coils = len(bank.taps)
            rows = self.table.reshape(len(self.table), len(self.centres_hz), -1)
            power = rows[:, :, :n_coils].sum(axis=(1, 2)).astype(float)
        loud = is_loud(power / max(float(power.max(initial=0.0)), SILENT))
        values = self.table[loud].mean(axis=0, dtype=float) if loud.any() else np.zeros(self.table.shape[1])
        return self.centres_hz, values

    def _block_powers(self, bank: Bank, behind: Complex | None = None) -> Floats:
        response = bank.response(self.centres_hz)
        if behind is not None:
            response = response * behind
        first, second = np.triu_indices(len(response), 1)
        pairs = response[first] * response[second].conj()
        weights = np.concatenate([np.abs(response) ** 2, pairs.real, -pairs.imag]).T
        power = self.table @ weights.astype(np.float32).ravel()
        found: Floats = np.maximum(power.astype(float), 0.0)
        return found


def match_gain_db(power: Floats) -> float:
    """Return the gain that brings gating blocks to `TARGET_LUFS`.

    Parameters
    ----------
    power : ndarray, shape (n_blocks,), full scale 1 squared
        K-weighted.

    Returns
    -------
    float
        dB; infinite for silence.
    """
    return gain_db_to_match(power, TARGET_LUFS) if power.max(initial=0.0) > SILENT else math.inf


def monitor_gain_db(match_gains_db: Iterable[float]) -> float:
    """Return the one gain with which all positions of a take are heard.

    It brings the loudest position to `TARGET_LUFS`. The others keep their distance to it.

    Parameters
    ----------
    match_gains_db : iterable of float
        Of each position: the gain that brings it to `TARGET_LUFS`; infinite for silence.

    Returns
    -------
    float
        At most `MOST_MONITOR_DB`; infinite if every position is silent.

    Examples
    --------
    >>> monitor_gain_db([5.5, 12.0, math.inf]), monitor_gain_db([61.0]), monitor_gain_db([math.inf])
    (5.5, 40.0, inf)
    """
    least = min(match_gains_db, default=math.inf)
    return min(least, MOST_MONITOR_DB) if math.isfinite(least) else math.inf


def take_spectra(stems: NDArray[np.floating], rate_hz: float) -> TakeSpectra:
    """Compute the spectra of a take's stems.

    Parameters
    ----------
    stems : ndarray, shape (n_coils, n_samples), volt

    Notes
    -----
    Frames of 50 ms with a sine window, one every 25 ms. The squares of overlapping windows add up to
    1, so the frames preserve the signal's power.
    """
    step = round(HOP_S * rate_hz / FRAMES_PER_HOP)
    length = 2 * step
    n_coils, n = stems.shape
    n_hops = max(math.ceil(n / (FRAMES_PER_HOP * step)), HOPS_PER_BLOCK)
    padded = np.zeros((n_coils, (FRAMES_PER_HOP * n_hops + 1) * step))
    padded[:, step // 2 : step // 2 + n] = stems  # centres each frame on its share of the hop
    window = np.sin(np.pi * (np.arange(length) + 0.5) / length)
    hz = np.asarray(np.fft.rfftfreq(length, 1.0 / rate_hz), float)
    inside, starts = _bands(hz)
    weight = (2.0 / (length * step * FRAMES_PER_HOP)) * k_power(hz[inside], rate_hz)
    hops = np.empty((n_hops, len(starts), n_coils**2))
    for i in range(n_hops):
        first = i * FRAMES_PER_HOP * step
        rows = [padded[:, at : at + length] for at in range(first, first + FRAMES_PER_HOP * step, step)]
        spectra = np.fft.rfft(np.stack(rows) * window)[:, :, inside]
        hops[i] = _crossed(spectra, weight, starts).T
    return TakeSpectra(rate_hz, _centres(hz[inside], starts), _blocks(hops.reshape(n_hops, -1)))


def _bands(hz: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the bins within the bands, and the first of each band with bins."""
    inside = np.flatnonzero((hz >= BANDS_HZ[0]) & (hz <= BANDS_HZ[1]))
    band = np.floor(PER_OCTAVE * np.log2(hz[inside] / BANDS_HZ[0])).astype(int)
    return inside, np.flatnonzero(np.diff(band, prepend=-1))


def _crossed(spectra: NDArray[np.complex128], weight: Floats, starts: NDArray[np.intp]) -> Floats:
    """Sum powers and twice the cross powers over frames, per band, (n_coils**2, n_bands)."""
    first, second = np.triu_indices(spectra.shape[1], 1)
    own = np.sum(np.abs(spectra) ** 2, axis=0)
    pairs = 2.0 * np.sum(spectra[:, first] * spectra[:, second].conj(), axis=0)
    every = np.concatenate([own, pairs.real, pairs.imag])
    return np.add.reduceat(every * weight, starts, axis=1)


def _blocks(hops: Floats) -> NDArray[np.float32]:
    """Average four hops per block; blocks start every hop, or less often for long takes."""
    n_blocks = len(hops) - HOPS_PER_BLOCK + 1
    every = max(1, math.ceil(n_blocks * hops.shape[1] / MOST_NUMBERS))
    starts = range(0, n_blocks, every)
    return np.array([hops[i : i + HOPS_PER_BLOCK].mean(axis=0) for i in starts], np.float32)


def _centres(hz: Floats, starts: NDArray[np.intp]) -> Floats:
    """Return the mean frequency of each band's bins, Hz."""
    counts = np.diff(np.append(starts, len(hz)))
    centres: Floats = np.add.reduceat(hz, starts) / counts
    return centres
