"""What a wiring's coils hear in a take, as the search for sounds wants it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.sound.spectra import stem_spectra
from dsp.sound.timbre import ear_bands
from dsp.wiring.model import Wiring
from server.takes.load import load_take

RATE_HZ = 48_000


def spectra_of(take: Path, wiring: Wiring) -> NDArray[np.complex128]:
    """Cross-spectra of a take's stems, shape (n_sub_bands, n_coils, n_coils).

    Parameters
    ----------
    take : Path
    wiring : Wiring

    Raises
    ------
    InputError
        If the take cannot be used, or does not fit the wiring.
    """
    return stem_spectra(load_take(take).stems(wiring, RATE_HZ), float(RATE_HZ), ear_bands())
