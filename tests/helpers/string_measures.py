"""Measure a plucked note: decay by band, stiffness, wobble, glide, attack. Real and modelled notes alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

Floats = NDArray[np.float64]

BANDS_HZ = ((80, 400), (400, 800), (800, 1600), (1600, 3200), (3200, 6400))
TOP_HZ = 6400.0
CLEAR_DB = 14.0
"""A partial counts if it stands this far above the spectrum halfway to its neighbours."""
FALLS_DB = 25.0
"""A slope is measured over the first 25 dB, or until the noise is near."""
LONGEST_S, SHORTEST_S, KEPT_S = 1.5, 0.08, 1.75
ATTACK_HZ = (1500.0, 4000.0)


@dataclass(frozen=True)
class Measured:
    """What was measured of a note; rows of ``partials``: number, Hz, decay rate 1/s, wobble dB, level dB."""

    f0_hz: float
    inharmonicity: float
    partials: Floats
    t60_s: tuple[float, ...]
    wobble_db: float
    weakest_db: float
    glide_cents: float
    attack_db: float
    attack_late_db: float


def measure(samples: Floats, rate_hz: float, near_hz: float) -> Measured:
    """Measure a note that starts at its first samples.

    Parameters
    ----------
    near_hz : float
        Its pitch within 3 %.
    """
    samples = samples[: round(KEPT_S * rate_hz)]
    f0, stiff, found = find_partials(samples, rate_hz, near_hz)
    spectrum = Spectrum.of(samples, rate_hz)
    rows = []
    for number, hz, level_db in found:
        rate, wobble = _slope(spectrum, hz, f0)
        rows.append((number, hz, rate, wobble, level_db))
    partials = np.array(rows)
    t60 = []
    for low, high in BANDS_HZ:
        rates = partials[(partials[:, 1] >= low) & (partials[:, 1] < high), 2]
        rates = rates[np.isfinite(rates)]
        t60.append(float(np.log(1000.0) / np.median(rates)) if len(rates) else np.nan)
    wobbles = partials[np.isfinite(partials[:, 3]), 3]
    early, late = attack_excess(samples, rate_hz)
    return Measured(
        f0,
        stiff,
        partials,
        tuple(t60),
        float(np.median(wobbles)),
        weakest_of_ten(samples, rate_hz, f0, stiff),
        glide(spectrum, partials),
        early,
        late,
    )


def _peak(spectrum: Floats, step_hz: float, low_hz: float, high_hz: float) -> tuple[float, float]:
    low, high = max(int(low_hz / step_hz), 1), int(np.ceil(high_hz / step_hz)) + 1
    at = low + int(np.argmax(spectrum[low:high]))
    at = min(at, len(spectrum) - 2)
    a, b, c = np.log(spectrum[at - 1 : at + 2] + 1e-15)
    bend = a - 2.0 * b + c
    return (at + (0.5 * (a - c) / bend if bend else 0.0)) * step_hz, float(b * 20.0 / np.log(10.0))


def find_partials(
    samples: Floats, rate_hz: float, near_hz: float
) -> tuple[float, float, list[tuple[int, float, float]]]:
    """Return f0, B, and number, frequency and level of every partial that stands clear."""
    n = min(len(samples), round(0.6 * rate_hz))
    first = round(0.02 * rate_hz)
    length = 1 << 17
    step_hz = rate_hz / length
    spectrum = np.abs(np.fft.rfft(samples[first:n] * np.blackman(n - first), length))
    f0, _ = _peak(spectrum, step_hz, 0.97 * near_hz, 1.03 * near_hz)
    stiff, found = 3e-5, []
    top = min(TOP_HZ, 0.45 * rate_hz)
    for number in range(1, 80):
        guess = number * f0 * np.sqrt(1.0 + stiff * number**2)
        if guess > top:
            break
        reach = min(0.2 * f0, 0.03 * f0 + 0.004 * guess)
        hz, level_db = _peak(spectrum, step_hz, guess - reach, guess + reach)
        sides = [spectrum[round((hz + d * f0) / step_hz)] for d in (-0.5, -0.4, 0.4, 0.5)]
        if level_db - 20.0 * np.log10(np.median(sides) + 1e-15) < CLEAR_DB:
            continue
        found.append((number, hz, level_db))
        if len(found) >= 3:
            f0, stiff = _stiffness(found)
    f0, stiff = _stiffness(found)
    law = [abs(1200 * np.log2(hz / (k * f0 * np.sqrt(1 + stiff * k**2)))) for k, hz, _ in found]
    found = [one for one, off in zip(found, law, strict=True) if off < 12.0]
    f0, stiff = _stiffness(found)
    return f0, stiff, found


def _stiffness(found: list[tuple[int, float, float]]) -> tuple[float, float]:
    """Fit (f_n / n)^2 = f0^2 (1 + B n^2), robustly."""
    numbers = np.array([one[0] for one in found], float)
    squares = np.square([one[1] / one[0] for one in found])
    weights = np.ones(len(found))
    slope, start = 0.0, float(squares[0])
    for _ in range(5):
        slope, start = np.polyfit(numbers**2, squares, 1, w=weights)
        off = np.abs(squares - start - slope * numbers**2) / start
        weights = 1.0 / (1.0 + (off / 5e-4) ** 2) + 1e-3
    return float(np.sqrt(start)), max(float(slope / start), 0.0)


@dataclass(frozen=True)
class Spectrum:
    """A note's spectrum, from which the complex amplitude of any line over time is cut out.

    Attributes
    ----------
    bins : ndarray
    step_hz : float
    seconds : float
        Length of the note.
    """

    bins: NDArray[np.complex128]
    step_hz: float
    seconds: float

    @classmethod
    def of(cls, samples: Floats, rate_hz: float) -> Spectrum:
        length = 1 << int(np.ceil(np.log2(len(samples) + 0.3 * rate_hz)))
        return cls(np.fft.rfft(samples, length) / length, rate_hz / length, len(samples) / rate_hz)

    def line(self, hz: float, width_hz: float) -> tuple[NDArray[np.complex128], float]:
        """Return the amplitude of a line, moved to 0 Hz, and the time between its values.

        Parameters
        ----------
        width_hz : float
            Half of the band that is let through whole; it ends as half a cosine, at twice that.
        """
        middle, half = round(hz / self.step_hz), int(np.ceil(2.0 * width_hz / self.step_hz))
        at = np.arange(-half, half)
        inside = (middle + at >= 0) & (middle + at < len(self.bins))
        part = np.where(inside, self.bins[np.clip(middle + at, 0, len(self.bins) - 1)], 0.0)
        away = np.abs(at * self.step_hz) / width_hz
        part = part * np.where(away < 1.0, 1.0, 0.5 + 0.5 * np.cos(np.pi * np.clip(away - 1.0, 0.0, 1.0)))
        slow = 2.0 * np.fft.ifft(np.fft.ifftshift(part)) * len(part)
        step_s = 1.0 / (self.step_hz * len(part))
        time_s = np.arange(len(part)) * step_s
        turned = slow * np.exp(2j * np.pi * (middle * self.step_hz - hz) * time_s)
        return turned[: int(self.seconds / step_s)], step_s


def _width_hz(f0: float) -> float:
    return float(np.clip(0.25 * f0, 20.0, 60.0))


def _slope(spectrum: Spectrum, hz: float, f0: float) -> tuple[float, float]:
    """Return the early decay rate, 1/s, and the deviation from a straight line, dB."""
    width_hz = _width_hz(f0)
    edge_s = 0.5 / width_hz
    slow, step_s = spectrum.line(hz, width_hz)
    level_db = 20.0 * np.log10(np.abs(slow) + 1e-12)
    first = round((edge_s + 0.02) / step_s)
    last = min(round(LONGEST_S / step_s), len(level_db) - round(edge_s / step_s))
    if (last - first) * step_s < SHORTEST_S:
        return np.nan, np.nan
    part = level_db[first:last]
    beside = [np.abs(spectrum.line(hz + d * f0, width_hz)[0]) for d in (-0.45, 0.45)]
    floor_db = np.percentile(20.0 * np.log10(np.minimum(*beside)[first:last] + 1e-12), 80)
    start_db = part[: max(round(0.03 / step_s), 1)].max()
    below = np.flatnonzero(part < max(start_db - FALLS_DB, floor_db + 8.0))
    end = int(below[0]) if len(below) else len(part)
    if end * step_s < SHORTEST_S:
        return np.nan, np.nan
    time_s = np.arange(end) * step_s
    slope, start = np.polyfit(time_s, part[:end], 1)
    wobble = float(np.std(part[:end] - start - slope * time_s))
    rate = -slope * np.log(10.0) / 20.0
    return (rate if rate > 0.1 else np.nan), wobble


def weakest_of_ten(samples: Floats, rate_hz: float, f0: float, stiff: float) -> float:
    """Return how far the weakest of the first ten partials lies below the strongest, dB."""
    n = round(0.25 * rate_hz)
    part = samples[round(0.02 * rate_hz) :][:n]
    step_hz = rate_hz / (1 << 17)
    spectrum = np.abs(np.fft.rfft(part * np.blackman(len(part)), 1 << 17))
    levels = []
    for number in range(1, 11):
        hz = number * f0 * np.sqrt(1.0 + stiff * number**2)
        if hz < min(TOP_HZ, 0.45 * rate_hz):
            levels.append(_peak(spectrum, step_hz, hz - 0.06 * f0, hz + 0.06 * f0)[1])
    return float(max(levels) - min(levels))


def glide(spectrum: Spectrum, partials: Floats) -> float:
    """Return by how many cents the strongest partials start above where they end."""
    strongest = partials[np.argsort(-partials[:, 4])][:8]
    width_hz = _width_hz(partials[0, 1] / partials[0, 0])
    late_s = min(1.0, spectrum.seconds - 0.5 / width_hz - 0.02)
    found = []
    for hz in strongest[:, 1]:
        slow, step_s = spectrum.line(hz, width_hz)
        phase = np.unwrap(np.angle(slow))
        spans = ((0.04, 0.14), (late_s - 0.25, late_s))
        pieces = [_cut(phase, span, 1.0 / step_s) for span in spans]
        first, last = (np.polyfit(np.arange(len(p)) * step_s, p, 1)[0] / (2.0 * np.pi) for p in pieces)
        found.append(1200.0 * np.log2((hz + first) / (hz + last)))
    return float(np.median(found))


def _cut(values: Floats, span_s: tuple[float, float], rate_hz: float) -> Floats:
    return values[round(span_s[0] * rate_hz) : round(span_s[1] * rate_hz)]


def attack_excess(samples: Floats, rate_hz: float) -> tuple[float, float]:
    """Return the level of 1.5-4 kHz in the first 10 ms, and 20-50 ms, re that of 100-200 ms, dB."""
    sos = butter(4, ATTACK_HZ, "bandpass", fs=rate_hz, output="sos")
    high = sosfiltfilt(sos, np.pad(samples, round(0.05 * rate_hz)))[round(0.05 * rate_hz) :]
    onset = int(np.argmax(np.abs(samples) > 0.05 * np.max(np.abs(samples))))
    high = high[onset:]
    powers = [
        float(np.mean(np.square(_cut(high, span, rate_hz)))) for span in ((0, 0.01), (0.02, 0.05), (0.1, 0.2))
    ]
    return tuple(10.0 * np.log10(one / powers[2]) for one in powers[:2])  # type: ignore[return-value]
