"""A clip through a chain: as long as the take, aligned, and the same bytes however it is cut."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from dsp.chain.divider import LOW_SHARE, input_share
from dsp.chain.run import Chain, ChainState
from dsp.chain.stream import PIECE, Stream
from dsp.chain.ways import WAYS
from dsp.parts.library.index import LIBRARY
from dsp.parts.load import Load
from dsp.units import parse

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0
LENGTH = 3 * PIECE + 1234
CUTS = ((LENGTH,), (1, 0, 127, PIECE, PIECE + 5, LENGTH), tuple(range(0, LENGTH, 2999)))


def noise(volt: float = 0.2) -> Floats:
    return volt * np.random.default_rng(11).standard_normal(LENGTH)


@pytest.mark.parametrize("name", ["clean", "edge", "driven"])
def test_any_cut_gives_the_same_bytes(name: str) -> None:
    chain, volts = Chain(WAYS[name], RATE_HZ), noise()
    found = []
    for cuts in CUTS:
        stream = Stream(chain)
        found.append(np.concatenate(list(stream.run(np.split(volts, sorted(cuts))))))
        assert len(found[-1]) == LENGTH
    assert found[0].tobytes() == found[1].tobytes() == found[2].tobytes()


class Counting(Chain):
    """A chain that notes how many samples it is given at a time."""

    lengths: list[int]

    def run(self, volts: Floats, state: ChainState) -> tuple[Floats, ChainState]:
        self.lengths.append(len(volts))
        return super().run(volts, state)


@pytest.mark.parametrize("cuts", CUTS, ids=len)
def test_a_chain_gets_pieces_of_one_length(cuts: tuple[int, ...]) -> None:
    """Longer or shorter ones would change the last bits of what it computes."""
    chain = Counting(WAYS["clean"], RATE_HZ)
    chain.lengths = []
    for _ in Stream(chain).run(np.split(noise(), sorted(cuts))):
        pass
    assert chain.lengths == [PIECE, PIECE, PIECE, LENGTH + chain.delay - 3 * PIECE]


@pytest.mark.parametrize("name", ["clean", "driven"])
def test_the_delay_is_taken_out_and_the_end_stays(name: str) -> None:
    chain, impulse = Chain(WAYS[name], RATE_HZ), np.zeros(5000)
    impulse[4990] = 1e-6
    (late,) = np.concatenate(list(Stream(chain).run([impulse])))[None, 4980:]
    assert int(np.argmax(np.abs(late))) >= 10  # nothing but the filters' small ringing comes before it
    assert np.max(np.abs(late[10:])) > 20.0 * np.max(np.abs(late[:5]))


def test_excess_is_that_of_the_whole_clip() -> None:
    loud = noise(4.0)
    loud[: 2 * PIECE] = 0.0
    stream = Stream(Chain(WAYS["driven"], RATE_HZ))
    for _ in stream.run([loud]):
        pass
    assert stream.excess_db > 3.0
    quiet = Stream(Chain(WAYS["driven"], RATE_HZ))
    for _ in quiet.run([1e-4 * loud]):
        pass
    assert quiet.excess_db == 0.0


def test_half_the_voltage_of_a_low_input_goes_on() -> None:
    amplifier = LIBRARY["low_input"].fields["amplifier"]
    ohm, farad = parse(amplifier["resistance"], "resistance"), parse(amplifier["capacitance"], "capacitance")  # type: ignore[index]
    assert input_share(Load(2.0, 80e-12, ohm, farad)) == LOW_SHARE == 0.5
    assert input_share(Load(amplifier_ohm=ohm)) == 1.0
    volts = noise()[:4000]
    for name, want in (("driven", 0.5), ("direct", 1.0)):
        chain = Chain(WAYS[name], RATE_HZ)
        low = Chain(WAYS[name], RATE_HZ, input_share=0.5)
        got, _ = low.run(volts, low.initial_state())
        half, _ = chain.run(want * volts, chain.initial_state())
        np.testing.assert_allclose(got, half, atol=1e-12)
