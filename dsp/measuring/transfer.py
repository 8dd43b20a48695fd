"""What two channels of one recording say: the ratio of their voltages at each frequency.

Channel 1 reads the source behind its output, channel 2 the coil behind the series resistor. Both
share one clock, so the player may have another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.measuring.tone import HIGHEST_HZ, LOWEST_HZ, is_clear

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

BLOCK_SECONDS = 2
"""Two periods of the tone: the lines of a Hann block of this length meet no neighbour."""
LEAST_SECONDS = 3.9
"""Three blocks and the frames that the edges cost; scatter needs three."""
EDGE_SECONDS = 0.02
QUIET_DB = 34.0
"""Frames this far below the loudest are silence before and after."""
LEAST_RATE_HZ = 44_100
LEAST_LEVEL_DBFS, SILENT_DBFS = -70.0, -150.0
NOISE = 0.5
"""Relative scatter above which a frequency is left out: what is played there is not read."""
UNRELATED = 0.3
"""Median relative scatter of the ratio above which channel 2 holds nothing of channel 1."""
CLIPPED_RUN = 3
"""Samples in a row at one extreme: an honest tone has no such top."""
LINE_OVER_FLOOR = 100.0
"""Power of a line's bin over its neighbourhood. Noise and sweeps have no such bins."""
WEAKEST_LINE = 1e-6
"""Power of the weakest line over the strongest. A line between two bins leaves weaker traces far from it."""
BETWEEN = 0.1
"""Quantile of the neighbourhood that lies between lines even where they are densest."""
FEWEST_LINES = 24
LINE_SHARE = 0.8
"""Of the power in lines: below it, what sounds is noise or a sweep."""
BANDS_PER_OCTAVE = 24
FEWEST_BINS = 6
HUM_TO_HZ = 2000.0
"""Harmonics of the mains above it are weak; bins near those below are left out."""
SWAPPED = 1.3
"""Median of channel 2 over channel 1 that no divider of resistor and coil reaches."""


@dataclass(frozen=True)
class Transfer:
    """Voltage of channel 2 over channel 1.

    Attributes
    ----------
    where : str
        Name of the recording.
    signal : str
        ``lines`` for a sum of sines, ``bands`` for noise or a sweep.
    frequencies_hz : ndarray, shape (n,)
    ratio : ndarray of complex, shape (n,)
    sd : ndarray, shape (n,)
        Standard deviation of the real and of the imaginary part, from the scatter of the blocks.
    level_dbfs : float
        Of channel 1.
    hum_dbfs : float
        Of channel 2, between the lines below 1 kHz; NaN for bands.
    """

    where: str
    signal: str
    frequencies_hz: Floats
    ratio: Complex
    sd: Floats
    level_dbfs: float
    hum_dbfs: float


def measure_transfer(samples: Floats, rate_hz: int, where: str, *, shorted: bool = False) -> Transfer:
    """Measure the ratio of two channels.

    Parameters
    ----------
    samples : ndarray, shape (2, n)
        Full scale is 1.
    where : str
        Name of the recording, for errors.
    shorted : bool
        Whether channel 2 may be silent: the leads of the rig were joined.

    Raises
    ------
    InputError
        For one channel, a low rate, a channel that is silent or clipped, swapped channels, or too
        short a sound.
    """
    _check(samples, rate_hz, where, shorted)
    sounding = _sounding(samples, rate_hz)
    seconds = sounding.shape[1] / rate_hz
    if seconds < LEAST_SECONDS:
        raise InputError(where, f"{seconds:.1f} s of sound", f"at least {LEAST_SECONDS + 0.1:.0f} s")
    found = _by_lines(sounding, rate_hz) or _by_bands(sounding, rate_hz)
    signal, hz, ratio, sd, hum = found
    if not shorted and not np.median(sd / np.abs(ratio)) < UNRELATED:
        raise InputError(
            where,
            "nothing of channel 1's sound in channel 2",
            "channel 2 at the coil",
            "is the lead plugged in, and is its gain up?",
        )
    related = np.ones(len(hz), bool) if shorted else sd < NOISE * np.abs(ratio)
    hz, ratio, sd = hz[related], ratio[related], sd[related]
    if len(hz) < FEWEST_LINES:
        raise InputError(
            where,
            f"{len(hz)} usable frequencies",
            f"at least {FEWEST_LINES}: the rig's tone, noise or a sweep",
        )
    if not shorted and np.median(np.abs(ratio)) > SWAPPED:
        raise InputError(
            where,
            f"channel 2 is {np.median(np.abs(ratio)):.1f} times as loud as channel 1",
            "channel 1 at the output, channel 2 at the coil, with equal gains",
            "are the two inputs exchanged?",
        )
    return Transfer(where, signal, hz, ratio, sd, _dbfs(sounding[0]), hum)


