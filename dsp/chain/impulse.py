"""A loudspeaker of one's own: a measured impulse response in place of the model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dsp.chain.speaker import respond_speaker
from dsp.circuit.reduction import Complex, Floats
from dsp.errors import InputError

LONGEST_S = 1.0
"""A loudspeaker dies away within 0.1 s; what is longer is a room."""
ONSET_DB = -40.0
"""The sound starts where it first comes within this of its peak; before lies the way to the microphone."""
LEAD_S = 0.5e-3
"""Kept before the onset: the first slope."""
LEVEL_HZ = (100.0, 5000.0)
"""Between them it is made as loud as the model, in the mean over octaves."""


@dataclass(frozen=True, eq=False)
class Cabinet:
    """An impulse response, made ready for a chain.

    Attributes
    ----------
    taps : ndarray, shape (n_taps,)
        At the chain's sampling rate.
    """

    taps: Floats
    rate_hz: float

    def response(self, frequencies_hz: Floats) -> Complex:
        """Return the response, shape (n_freqs,)."""
        back = np.exp(-2j * np.pi * np.asarray(frequencies_hz, float) / self.rate_hz)
        found = np.zeros(back.shape, complex)
        for tap in self.taps[::-1]:
            found = found * back + tap
        return found


def read_cabinet(samples: Floats, rate_hz: float) -> Cabinet:
    """Cut off the way to the microphone and give it the model's level.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        One channel at the chain's sampling rate.

    Raises
    ------
    InputError
        If it is longer than `LONGEST_S`, silent, or has a sample that is not finite.
    """
    where, taps = "impulse response", np.asarray(samples, float)
    if taps.ndim != 1:
        raise InputError(where, f"shape {taps.shape}", "one channel")
    if not np.all(np.isfinite(taps)):
        raise InputError(where, "a sample that is not finite", "finite samples")
    peak = float(np.max(np.abs(taps), initial=0.0))
    if peak <= 0.0:
        raise InputError(where, "silence", "a sound")
    onset = int(np.argmax(np.abs(taps) >= peak * 10.0 ** (ONSET_DB / 20.0)))
    taps = taps[max(onset - round(LEAD_S * rate_hz), 0) :]
    if len(taps) > LONGEST_S * rate_hz:
        raise InputError(where, f"{len(taps) / rate_hz:.2f} s", f"at most {LONGEST_S:g} s from its onset")
    hz = np.geomspace(*LEVEL_HZ, 100)
    own = np.mean(np.abs(Cabinet(taps, rate_hz).response(hz)) ** 2)
    model = np.mean(np.abs(respond_speaker(hz)) ** 2)
    if own <= 0.0:
        raise InputError(where, "nothing from 100 Hz to 5 kHz", "a loudspeaker's sound")
    return Cabinet(taps * np.sqrt(model / own), rate_hz)


class CabinetRunner:
    """Convolves volts with a cabinet, block by block."""

    def __init__(self, cabinet: Cabinet) -> None:
        self._taps = cabinet.taps

    def initial_state(self) -> Floats:
        """Return the input before any sample, shape (n_taps - 1,)."""
        return np.zeros(len(self._taps) - 1)

    def run(self, volts: Floats, past: Floats) -> tuple[Floats, Floats]:
        """Convolve the next samples, any number of them.

        Parameters
        ----------
        volts : ndarray, shape (n_samples,)
        past : ndarray, shape (n_taps - 1,)
            The input before.

        Returns
        -------
        output : ndarray, shape (n_samples,)
        past : ndarray, shape (n_taps - 1,)
        """
        from scipy.signal import oaconvolve

        if not len(volts):
            return volts, past
        whole = np.concatenate([past, volts])
        output = np.asarray(oaconvolve(whole, self._taps, mode="valid"))
        return output, whole[len(whole) - len(past) :]
