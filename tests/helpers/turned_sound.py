"""What a turned knob must sound like: stems through the server's filters, by another program's filter."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from dsp.filters.bank import Bank

RATE_HZ = 48_000
SAME_DB = -80.0
"""Bar: a turned sound against the server's filters, re the sound."""
HEARD_HZ = 20_000.0
"""Above, the voice and the filters of the server end each in its own way."""
Floats = NDArray[np.float64]


def filtered(bank: Bank, stems: Floats) -> Floats:
    """Return stems through a bank, its delay taken out."""
    total = np.zeros(stems.shape[1])
    for coil, stem in enumerate(stems):
        total += lfilter(bank.taps[coil], [1.0], stem)
        for section, (a1, a2) in enumerate(bank.poles):
            total += lfilter(bank.numerators[coil, section], [1.0, a1, a2], stem)
    return np.concatenate([total[bank.delay :], np.zeros(bank.delay)])


def heard_power(samples: Floats) -> float:
    """Return the mean power that can be heard."""
    window = np.hanning(len(samples))
    power = np.abs(np.fft.rfft(samples * window)) ** 2 / np.sum(window**2)
    return float(power[np.fft.rfftfreq(len(samples), 1 / RATE_HZ) < HEARD_HZ].sum() / len(samples))


def looped_error_db(recorded: Floats, loop: Floats, length: int) -> float:
    """Return the error of a recording of a loop, re its sound, whatever its level and beginning, dB.

    Parts of it that are much quieter than the loudest do not count.

    Parameters
    ----------
    length : int
        Samples of a part; each is set against the loop by itself.
    """
    parts = [recorded[at : at + length] for at in range(0, len(recorded) - length + 1, length)]
    loudest = max(float(np.mean(part**2)) for part in parts)
    wrong = right = 0.0
    for part in parts:
        if np.mean(part**2) < 0.01 * loudest:
            continue
        mine = np.take(loop, np.arange(length) + _place(part, loop), mode="wrap")
        gain = float(mine @ part / (mine @ mine))
        wrong += heard_power(part - gain * mine)
        right += heard_power(part)
    return float(10 * np.log10(wrong / right))


def _place(part: Floats, loop: Floats) -> int:
    """Return the place in a loop that is most like a part of it, at any level."""
    n = len(loop)
    likeness = np.fft.irfft(np.fft.rfft(loop) * np.fft.rfft(part, n).conj(), n)
    ones = np.fft.rfft(np.ones(len(part)), n)
    power = np.fft.irfft(np.fft.rfft(loop**2) * ones.conj(), n)
    return int(np.argmax(np.abs(likeness) / np.sqrt(np.maximum(power, 1e-9 * power.max()))))
