"""The whole chain: cut anywhere, aligned, silent in silence, and direct left as it is."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from tolerances import BLOCK_CUT, SILENT_DBFS, SMALL_SIGNAL_DB

from dsp.chain.run import Chain, drive_gain, respond_small
from dsp.chain.soft import MOST_DRIVE
from dsp.chain.stack import KNOBS
from dsp.chain.ways import WAYS
from dsp.errors import InputError

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0


@cache
def chain(name: str) -> Chain:
    return Chain(WAYS[name], RATE_HZ)


def noise(length: int, volt: float = 0.05) -> Floats:
    return volt * np.random.default_rng(5).standard_normal(length)


def test_direct_is_the_very_same_sound() -> None:
    volts = noise(1000)
    one = chain("direct")
    out, _ = one.run(volts, one.initial_state())
    assert out is volts
    assert one.delay == 0


@pytest.mark.parametrize("name", WAYS)
def test_cut_into_blocks_it_is_the_same(name: str) -> None:
    volts, one = noise(6000, 0.2), chain(name)
    whole, end = one.run(volts, one.initial_state())
    state, pieces, at = one.initial_state(), [], 0
    for length in (1, 0, 127, 128, 31, 1000, 2713, 2000):
        piece, state = one.run(volts[at : at + length], state)
        pieces.append(piece)
        at += length
    assert at == len(volts)
    assert np.max(np.abs(np.concatenate(pieces) - whole)) <= BLOCK_CUT * np.max(np.abs(whole))
    if state.soft is not None and end.soft is not None:
        assert state.soft.drive == pytest.approx(end.soft.drive, rel=BLOCK_CUT)


@pytest.mark.parametrize("name", ["clean", "edge", "driven"])
def test_an_impulse_gives_the_response(name: str) -> None:
    """A microvolt is bent by nothing, so every way is linear; the delay is a whole number of samples."""
    one, length = chain(name), 1 << 15
    impulse = np.zeros(length)
    impulse[0] = 1e-6
    out, _ = one.run(impulse, one.initial_state())
    bins = np.unique(np.geomspace(40.0, 18e3, 200) * length / RATE_HZ).astype(int)
    freqs_hz = bins * RATE_HZ / length
    got = np.fft.rfft(out)[bins] / 1e-6 * np.exp(2j * np.pi * freqs_hz / RATE_HZ * one.delay)
    ratio = got / respond_small(WAYS[name], freqs_hz)
    band = freqs_hz <= 18e3
    assert np.max(np.abs(20.0 * np.log10(np.abs(ratio[band])))) <= SMALL_SIGNAL_DB
    assert np.max(np.abs(np.angle(ratio[band], deg=True))) <= 0.2


@pytest.mark.parametrize("name", WAYS)
def test_silence_stays_silent(name: str) -> None:
    one = chain(name)
    out, _ = one.run(np.zeros(4000), one.initial_state())
    assert np.max(np.abs(out)) <= 10.0 ** (SILENT_DBFS / 20.0)


@pytest.mark.parametrize("name", ["edge", "driven"])
def test_after_a_note_silence_returns(name: str) -> None:
    one = chain(name)
    volts = np.concatenate([noise(4800, 0.2), np.zeros(48_000)])
    out, _ = one.run(volts, one.initial_state())
    assert np.max(np.abs(out[-4800:])) <= 10.0 ** (SILENT_DBFS / 20.0) * np.max(np.abs(out))


@pytest.mark.parametrize("name", ["edge", "driven"])
def test_drive_beyond_the_limit_gives_way(name: str) -> None:
    way, volts = WAYS[name], noise(4000, 4.0)
    one = chain(name)
    _, state = one.run(volts, one.initial_state())
    over_db = one.excess_db(state)
    assert over_db > 3.0
    lower = Chain(way, RATE_HZ, lowered_db=over_db)
    _, state = lower.run(volts, lower.initial_state())
    assert state.soft is not None
    assert state.soft.drive == pytest.approx(MOST_DRIVE[way.oversampling], rel=1e-9)
    assert lower.excess_db(state) < 1e-6
    _, quiet = one.run(noise(4000, 1e-3), one.initial_state())
    assert one.excess_db(quiet) == 0.0


def test_a_linear_way_has_no_limit() -> None:
    one = chain("clean")
    _, state = one.run(noise(2000, 100.0), one.initial_state())
    assert one.excess_db(state) == 0.0


def test_loud_is_compressed_in_driven_alone() -> None:
    gains = {}
    for name in ("clean", "driven"):
        one = chain(name)
        out = [np.std(one.run(noise(9600, volt), one.initial_state())[0][4800:]) for volt in (1e-3, 1.0)]
        gains[name] = 20.0 * np.log10(out[1] / out[0])
    assert gains["clean"] == pytest.approx(60.0, abs=1e-6)
    assert gains["driven"] < 50.0


def test_knobs_and_cabinet_are_heard() -> None:
    freqs_hz = np.array([80.0, 400.0, 4e3])
    plain = respond_small(WAYS["clean"], freqs_hz)
    for other in (
        respond_small(WAYS["clean"], freqs_hz, knobs=KNOBS["flat"]),
        respond_small(WAYS["clean"], freqs_hz, open_back=True),
        respond_small(WAYS["clean"], freqs_hz, axis_deg=45),
    ):
        assert np.max(np.abs(20.0 * np.log10(np.abs(other / plain)))) > 1.0


def test_gain_of_the_valve_as_printed() -> None:
    """61.5 for 100 kΩ with the cathode bypassed; the drive stands before it."""
    assert drive_gain(WAYS["clean"]) == pytest.approx(61.5, abs=0.05)
    assert drive_gain(WAYS["edge"]) == pytest.approx(61.54 * 10.0 ** (-7.0 / 20.0), rel=1e-3)
    assert drive_gain(WAYS["direct"]) == 1.0


def test_an_axis_that_is_not_offered_is_refused() -> None:
    with pytest.raises(InputError, match="20"):
        Chain(WAYS["clean"], RATE_HZ, axis_deg=20)


def test_rates_outside_the_filters_are_refused() -> None:
    with pytest.raises(InputError, match="sample rate"):
        Chain(WAYS["clean"], 22_050.0)
