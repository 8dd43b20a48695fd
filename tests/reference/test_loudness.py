"""Loudness against ITU-R BS.1770, EBU Tech 3341, pyloudnorm and ffmpeg.

How the sources are known: the K filter's table, the 997 Hz line and EBU's cases were read in
programs that quote the standards (ITU-R BS.1770-5, 2023; EBU Tech 3341 version 4, 2023), not in
the standards themselves; K gains and tone readings are computed from that table.
"""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tolerances as tol

from dsp.errors import InputError
from dsp.sound.loudness import LoudnessMeter, gain_db_to_match, integrated_lufs, k_filter
from dsp.sound.peak import CEILING_DBTP, MARGIN_DB
from dsp.sound.set_levels import matching_gains

pytestmark = pytest.mark.reference

RATES = (44100, 48000, 96000)
TOO_MUCH = 1.15  # tolerances by which the twins are off

ITU_TABLE = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585),
    (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621),
)
K_GAINS_DB = {
    20: -13.275, 50: -3.934, 60: -2.899, 100: -1.134, 250: -0.153, 500: 0.043,
    997: 0.691, 1000: 0.698, 2000: 3.071, 4000: 3.968, 10000: 4.042,
}  # fmt: skip
TONES_LUFS = {20: -36.966, 100: -24.824, 1000: -22.993, 10000: -19.649}  # -23 dBFS in two channels
EBU_CASES = {  # number: (sections of a 1 kHz tone as (dBFS, seconds), expected LUFS)
    1: (((-23, 20),), -23.0),
    2: (((-33, 20),), -33.0),
    3: (((-36, 10), (-23, 60), (-36, 10)), -23.0),
    4: (((-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)), -23.0),
    5: (((-26, 20), (-20, 20.1), (-26, 20)), -23.0),
}
EBU_CASE_6_DBFS = (-28, -28, -24, -30, -30)


def tone(freq_hz: float, dbfs: float, seconds: float, rate_hz: int) -> np.ndarray:
    """A sine whose crest stands at a level, shape (n,)."""
    return 10 ** (dbfs / 20) * np.sin(2 * np.pi * freq_hz * np.arange(round(seconds * rate_hz)) / rate_hz)


def stereo(samples: np.ndarray) -> np.ndarray:
    return np.stack([samples, samples], axis=1)


def ebu_signal(sections, rate_hz: int) -> np.ndarray:
    return stereo(np.concatenate([tone(1000, dbfs, seconds, rate_hz) for dbfs, seconds in sections]))


def k_gain_db(freq_hz: float, rate_hz: int) -> float:
    z = np.exp(-2j * np.pi * freq_hz / rate_hz) ** np.arange(3)
    return float(sum(20 * np.log10(abs(s[:3] @ z / (s[3:] @ z))) for s in k_filter(rate_hz)))


def assert_only_within(measure, expected: float, tolerance: float) -> None:
    """Assert that the measure agrees, and that a signal off by TOO_MUCH tolerances does not."""
    assert abs(measure(0.0) - expected) <= tolerance
    lean_db = math.copysign(TOO_MUCH * tolerance, measure(0.0) - expected)
    assert not abs(measure(lean_db) - expected) <= tolerance


def loudness_of(signal: np.ndarray, rate_hz: int):
    """Return the loudness of a signal as a function of an added gain in dB."""
    return lambda off_db: integrated_lufs(signal * 10 ** (off_db / 20), rate_hz)


def test_k_filter_is_the_itu_table():
    """ITU-R BS.1770-5 annex 1, tables 1 and 2 (read in programs that quote it)."""
    off = np.abs(k_filter(48000) - np.array(ITU_TABLE)).max()
    assert off <= tol.K_TABLE
    assert not np.abs(k_filter(48000) * (1 + 2 * tol.K_TABLE) - np.array(ITU_TABLE)).max() <= tol.K_TABLE


@pytest.mark.parametrize(("freq_hz", "gain_db"), K_GAINS_DB.items())
def test_k_gain(freq_hz, gain_db):
    """Computed from the standard's 48 kHz table."""
    assert_only_within(lambda off_db: k_gain_db(freq_hz, 48000) + off_db, gain_db, tol.K_GAIN_DB)


@pytest.mark.parametrize("rate_hz", [44100, 96000])
@pytest.mark.parametrize("freq_hz", K_GAINS_DB)
def test_k_filter_is_the_same_at_other_rates(freq_hz, rate_hz):
    """BS.1770-5 annex 1: other rates need coefficients giving the same response."""
    assert abs(k_gain_db(freq_hz, rate_hz) - k_gain_db(freq_hz, 48000)) <= tol.OTHER_RATES_DB