def _check(samples: Floats, rate_hz: int, where: str, shorted: bool) -> None:
    if samples.shape[0] != 2:
        got = "one channel" if samples.shape[0] == 1 else f"{samples.shape[0]} channels"
        raise InputError(where, got, "two channels: 1 at the output, 2 at the coil")
    if rate_hz < LEAST_RATE_HZ:
        raise InputError(where, f"{rate_hz} samples a second", f"{LEAST_RATE_HZ} or more")
    for number, channel in enumerate(samples, 1):
        level = _dbfs(channel)
        if (number == 1 and level < LEAST_LEVEL_DBFS) or (level < SILENT_DBFS and not shorted):
            got = "silence" if level < SILENT_DBFS else f"{level:.0f} dB of full scale"
            raise InputError(where, f"channel {number}: {got}", f"a tone above {LEAST_LEVEL_DBFS:.0f} dB")
        top = np.abs(channel).max()
        at_top = np.abs(channel) >= top * (1 - 1e-6)
        in_a_row = np.convolve(at_top, np.ones(CLIPPED_RUN), "valid").max()
        if top > 0.5 and in_a_row >= CLIPPED_RUN:
            raise InputError(
                where, f"channel {number} is clipped", "a recording with room above it: turn the gains down"
            )


def _dbfs(channel: Floats) -> float:
    """Level of a channel over its whole length, full scale a constant 1."""
    return float(10 * np.log10(np.mean(channel**2) + 1e-30))


