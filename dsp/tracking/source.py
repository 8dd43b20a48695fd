"""The known wiring that a recording was made through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.tracking.sensor import Sensor
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]

SILENT = 1e-6
"""Volts per volt; a coil that passes less contributed only noise to the recording."""


@dataclass(frozen=True)
class SourceWiring:
    """A wiring and its setting during the recording."""

    wiring: Wiring
    setting: Setting

    def sensor(self, frequencies_hz: Floats, signal_left: Floats | None = None) -> Sensor:
        """Return the sensor at frequencies, with the coils that reach the jack.

        Parameters
        ----------
        frequencies_hz : ndarray, shape (n_freqs,)
        signal_left : ndarray, shape (n_freqs,), or None
            As in `Sensor`.
        """
        responses = respond(self.wiring, [self.setting], frequencies_hz).coil[0]
        audible = np.max(np.abs(responses), axis=1) > SILENT
        coils = tuple(coil for coil, one in zip(self.wiring.coils.values(), audible, strict=True) if one)
        return Sensor(frequencies_hz, coils, responses[audible], signal_left=signal_left)
