"""How loud a sound is on an amplifier: K-weighted, through the clean way to hear it.

A bridge pickup's treble lies where tone controls and loudspeaker favour it. So levels between positions
are others than as wired, by up to 6 dB in the demo. The clean way is linear: a sound's spectrum and one
weight per frequency give its level, without rendering. The level has no absolute meaning, only differences.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from dsp.chain.run import respond_small
from dsp.chain.ways import WAYS
from dsp.circuit.reduction import Floats
from dsp.sound.loudness import TABLE_RATE_HZ, k_power
from dsp.sound.timbre import Bands


def clean_power(frequencies_hz: Floats) -> Floats:
    """Return the power response of clean, not K-weighted, shape (n_freqs,)."""
    return np.asarray(np.abs(respond_small(WAYS["clean"], frequencies_hz)) ** 2)


def clean_weights(frequencies_hz: Floats) -> Floats:
    """Return the K-weighted power of the clean way, shape (n_freqs,)."""
    return clean_power(frequencies_hz) * k_power(frequencies_hz, TABLE_RATE_HZ)


def clean_band_power(bands: Bands) -> Floats:
    """Return `clean_power` by band, mean of sub-bands, shape (n_bands,)."""
    return _by_band(tuple(bands.centres_hz.tolist()), bands.n_bands)[0]


def clean_level_db(energy: Floats, bands: Bands) -> Floats:
    """Return levels through clean from energies by band.

    Parameters
    ----------
    energy : ndarray, shape (..., n_bands)

    Returns
    -------
    ndarray, shape (...), LU
        Up to a constant; very low for silence.
    """
    weights = _by_band(tuple(bands.centres_hz.tolist()), bands.n_bands)[1]
    return np.asarray(10.0 * np.log10(np.maximum(energy @ weights, 1e-300)))


@cache
def _by_band(centres_hz: tuple[float, ...], n_bands: int) -> tuple[Floats, Floats]:
    hz = np.array(centres_hz)
    power = clean_power(hz)
    plain, weighted = (
        one.reshape(n_bands, -1).mean(axis=1) for one in (power, power * k_power(hz, TABLE_RATE_HZ))
    )
    plain.flags.writeable = weighted.flags.writeable = False  # shared by whoever asks
    return plain, weighted