def test_the_library_alone_reads_low_at_96_khz():
    """The reason for the correction: pyloudnorm's high-pass gain moves with the rate."""
    from pyloudnorm import Meter

    signal = tone(997, 0.0, 2, 96000)
    alone = Meter(96000, filter_class="DeMan").integrated_loudness(signal)
    assert not abs(alone - -3.01029) <= tol.EXACT_LU


@pytest.mark.parametrize("rate_hz", RATES)
def test_997_hz_full_scale(rate_hz):
    """BS.1770-5 annex 1: 0 dBFS at 997 Hz in one channel reads -3.01 LKFS; two channels +3.01."""
    signal = tone(997, 0.0, 10, rate_hz)
    assert_only_within(loudness_of(signal, rate_hz), -3.0103, tol.EXACT_LU)
    assert integrated_lufs(stereo(signal), rate_hz) == pytest.approx(0.0, abs=tol.EXACT_LU)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(("freq_hz", "lufs"), TONES_LUFS.items())
def test_tones(freq_hz, lufs, rate_hz):
    """-23 dBFS stereo for 10 s; readings computed from the table (also run in another meter)."""
    signal = stereo(tone(freq_hz, -23, 10, rate_hz))
    assert_only_within(loudness_of(signal, rate_hz), lufs, tol.EXACT_LU)


@pytest.mark.parametrize(("number", "rate_hz"), [(n, 48000) for n in EBU_CASES] + [(3, 44100), (5, 96000)])
def test_ebu_case(number, rate_hz):
    """EBU Tech 3341 V4 (2023), integrated loudness of cases 1-5 (read in programs that quote it)."""
    sections, lufs = EBU_CASES[number]
    assert_only_within(loudness_of(ebu_signal(sections, rate_hz), rate_hz), lufs, tol.EBU_LU)


def test_ebu_case_3_needs_the_gate():
    """Without the relative gate the quiet sections pull case 3 down by more than the tolerance."""
    signal = ebu_signal(EBU_CASES[3][0], 48000)
    ungated = -0.691 + 10 * np.log10(np.mean(signal**2) * 2) + K_GAINS_DB[1000]
    assert not abs(ungated - EBU_CASES[3][1]) <= tol.EBU_LU


def test_ebu_case_6_weights_the_surrounds():
    """EBU Tech 3341 case 6: five channels L R C Ls Rs, surrounds weighted 1.41."""
    signal = np.stack([tone(1000, dbfs, 20, 48000) for dbfs in EBU_CASE_6_DBFS], axis=1)
    assert_only_within(loudness_of(signal, 48000), -23.0, tol.EBU_LU)
    swapped = signal[:, [3, 4, 2, 0, 1]]
    assert not abs(integrated_lufs(swapped, 48000) - -23.0) <= tol.EBU_LU


def bursts(rate_hz: int, seconds: float = 12.0) -> np.ndarray:
    """Two channels of noise whose level changes every 1.7 s, so that both gates act."""
    random = np.random.default_rng(1770)
    n = round(seconds * rate_hz)
    levels_db = np.array([-20, -75, -30, -50, -24])[(np.arange(n) / (1.7 * rate_hz)).astype(int) % 5]
    return random.uniform(-1, 1, (n, 2)) * 10 ** (levels_db[:, None] / 20)


def test_equals_pyloudnorm_at_48_khz():
    """pyloudnorm on the whole signal, ours in blocks."""
    from pyloudnorm import Meter

    signal = bursts(48000)
    other = Meter(48000, filter_class="DeMan").integrated_loudness(signal)
    assert integrated_lufs(signal, 48000) == pytest.approx(other, abs=tol.SAME_METER_LU)


@pytest.mark.parametrize("rate_hz", RATES)
def test_equals_ffmpeg(rate_hz, tmp_path):
    """ffmpeg's ebur128 filter, an independent meter."""
    if not shutil.which("ffmpeg"):
        if os.environ.get("CI") == "true":
            pytest.fail("ffmpeg is missing")
        pytest.skip("ffmpeg is missing")
    signal = bursts(rate_hz)
    other = ffmpeg_lufs(signal, rate_hz, tmp_path)
    assert_only_within(loudness_of(signal, rate_hz), other, tol.PRINTED_LU)


