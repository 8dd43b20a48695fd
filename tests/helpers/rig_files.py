"""Recordings of the simulated rig as files, as a technician brings them."""

from __future__ import annotations

import io
from functools import cache

import numpy as np
import soundfile
from numpy.typing import NDArray
from rig import RATE_HZ, Impedance, Rig, coil_ohm, opened, resistor, shorted

from dsp.measuring.tone import make_tone

VALUES = (6200.0, 2.35, 118e-12, (0.5, 9000.0))
"""Resistance, inductance, capacitance and one loss of the coil at the rig."""
KNOWN_OHM = 99_870.0
PARTS: dict[str, Impedance] = {
    "open": opened,
    "short": shorted,
    "known": resistor(KNOWN_OHM),
    "coil": coil_ohm(*VALUES),
}


def wav_of(samples: NDArray[np.float64], rate_hz: int = RATE_HZ) -> bytes:
    """Return channels as a WAV file of 24 bits."""
    held = io.BytesIO()
    soundfile.write(held, samples.T, rate_hz, subtype="PCM_24", format="WAV")
    return held.getvalue()


@cache
def recording(step: str, *, seconds: int = 4) -> NDArray[np.float64]:
    """Return two channels of one step."""
    return Rig().record(PARTS[step], make_tone(RATE_HZ, seconds), list(PARTS).index(step))


def rig_file(step: str) -> bytes:
    """Return the file of one step."""
    return wav_of(recording(step))
