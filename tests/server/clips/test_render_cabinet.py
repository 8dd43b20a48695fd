"""`presolder render --cabinet`: an impulse response of one's own in place of the loudspeaker."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from places import DEMO
from render_case import Render, listed

from dsp.chain.speaker import design_speaker
from dsp.filters.run import Runner
from server.files.tags import read_tags

Floats = NDArray[np.float64]
RATE_HZ = 48_000


def model(rate_hz: int = RATE_HZ, late: int = 300) -> Floats:
    """Return the model's own impulse response, as a microphone some way off would record it."""
    runner = Runner(design_speaker(rate_hz))
    impulse = np.zeros((1, rate_hz // 8))
    impulse[0, 0] = 0.3
    out, _ = runner.run(impulse, runner.initial_state())
    return np.concatenate([np.zeros(late), out])


def spectrum_db(folder: Path, name: str) -> Floats:
    """Return third-octave levels from 100 Hz to 8 kHz, dB."""
    samples, _ = soundfile.read(folder / "out" / name)
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(len(samples), 1.0 / RATE_HZ)
    edges = 100.0 * 2.0 ** (np.arange(20) / 3.0)
    return np.array([10.0 * np.log10(power[(hz >= a) & (hz < b)].sum()) for a, b in pairwise(edges)])


def test_the_model_recorded_sounds_as_the_model(render: Render, tmp_path: Path) -> None:
    """At another rate, in the first of two channels: both are said."""
    rate_hz = 96_000
    one = model(rate_hz)
    soundfile.write(tmp_path / "my cab.wav", np.stack([one, np.ones(len(one))], axis=1), rate_hz, "FLOAT")
    assert render("-p", "1", "--through", "clean").exit_code == 0
    done = render("-p", "1", "--through", "clean", "--cabinet", str(tmp_path / "my cab.wav"))
    assert done.exit_code == 0, done.output
    assert "my cab.wav has 2 channels: the first is taken" in done.stderr
    assert "resampled from 96000 to 48000" in done.stderr
    own = next(entry for entry in listed(tmp_path) if entry["cabinet"])
    plain = next(entry for entry in listed(tmp_path) if not entry["cabinet"])
    assert own["cabinet"] == "my cab"
    assert own["file"] != plain["file"]
    assert read_tags(tmp_path / "out" / own["file"], "wav")["through"] == "clean, cabinet my cab"
    off_db = spectrum_db(tmp_path, own["file"]) - spectrum_db(tmp_path, plain["file"])
    off_db -= own["gain_db"] - plain["gain_db"]
    assert np.max(np.abs(off_db)) <= 0.2


def test_another_cabinet_sounds_otherwise(render: Render, tmp_path: Path) -> None:
    dull = np.exp(-np.arange(480) / 20.0)
    soundfile.write(tmp_path / "dull.wav", dull, RATE_HZ, "FLOAT")
    assert render("-p", "1", "--through", "clean").exit_code == 0
    assert render("-p", "1", "--through", "clean", "--cabinet", str(tmp_path / "dull.wav")).exit_code == 0
    own, plain = (
        spectrum_db(tmp_path, one["file"]) for one in sorted(listed(tmp_path), key=lambda e: not e["cabinet"])
    )
    assert own[-1] - own[0] < plain[-1] - plain[0]


@pytest.mark.parametrize(
    ("samples", "through", "words", "status"),
    [
        (np.zeros(4800), "clean", "silence", 1),
        (
            np.random.default_rng(1).normal(size=3 * RATE_HZ) * 0.1,
            "clean",
            "allowed: at most 1 s from its onset",
            1,
        ),
        (np.random.default_rng(1).normal(size=11 * RATE_HZ) * 0.1, "clean", "at most 10 s", 1),
        (model(), "direct", "allowed: --through clean, edge, driven", 2),
    ],
    ids=["silent", "too long", "no impulse", "direct"],
)
def test_what_is_no_cabinet_is_refused(
    render: Render, tmp_path: Path, samples: Floats, through: str, words: str, status: int
) -> None:
    path = tmp_path / "cab.wav"
    soundfile.write(path, samples, RATE_HZ, "FLOAT")
    done = render("-p", "1", "--through", through, "--cabinet", str(path))
    assert done.exit_code == status
    told = " ".join(done.stderr.split())
    assert words in told
    assert status == 2 or "cab.wav" in told


def test_what_is_no_sound_is_refused(render: Render) -> None:
    done = render("-p", "1", "--through", "clean", "--cabinet", str(DEMO / "baritone.yaml"))
    assert done.exit_code == 1
    assert "baritone.yaml" in done.stderr
