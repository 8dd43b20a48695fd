"""A measured impulse response in place of the loudspeaker, against the model measured as one."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tolerances import BLOCK_CUT, SMALL_SIGNAL_DB

from dsp.chain.impulse import Cabinet, read_cabinet
from dsp.chain.run import Chain, respond_small
from dsp.chain.speaker import design_speaker, respond_speaker
from dsp.chain.ways import WAYS
from dsp.errors import InputError
from dsp.filters.run import Runner

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0
FREQS_HZ = np.geomspace(60.0, 15e3, 100)


def measured(late: int = 0, gain: float = 1.0, length: int = 6000) -> Floats:
    """Return the model's own impulse response, as a microphone some way off would record it."""
    runner = Runner(design_speaker(RATE_HZ))
    impulse = np.zeros((1, length))
    impulse[0, 0] = gain
    out, _ = runner.run(impulse, runner.initial_state())
    return np.concatenate([np.zeros(late), out])


@pytest.mark.parametrize(("late", "gain"), [(0, 1.0), (700, 0.003), (3000, -40.0)])
def test_the_model_measured_is_the_model(late: int, gain: float) -> None:
    cabinet = read_cabinet(measured(late, gain), RATE_HZ)
    off_db = 20.0 * np.log10(np.abs(cabinet.response(FREQS_HZ) / respond_speaker(FREQS_HZ)))
    assert np.max(np.abs(off_db)) <= 0.1
    assert len(cabinet.taps) <= 6000 + 0.001 * RATE_HZ
    assert int(np.argmax(np.abs(cabinet.taps))) < 0.001 * RATE_HZ


def test_response_is_the_transform() -> None:
    cabinet = read_cabinet(measured(10), RATE_HZ)
    length = 1 << 14
    want = np.fft.rfft(cabinet.taps, length)
    bins = np.array([3, 50, 777, 6000])
    np.testing.assert_allclose(cabinet.response(bins * RATE_HZ / length), want[bins], atol=1e-9)


@pytest.mark.parametrize("name", ["clean", "driven"])
def test_it_takes_the_loudspeaker_s_place(name: str) -> None:
    cabinet = read_cabinet(measured(), RATE_HZ)
    one, length = Chain(WAYS[name], RATE_HZ, cabinet=cabinet), 1 << 14
    impulse = np.zeros(length)
    impulse[0] = 1e-6
    out, _ = one.run(impulse, one.initial_state())
    bins = np.unique(np.geomspace(60.0, 15e3, 60) * length / RATE_HZ).astype(int)
    freqs_hz = bins * RATE_HZ / length
    got = np.abs(np.fft.rfft(out)[bins]) / 1e-6
    want = np.abs(respond_small(WAYS[name], freqs_hz, cabinet=cabinet))
    assert np.max(np.abs(20.0 * np.log10(got / want))) <= SMALL_SIGNAL_DB
    dull = Cabinet(np.array([1.0]), RATE_HZ)
    other = np.abs(respond_small(WAYS[name], freqs_hz, cabinet=dull))
    assert np.max(np.abs(20.0 * np.log10(other / want))) > 10.0


def test_cut_into_blocks_it_is_the_same() -> None:
    one = Chain(WAYS["edge"], RATE_HZ, cabinet=read_cabinet(measured(), RATE_HZ))
    volts = 0.1 * np.random.default_rng(2).standard_normal(9000)
    whole, _ = one.run(volts, one.initial_state())
    state, pieces, at = one.initial_state(), [], 0
    for length in (1, 0, 128, 3000, 71, 5800):
        piece, state = one.run(volts[at : at + length], state)
        pieces.append(piece)
        at += length
    assert np.max(np.abs(np.concatenate(pieces) - whole)) <= BLOCK_CUT * np.max(np.abs(whole))


@pytest.mark.parametrize(
    ("samples", "why"),
    [
        (np.zeros(100), "silence"),
        (np.zeros(0), "silence"),
        (np.array([1.0, np.nan]), "sample that is not finite"),
        (np.ones((2, 50)), "one channel"),
        (np.ones(60_000), "at most 1 s"),
    ],
)
def test_what_is_no_impulse_response_is_refused(samples: Floats, why: str) -> None:
    with pytest.raises(InputError, match=why):
        read_cabinet(samples, RATE_HZ)


def test_another_rate_is_refused() -> None:
    with pytest.raises(InputError, match=r"44100 Hz.*48000 Hz"):
        Chain(WAYS["clean"], RATE_HZ, cabinet=Cabinet(np.ones(4), 44_100.0))
