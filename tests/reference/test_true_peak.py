"""True peak against EBU Tech 3341, closed forms and ffmpeg.

EBU Tech 3341 version 4 (2023), cases 15-19: read in programs that quote it; its tolerance of
+0.2/-0.4 dB is from memory. The tones are faded in and out over 10 ms: a tone that begins
abruptly truly exceeds its own height between the samples.
"""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess

import numpy as np
import pytest
import soundfile
import tolerances as tol

from dsp.sound.peak import MARGIN_DB, TruePeakMeter, dbtp, gain_for_ceiling, oversampling, true_peak

pytestmark = pytest.mark.reference

RATES = (44100, 48000, 96000)
TOO_MUCH = 1.1
EBU_CASES = {  # number: (rate / frequency, phase in degrees, amplitude, expected dBTP)
    15: (4, 0.0, 0.5, -6.0),
    16: (4, 45.0, 0.5, -6.0),
    17: (6, 60.0, 0.5, -6.0),
    18: (8, 67.5, 0.5, -6.0),
    19: (4, 45.0, 1.41, 3.0),
}


def ebu_signal(number: int, rate_hz: int) -> np.ndarray:
    divisor, phase_deg, amplitude, _ = EBU_CASES[number]
    n = rate_hz
    fade = np.minimum(1.0, np.minimum(np.arange(n), np.arange(n)[::-1]) / (0.01 * rate_hz))
    smooth = 0.5 - 0.5 * np.cos(np.pi * fade)
    return amplitude * smooth * np.sin(2 * np.pi * np.arange(n) / divisor + np.radians(phase_deg))


def in_tolerance(measured_dbtp: float, expected_dbtp: float) -> bool:
    return -tol.TRUE_PEAK_DOWN_DB <= measured_dbtp - expected_dbtp <= tol.TRUE_PEAK_UP_DB


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("number", EBU_CASES)
def test_ebu_case(number, rate_hz):
    """EBU Tech 3341 cases 15-19, and the same tones off by a little more than allowed."""
    signal, expected = ebu_signal(number, rate_hz), EBU_CASES[number][-1]
    measured = dbtp(true_peak(signal, rate_hz))
    assert in_tolerance(measured, expected)
    too_high = 10 ** ((expected - measured + TOO_MUCH * tol.TRUE_PEAK_UP_DB) / 20)
    too_low = 10 ** ((expected - measured - TOO_MUCH * tol.TRUE_PEAK_DOWN_DB) / 20)
    assert not in_tolerance(dbtp(true_peak(too_high * signal, rate_hz)), expected)
    assert not in_tolerance(dbtp(true_peak(too_low * signal, rate_hz)), expected)


@pytest.mark.parametrize("number", [16, 17, 18, 19])
def test_the_samples_alone_would_fail(number):
    signal, expected = ebu_signal(number, 48000), EBU_CASES[number][-1]
    assert not in_tolerance(dbtp(np.abs(signal).max()), expected)


def smooth_noise(rate_hz: int, seconds: float = 2.0) -> np.ndarray:
    """Return noise below 10 kHz; above it meters may differ by their interpolation."""
    n = round(seconds * rate_hz)
    spectrum = np.fft.rfft(np.random.default_rng(3341).standard_normal(n))
    spectrum[np.fft.rfftfreq(n, 1 / rate_hz) > 10000] = 0.0
    noise = np.fft.irfft(spectrum, n)
    return 0.5 * noise / np.abs(noise).max()


@pytest.mark.parametrize("rate_hz", RATES)
def test_equals_ffmpeg(rate_hz, tmp_path):
    """ffmpeg's ebur128 filter with peak=true, an independent meter."""
    if not shutil.which("ffmpeg"):
        if os.environ.get("CI") == "true":
            pytest.fail("ffmpeg is missing")
        pytest.skip("ffmpeg is missing")
    signal, path = smooth_noise(rate_hz), tmp_path / "noise.wav"
    soundfile.write(path, signal, rate_hz, "FLOAT")
    command = [
        "ffmpeg",
        "-nostdin",
        "-hide_banner",
        "-i",
        str(path),
        "-af",
        "ebur128=peak=true",
        "-f",
        "null",
        "-",
    ]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    other = float(re.findall(r"Peak:\s+(-?[\d.]+) dBFS", printed)[-1])
    measured = dbtp(true_peak(signal, rate_hz))
    assert abs(measured - other) <= tol.PRINTED_PEAK_DB
    off_db = math.copysign(TOO_MUCH * tol.PRINTED_PEAK_DB, measured - other)
    perturbed = dbtp(true_peak(signal * 10 ** (off_db / 20), rate_hz))
    assert not abs(perturbed - other) <= tol.PRINTED_PEAK_DB


def test_equals_band_limited_interpolation():
    """Closed form: a periodic signal's values between samples follow from its Fourier series."""
    signal = np.tile(smooth_noise(48000, 0.1), 3)
    n = len(signal)
    spectrum = np.fft.rfft(signal)
    dense = np.fft.irfft(spectrum, 32 * n) * 32
    inner = dense[32 * n // 3 : 2 * 32 * n // 3]
    assert dbtp(true_peak(signal, 48000)) == pytest.approx(dbtp(np.abs(inner).max()), abs=MARGIN_DB)


def test_oversampling_reaches_192_khz():
    """BS.1770-5 annex 2: four times at 48 kHz, less at higher rates."""
    assert [oversampling(rate) for rate in (44100, 48000, 88200, 96000, 192000, 384000)] == [4, 4, 2, 2, 1, 1]


@pytest.mark.parametrize("rate_hz", [*RATES, 192000])
def test_blocks_and_skipping_change_nothing(rate_hz):
    signal = smooth_noise(rate_hz, 0.5) * np.linspace(1.0, 0.05, round(0.5 * rate_hz))
    meter = TruePeakMeter(rate_hz)
    for piece in np.split(signal[::-1], [1, 7, 4095, 4096, 9001]):
        meter.add(piece)
    assert meter.true_peak() == pytest.approx(true_peak(signal, rate_hz), rel=1e-12)


def test_the_last_sample_rings_on_into_silence():
    """A peak whose crest lies past the last sample is found as well."""
    ends = np.array([0.0] * 100 + [0.7, 0.7])
    assert true_peak(ends, 48000) > 0.7
    assert true_peak(ends[::-1], 48000) == pytest.approx(true_peak(ends, 48000), rel=1e-9)


def test_the_louder_channel_counts():
    signal = np.stack([0.1 * ebu_signal(16, 48000), ebu_signal(16, 48000)], axis=1)
    assert true_peak(signal, 48000) == pytest.approx(true_peak(signal[:, 1], 48000), rel=1e-12)


def test_silence():
    assert true_peak(np.zeros(1000), 48000) == 0.0
    assert dbtp(0.0) == -math.inf
    assert gain_for_ceiling(0.0) == 1.0


@pytest.mark.parametrize("peak", [0.01, 0.8, 0.89, 1.0, 3.7])
def test_gain_never_raises_and_keeps_the_ceiling(peak):
    gain = gain_for_ceiling(peak, -1.0)
    assert 0.0 < gain <= 1.0
    assert dbtp(peak * gain) <= -1.0 - MARGIN_DB + 1e-9
    assert gain == 1.0 or dbtp(peak * gain) == pytest.approx(-1.0 - MARGIN_DB)
