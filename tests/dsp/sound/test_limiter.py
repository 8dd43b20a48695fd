"""The limiter: its ceiling, times, reduction and loudness, on sounds with sharp attacks."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from dsp.sound.levels import db
from dsp.sound.limiter import (
    AHEAD_S,
    LIMIT_DBTP,
    MOST_DB,
    RELEASE_S,
    TRIED_DB,
    Limiter,
    gain_reducing,
    lost_at,
    reduction_db,
)
from dsp.sound.loudness import LoudnessMeter, integrated_lufs
from dsp.sound.peak import dbtp, true_peak
from dsp.sound.set_levels import LimitedSound, limited_gains

Floats = NDArray[np.float64]
RATES = (44_100, 48_000, 96_000)


def plucks(rate_hz: int, seed: int = 1, sharp: float = 0.4) -> Floats:
    """Tones up to 9 kHz that start together and die away, with bursts of noise."""
    rng = np.random.default_rng(seed)
    t = np.arange(2 * rate_hz) / rate_hz
    tones = sum(np.sin(2.0 * np.pi * f * t + rng.uniform(0.0, 6.0)) for f in rng.uniform(80.0, 9000.0, 12))
    burst = sharp * rng.normal(size=len(t)) * np.exp(-((3.0 * t) % 1.0) * 60.0)
    return 0.1 * np.asarray(tones) * np.exp(-((2.0 * t) % 1.0) * 5.0) + burst


def limited(samples: Floats, rate_hz: int, gain: float, cuts: int = 1) -> Floats:
    return np.concatenate(list(Limiter(rate_hz, gain).run(np.array_split(samples, cuts))))


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("reduced_db", [0.5, 6.0, 12.0])
def test_the_true_peak_ends_at_the_ceiling(rate_hz: int, reduced_db: float) -> None:
    samples = plucks(rate_hz)
    gain = gain_reducing(true_peak(samples, rate_hz), reduced_db)
    limiter = Limiter(rate_hz, gain)
    output = np.concatenate(list(limiter.run([samples])))
    assert len(output) == len(samples)
    assert dbtp(true_peak(output, rate_hz)) == pytest.approx(LIMIT_DBTP, abs=0.02)
    assert limiter.most_db == pytest.approx(reduced_db, abs=0.02)
    assert reduction_db(true_peak(samples, rate_hz), gain) == pytest.approx(reduced_db)


def test_what_stays_below_is_left_as_it_is_to_the_bit() -> None:
    samples = plucks(48_000)
    gain = gain_reducing(true_peak(samples, 48_000), 0.0) * 0.999
    np.testing.assert_array_equal(limited(samples, 48_000, gain), gain * samples)


def test_the_cut_of_the_blocks_does_not_matter() -> None:
    samples = plucks(48_000)
    gain = gain_reducing(true_peak(samples, 48_000), 6.0)
    whole = limited(samples, 48_000, gain)
    for cuts in (7, 311):
        np.testing.assert_array_equal(limited(samples, 48_000, gain, cuts), whole)


def test_the_gain_falls_ahead_of_a_peak_and_comes_back() -> None:
    """A click of twice the limit over a soft tone: when the gain moves, and how far it has come back."""
    rate_hz, at = 48_000, 24_000
    t = np.arange(48_000) / rate_hz
    samples = 0.01 * np.cos(2.0 * np.pi * 4000.0 * t)
    samples[at] = 2.0 * 10.0 ** (LIMIT_DBTP / 20.0)
    gains = limited(samples, rate_hz, 1.0)[::3] / samples[::3]  # away from the tone's zeros
    moved = 3 * np.flatnonzero(gains < 1.0 - 1e-9)
    ahead = round(2.0 * AHEAD_S * rate_hz)  # to look ahead, and to be smooth
    assert at - ahead <= moved[0] < at - ahead / 4
    assert gains[at // 3] == pytest.approx(0.5, abs=1e-3)
    later = (at + round((RELEASE_S + 0.5 * AHEAD_S) * rate_hz)) // 3
    assert 1.0 - gains[later] == pytest.approx(0.5 * np.exp(-1.0), rel=0.02)


def sound_of(samples: Floats, rate_hz: int = 48_000) -> LimitedSound:
    meter = LoudnessMeter(rate_hz)
    meter.add(samples)
    peak = true_peak(samples, rate_hz)
    lost = []
    for tried_db in TRIED_DB:
        gain = gain_reducing(peak, tried_db)
        after = limited(samples, rate_hz, gain)
        lost.append(integrated_lufs(gain * samples, rate_hz) - integrated_lufs(after, rate_hz))
    return LimitedSound(np.array(meter.block_powers()), peak, lost)


def test_a_set_comes_to_one_loudness_behind_the_limiter() -> None:
    sounds = [plucks(48_000, 1, 0.1), 0.3 * plucks(48_000, 2, 0.2), 3.0 * plucks(48_000, 3, 0.15)]
    gains = limited_gains([sound_of(one) for one in sounds], -17.0)
    heard = [
        integrated_lufs(limited(one, 48_000, gain), 48_000) for one, gain in zip(sounds, gains, strict=True)
    ]
    assert heard == pytest.approx([-17.0] * 3, abs=0.1)
    reduced = [reduction_db(true_peak(one, 48_000), gain) for one, gain in zip(sounds, gains, strict=True)]
    assert 1.0 < max(reduced) <= MOST_DB
    plain = [integrated_lufs(gain * one, 48_000) for one, gain in zip(sounds, gains, strict=True)]
    assert max(plain) > -16.8, "the loss is made up for"


def test_beyond_the_most_the_whole_set_comes_down_together() -> None:
    sounds = [plucks(48_000, 1, 0.1), plucks(48_000, 2, 1.5)]
    gains = limited_gains([sound_of(one) for one in sounds], -10.0)
    reduced = [reduction_db(true_peak(one, 48_000), gain) for one, gain in zip(sounds, gains, strict=True)]
    assert max(reduced) == pytest.approx(MOST_DB, abs=0.05)
    assert max(reduced) <= MOST_DB
    soft, sharp = (
        integrated_lufs(limited(one, 48_000, gain), 48_000) for one, gain in zip(sounds, gains, strict=True)
    )
    assert soft == pytest.approx(sharp, abs=0.1)
    assert soft < -11.0


def test_a_sound_without_loudness_goes_down_with_its_set() -> None:
    silence = LimitedSound(None, 0.0, (0.0,) * len(TRIED_DB))
    sharp = sound_of(plucks(48_000, 2, 1.5))
    alone, _ = limited_gains([silence, sharp], -40.0)
    assert alone == 1.0
    lowered, gain = limited_gains([silence, sharp], -10.0)
    assert db(lowered) < -1.0
    assert gain > 0.0


def test_losses_between_those_tried_are_interpolated() -> None:
    lost = tuple(0.1 * k for k in range(1, len(TRIED_DB) + 1))
    assert lost_at(0.0, lost) == 0.0
    assert lost_at(TRIED_DB[1], lost) == pytest.approx(lost[1])
    assert lost_at(0.5 * TRIED_DB[0], lost) == pytest.approx(0.5 * lost[0])