def _sounding(samples: Floats, rate_hz: int) -> Floats:
    """The part between the first and the last frame that is no silence."""
    n = max(1, int(EDGE_SECONDS * rate_hz))
    frames = samples[0, : len(samples[0]) // n * n].reshape(-1, n)
    power = np.mean(frames**2, axis=1)
    loud = np.flatnonzero(power > power.max() * 10 ** (-QUIET_DB / 10))
    # The first and the last frame may hold the edge itself.
    return samples[:, (loud[0] + 1) * n : max(loud[0] + 2, loud[-1]) * n]


Found = tuple[str, Floats, Complex, Floats, float]


def _by_lines(samples: Floats, rate_hz: int) -> Found | None:
    """Measure a sum of sines by Hann blocks; None if it is something else."""
    from scipy.signal.windows import hann

    n = BLOCK_SECONDS * rate_hz
    window = hann(n, sym=False)
    starts = range(0, samples.shape[1] - n + 1, rate_hz)
    blocks = np.array([np.fft.rfft(window * samples[:, start : start + n]) for start in starts])
    source, coil = blocks[:, 0], blocks[:, 1]
    power = np.mean(np.abs(source) ** 2, axis=0)
    bins = _line_bins(power)
    if len(bins) < FEWEST_LINES:
        return None
    sides = np.add.outer(np.arange(-2, 3), bins)
    if power[np.unique(sides)].sum() < LINE_SHARE * power.sum():
        return None
    hz = bins / BLOCK_SECONDS
    kept = [is_clear(f) or f > HUM_TO_HZ for f in hz]
    hum = _hum_dbfs(coil, hz, window)
    bins = bins[kept] if sum(kept) >= FEWEST_LINES else bins
    a, b = source[:, bins], coil[:, bins]
    weight = np.sum(np.abs(a) ** 2, axis=0)
    ratio = np.sum(a.conj() * b, axis=0) / weight
    scatter = np.sum(np.abs(b - ratio * a) ** 2, axis=0)
    sd = np.sqrt(scatter / (2 * (len(blocks) - 1) * weight))
    return "lines", bins / BLOCK_SECONDS, ratio, sd, hum


def _line_bins(power: Floats) -> NDArray[np.int64]:
    """Bins that stand far above their neighbourhood and are its highest."""
    first, last = LOWEST_HZ * BLOCK_SECONDS - 1, min(HIGHEST_HZ * BLOCK_SECONDS + 4, len(power) - 3)
    highest = np.max([power[2 + shift : len(power) - 2 + shift] for shift in range(-2, 3)], axis=0)
    peaks = np.flatnonzero(power[2:-2] >= highest) + 2
    peaks = peaks[(peaks >= first) & (peaks <= last)]
    found: list[int] = []
    for k in peaks[np.argsort(-power[peaks], kind="stable")]:
        if found and power[k] <= WEAKEST_LINE * power[found[0]]:
            break  # the first is the strongest: thousands of bins of noise are not looked at
        reach = max(12, k // 30)
        around = power[max(0, k - reach) : k + reach + 1]
        if power[k] > LINE_OVER_FLOOR * np.quantile(around, BETWEEN):
            found.append(int(k))
    return np.array(sorted(found), int)


def _hum_dbfs(coil: Complex, lines_hz: Floats, window: Floats) -> float:
    """Level in the mains' bins of channel 2 up to 1 kHz, where no line is near."""
    mains = [f for f in range(50, 1001, 10) if f % 50 == 0 or f % 60 == 0]
    free = [f for f in mains if np.abs(lines_hz - f).min() > 2]
    amplitude = 2 * np.abs(coil[:, [BLOCK_SECONDS * f for f in free]]) / window.sum()
    return float(10 * np.log10(np.mean(np.sum(amplitude**2, axis=1)) / 2 + 1e-30))


def _by_bands(samples: Floats, rate_hz: int) -> Found:
    """Measure noise or a sweep: a straight line through the bins of each narrow band."""
    from scipy.signal.windows import tukey

    n = samples.shape[1]
    window = tukey(n, min(1.0, 0.2 * rate_hz / n))
    a, b = np.fft.rfft(window * samples)
    hz = np.fft.rfftfreq(n, 1 / rate_hz)
    top_hz = min(HIGHEST_HZ, 0.45 * rate_hz)
    steps = int(BANDS_PER_OCTAVE * np.log2(top_hz / LOWEST_HZ))
    centres, ratios, sds = [], [], []
    for centre in LOWEST_HZ * 2 ** (np.arange(steps + 1) / BANDS_PER_OCTAVE):
        low, high = np.searchsorted(hz, centre * 2 ** (np.array((-0.5, 0.5)) / BANDS_PER_OCTAVE))
        near = hz[low:high]
        if centre < HUM_TO_HZ:
            near_mains = [np.abs(near - mains * np.round(near / mains)) <= 1.0 for mains in (50, 60)]
            use = ~np.any(near_mains, axis=0)
        else:
            use = np.ones(high - low, bool)
        if use.sum() < FEWEST_BINS:
            continue
        x, y = a[low:high][use], b[low:high][use]
        columns = np.stack([x, x * (near[use] / centre - 1)], axis=1)
        gram = columns.conj().T @ columns
        if not np.all(np.isfinite(gram)) or np.linalg.cond(gram) > 1e14:
            continue
        value = np.linalg.solve(gram, columns.conj().T @ y)
        scatter = np.sum(np.abs(y - columns @ value) ** 2) / max(1, len(y) - 2)
        centres.append(centre)
        ratios.append(value[0])
        sds.append(np.sqrt(scatter * np.linalg.inv(gram)[0, 0].real / 2))
    return "bands", np.array(centres), np.array(ratios), np.array(sds), float("nan")
