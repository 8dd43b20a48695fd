"""A real electric guitar through every position of the demo baritone, against the computed response.

The recording is guit_e_slide.flac of Debian's package sonic-pi-samples (licence CC0 1.0), used as
data only. It was made through unknown pickups, so it is playing material for the test, not a
reference for strings. The expected clip is worked out the slow way: the whole recording resampled by
one Fourier transform, multiplied by the sum of the coil responses with their string signs, and
transformed back. Nothing of the product's resampling, filters or rendering takes part in it.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from numpy.typing import NDArray
from places import ROOT
from tolerances import SPECTRUM_DB, WAVEFORM_DB

from dsp.circuit.response import respond
from dsp.wiring.model import Wiring
from server.cli import main
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

BARITONE = ROOT / "demo_audio" / "baritone.yaml"
RECORDING = Path("/usr/share/sonic-pi/samples/guit_e_slide.flac")
RATE_HZ = 48_000
PAD = 1 << 15


@pytest.fixture(scope="module")
def recording() -> Path:
    if not RECORDING.exists():
        if os.environ.get("CI") == "true":
            pytest.fail("Debian's sonic-pi-samples is missing; CI must install it")
        pytest.skip("Debian's sonic-pi-samples is missing")
    return RECORDING


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    return load_wiring(BARITONE)


@pytest.fixture(scope="module")
def clips(recording: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, NDArray[np.float64]]:
    """Return the product's clips by position."""
    folder = tmp_path_factory.mktemp("slide")
    take = folder / "slide.yaml"
    take.write_text(f"format: 1\nname: Slide\nkind: mono\naudio: {recording}\nsource: flat\nline: chords\n")
    arguments = ["render", str(BARITONE), "--take", str(take), "--out", str(folder / "clips")]
    done = CliRunner().invoke(main, arguments, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    listed: list[dict[str, Any]] = json.loads((folder / "clips" / "clips.json").read_text())["clips"]
    assert {entry["coil_places"] for entry in listed} == {"not modelled: electrical voicing only"}
    return {entry["position"]: soundfile.read(folder / "clips" / entry["file"])[0] for entry in listed}


def _resampled_spectrum(recording: Path) -> tuple[NDArray[np.complex128], int, int]:
    """Return the spectrum of the recording at 48 kHz, padded at the end, and both lengths."""
    samples, rate_hz = soundfile.read(recording)
    seconds = -(-(len(samples) + PAD) // rate_hz)  # whole seconds: both rates have whole lengths
    padded = np.zeros(seconds * rate_hz)
    padded[: len(samples)] = samples
    spectrum = np.fft.rfft(padded)
    length = seconds * RATE_HZ
    wide = np.zeros(length // 2 + 1, complex)
    wide[: len(spectrum)] = spectrum * (RATE_HZ / rate_hz)
    return wide, length, round(len(samples) * RATE_HZ / rate_hz)


def _expected(wiring: Wiring, position: str, recording: Path) -> NDArray[np.float64]:
    """Return the clip by one Fourier transform."""
    spectrum, length, n = _resampled_spectrum(recording)
    freqs_hz = np.fft.rfftfreq(length, 1.0 / RATE_HZ)
    signs = np.array([coil.winding * coil.magnet * coil.sensitivity for coil in wiring.coils.values()])
    response = np.zeros(len(freqs_hz), complex)
    response[1:] = signs @ respond(wiring, [wiring.setting(position)], freqs_hz[1:]).coil[0]
    response[0] = response[1].real
    return np.fft.irfft(spectrum * response, length)[:n]


def _difference_db(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Return the energy of the difference below 18 kHz re that of the second, in dB."""
    window = np.hanning(len(one))
    upto = int(18_000.0 / RATE_HZ * len(one))
    difference = np.fft.rfft(window * (one - other))[:upto]
    whole = np.fft.rfft(window * other)[:upto]
    return float(10.0 * np.log10(np.sum(np.abs(difference) ** 2) / np.sum(np.abs(whole) ** 2)))


@pytest.mark.parametrize("position", ["1", "2", "3", "4", "5", "6"])
def test_clip_is_the_recording_through_the_circuit(
    clips: dict[str, NDArray[np.float64]], wiring: Wiring, recording: Path, position: str
) -> None:
    """Compare sample by sample: level, alignment and spectrum at once."""
    expected = _expected(wiring, position, recording)
    clip = clips[position]
    assert len(clip) == len(expected)
    assert _difference_db(clip, expected) <= WAVEFORM_DB


def test_one_sample_late_or_a_thousandth_of_a_db_is_found(
    clips: dict[str, NDArray[np.float64]], wiring: Wiring, recording: Path
) -> None:
    """The twin: the measure above detects errors of alignment and level."""
    expected = _expected(wiring, "1", recording)
    assert _difference_db(np.roll(clips["1"], 1), expected) > WAVEFORM_DB
    assert _difference_db(clips["1"] * 10.0 ** (0.001 / 20.0), expected) > WAVEFORM_DB


@pytest.mark.long
def test_levels_and_spectra_per_third_octave(
    clips: dict[str, NDArray[np.float64]], wiring: Wiring, recording: Path
) -> None:
    """Compare each clip with position 1 band by band, as a listener does."""
    centres = 1000.0 * 2.0 ** (np.arange(-12, 13) / 3.0)
    edges = [(c * 2.0 ** (-1 / 6), c * 2.0 ** (1 / 6)) for c in centres]

    def bands(samples: NDArray[np.float64]) -> NDArray[np.float64]:
        power = np.abs(np.fft.rfft(samples)) ** 2
        freqs_hz = np.fft.rfftfreq(len(samples), 1.0 / RATE_HZ)
        sums = [power[(freqs_hz >= low) & (freqs_hz < high)].sum() for low, high in edges]
        return 10.0 * np.log10(np.array(sums))

    reference, first = bands(_expected(wiring, "1", recording)), bands(clips["1"])
    seen = 0.0
    for position in ("2", "3", "4", "5", "6"):
        want = bands(_expected(wiring, position, recording)) - reference
        got = bands(clips[position]) - first
        assert np.max(np.abs(got - want)) <= SPECTRUM_DB
        seen = max(seen, float(np.ptp(want)))
    assert seen > 6.0  # the positions do differ


def test_the_demo_ships_this_recording(recording: Path) -> None:
    assert (ROOT / "demo_audio" / "e_slide.flac").read_bytes() == recording.read_bytes()
