"""Measure a running filter bank against the circuit by impulses, independently of its designer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.filters.bank import Bank
from dsp.filters.run import Runner
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
LONGEST = 1 << 20
DECAY = 1e-7
"""An impulse response ends where its slowest mode has fallen by 140 dB."""
LOW_HZ, MIDDLE_HZ, TOP_HZ = 20.0, 18_000.0, 20_000.0
DEPTH_DB = 60.0


@dataclass(frozen=True)
class Measured:
    """Largest errors: dB and degrees from 20 Hz to 18 kHz, dB to 20 kHz."""

    level_db: float
    phase_deg: float
    top_level_db: float


def length_of(bank: Bank) -> int:
    """Return the samples until the slowest mode has died away, as a power of two."""
    radius = min(bank.radius(), 1.0 - 1e-9)
    needed = np.log(DECAY) / np.log(radius) if radius > 0.0 else 1.0
    return int(min(1 << int(np.ceil(np.log2(max(needed, 4096.0)))), LONGEST))


def impulse_responses(bank: Bank, length: int) -> Floats:
    """Return a bank's output for an impulse in one coil at a time, shape (n_coils, length)."""
    runner = Runner(bank)
    found = []
    for k in range(len(bank.taps)):
        stems = np.zeros((len(bank.taps), length))
        stems[k, 0] = 1.0
        found.append(runner.run(stems, runner.initial_state())[0])
    return np.array(found)


def _bins(length: int, rate_hz: float, wiring: Wiring, setting: Setting) -> NDArray[np.int64]:
    """Return bins of the transform: a fine grid, and more around each peak and dip."""
    grid = np.concatenate([np.geomspace(LOW_HZ, 3e3, 260), np.linspace(3e3, TOP_HZ, 340)])
    level = np.abs(respond(wiring, [setting], grid).coil[0])
    turning = [(row[1:-1] - row[:-2]) * (row[2:] - row[1:-1]) < 0.0 for row in level]
    spots = np.unique(np.concatenate([np.flatnonzero(one) for one in turning] or [np.zeros(0, int)])) + 1
    near = [np.linspace(grid[i - 1], grid[i + 1], 25) for i in spots]
    hertz = np.concatenate([grid, *near])
    bins = np.unique(np.rint(hertz * length / rate_hz).astype(np.int64))
    frequencies = bins * rate_hz / length
    return bins[(frequencies >= LOW_HZ) & (frequencies <= TOP_HZ)]


def measured(wiring: Wiring, setting: Setting, bank: Bank) -> Measured:
    """Return a bank's largest errors over all coils, each within 60 dB of its own peak."""
    length = length_of(bank)
    bins = _bins(length, bank.rate_hz, wiring, setting)
    frequencies = bins * bank.rate_hz / length
    target = respond(wiring, [setting], frequencies).coil[0]
    heard = np.fft.rfft(impulse_responses(bank, length), axis=1)[:, bins]
    heard = heard * np.exp(2j * np.pi * frequencies / bank.rate_hz * bank.delay)
    peak = np.max(np.abs(target), axis=1, keepdims=True)
    counts = (np.abs(target) >= peak * 10.0 ** (-DEPTH_DB / 20.0)) & (peak > 0.0)
    ratio = np.where(counts, heard, 1.0) / np.where(counts, target, 1.0)
    level, phase = 20.0 * np.abs(np.log10(np.abs(ratio))), np.abs(np.degrees(np.angle(ratio)))
    low = frequencies <= MIDDLE_HZ
    dead = np.max(np.abs(heard[peak[:, 0] == 0.0]), initial=0.0)
    assert dead == 0.0, "a coil without a path to the jack sounds"
    return Measured(*(float(np.max(x, initial=0.0)) for x in (level[:, low], phase[:, low], level)))
