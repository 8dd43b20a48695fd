"""Stems on their way to a customer: 16-bit FLAC with one gain per take, an eighth of their bytes as floats.

Lossy coders are out of the question: coils that cancel leave the coder's noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from server.bench.hearing import RATE_HZ
from server.files.audio_out import flac_bytes
from server.files.cache import kept_bytes

KIND = "sent_stems"
MOST_BYTES = 256 << 20
CHANNELS = 2
"""Of a file: browsers agree on the order of two, and the coder uses what two coils have in common."""
TOP = 2**15 - 1


@dataclass(frozen=True)
class SentStems:
    """The stems of a take as files.

    Attributes
    ----------
    digest : str
        Of coils and samples.
    files : tuple of bytes
        FLAC, two coils each, in order.
    gain : float
        From full scale to volts.
    """

    digest: str
    files: tuple[bytes, ...]
    gain: float


def send_stems(samples: NDArray[np.float32], digest: str) -> SentStems:
    """Encode stems, or take them from the cache.

    Parameters
    ----------
    samples : ndarray, shape (n_coils, n_samples), volt
    digest : str
        Of coils and samples.
    """
    peak = float(np.max(np.abs(samples), initial=0.0)) or 1.0
    gain = peak * 2**15 / TOP

    def encoded(first: int) -> bytes:
        rows = samples[first : first + CHANNELS].T.astype(float)
        return flac_bytes(np.round(rows * (TOP / peak)).astype(np.int16), RATE_HZ)

    files = [
        kept_bytes(KIND, f"{digest}-{first}", "flac", partial(encoded, first), MOST_BYTES)
        for first in range(0, len(samples), CHANNELS)
    ]
    return SentStems(digest, tuple(files), gain)