def ffmpeg_lufs(signal: np.ndarray, rate_hz: int, folder: Path) -> float:
    path = folder / "signal.wav"
    soundfile.write(path, signal, rate_hz, "FLOAT")
    command = ["ffmpeg", "-nostdin", "-hide_banner", "-i", str(path), "-af", "ebur128", "-f", "null", "-"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    return float(re.findall(r"I:\s+(-?[\d.]+) LUFS", printed)[-1])


@pytest.mark.parametrize("rate_hz", [11025, 44100])
def test_blocks_change_nothing(rate_hz):
    signal = bursts(rate_hz, 5.0)
    meter = LoudnessMeter(rate_hz, 2)
    for piece in np.split(signal, [1, 2, 999, 1000, 30001]):
        meter.add(piece)
    assert meter.integrated_lufs() == pytest.approx(integrated_lufs(signal, rate_hz), abs=tol.SAME_METER_LU)


def test_silence_has_no_loudness():
    assert integrated_lufs(np.zeros(48000), 48000) == -math.inf
    assert integrated_lufs(np.zeros(0), 48000) == -math.inf
    assert integrated_lufs(tone(1000, -75, 2, 48000), 48000) == -math.inf
    with pytest.raises(InputError, match="silen"):
        gain_db_to_match(np.zeros(3), -23.0)


def test_a_clip_shorter_than_a_block_is_read_as_played_into_silence():
    """As documented: 100 ms of a tone fill a quarter of the block, 6.02 LU less."""
    meter = LoudnessMeter(48000)
    meter.add(tone(1000, -20, 0.1, 48000))
    assert meter.is_padded
    whole = LoudnessMeter(48000)
    whole.add(tone(1000, -20, 0.4, 48000))
    assert not whole.is_padded
    difference = whole.integrated_lufs() - meter.integrated_lufs()
    assert difference == pytest.approx(10 * math.log10(4), abs=tol.EBU_LU)


def block_powers(signal, rate_hz: float):
    meter = LoudnessMeter(rate_hz)
    meter.add(signal)
    return np.array(meter.block_powers())


def test_matching_gain():
    signal = bursts(48000, 4.0)[:, 0]
    gain_db = gain_db_to_match(block_powers(signal, 48000), -18.0)
    assert integrated_lufs(signal * 10 ** (gain_db / 20), 48000) == pytest.approx(-18.0, abs=tol.EXACT_LU)


@pytest.mark.parametrize("target_lufs", [-36.0, -18.0, -9.0])
def test_matching_gain_of_a_quiet_sound_that_fades(target_lufs):
    """The absolute gate is fixed while the level moves: blocks below it before count after."""
    seconds = np.arange(30 * 48000) / 48000
    signal = 10 ** (-2.3) * np.exp(-seconds / 3.0) * np.sin(2 * np.pi * 500 * seconds)
    as_it_is = integrated_lufs(signal, 48000)
    gain_db = gain_db_to_match(block_powers(signal, 48000), target_lufs)
    matched = integrated_lufs(signal * 10 ** (gain_db / 20), 48000)
    assert matched == pytest.approx(target_lufs, abs=tol.EXACT_LU)
    assert abs(as_it_is + gain_db - target_lufs) > tol.LOUDNESS_LU  # a plain difference would not find it


def test_six_channels_are_refused():
    with pytest.raises(InputError, match="6 channels"):
        integrated_lufs(np.zeros((48000, 6)), 48000)


def test_memory_does_not_grow_with_the_signal():
    signal = bursts(48000, 60.0)
    integrated_lufs(signal[:48000], 48000)  # imports happen once, before
    tracemalloc.start()
    integrated_lufs(signal, 48000)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < signal.nbytes / 5


def test_a_set_without_room_comes_down_together_to_one_loudness():
    """The peaks leave no room for -3 LUFS; one sound fades below the gates, the other does not."""
    seconds = np.arange(20 * 48000) / 48000
    fading = 10 ** (-2.3) * np.exp(-seconds / 2.0) * np.sin(2 * np.pi * 500 * seconds)
    steady = 0.2 * np.sin(2 * np.pi * 300 * seconds)
    sounds = [fading, steady]
    peaks = [float(np.abs(sound).max()) for sound in sounds]
    gains = matching_gains([block_powers(sound, 48000) for sound in sounds], peaks, -3.0)
    reached = [integrated_lufs(gain * sound, 48000) for gain, sound in zip(gains, sounds, strict=True)]
    assert reached[0] == pytest.approx(reached[1], abs=tol.EXACT_LU)
    assert reached[0] < -3.0
    allowed = 10 ** ((CEILING_DBTP - MARGIN_DB) / 20)
    assert max(gain * peak for gain, peak in zip(gains, peaks, strict=True)) == pytest.approx(
        allowed, rel=0.01
    )


def test_a_silent_sound_comes_down_as_far_as_the_set():
    """A sound without a loudness, whose peaks leave no room, lowers the others once and no further."""
    tone_ = 0.1 * np.sin(2 * np.pi * 300 * np.arange(4 * 48000) / 48000)
    alone, _ = matching_gains([block_powers(tone_, 48000), None], [0.1, 0.1], -30.0)
    gain, silent = matching_gains([block_powers(tone_, 48000), None], [0.1, 4.0], -30.0)
    allowed = 10 ** ((CEILING_DBTP - MARGIN_DB) / 20)
    assert 4.0 * silent == pytest.approx(allowed, rel=1e-3)
    assert gain / alone == pytest.approx(allowed / 4.0, rel=1e-3)
