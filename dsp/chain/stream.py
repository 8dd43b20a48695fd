"""Run a clip through a way to hear it: aligned to the take, however its blocks are cut."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from dsp.chain.run import Chain
from dsp.circuit.reduction import Floats

PIECE = 1 << 14
"""Samples that a chain gets at a time. Pieces of one length give the same bytes for blocks of any."""


class Stream:
    """One clip on its way through a chain.

    Attributes
    ----------
    excess_db : float
        What `Chain.excess_db` says of the samples so far.
    """

    def __init__(self, chain: Chain) -> None:
        self._chain = chain
        self.excess_db = 0.0

    def run(self, blocks: Iterable[Floats]) -> Iterator[Floats]:
        """Yield what is heard of volts at the input.

        Parameters
        ----------
        blocks : iterable of ndarray, shape (n,), volt

        Yields
        ------
        ndarray, shape (m,)
            As long as the input in all, without the chain's delay.
        """
        state, late = self._chain.initial_state(), self._chain.delay
        for piece in cut_evenly(add_zeros(blocks, late)):
            output, state = self._chain.run(piece, state)
            self.excess_db = self._chain.excess_db(state)
            cut = min(late, len(output))
            late -= cut
            if cut < len(output):
                yield output[cut:]


def add_zeros(blocks: Iterable[Floats], count: int) -> Iterator[Floats]:
    """Yield blocks, shape (n,), then zeros."""
    yield from blocks
    yield np.zeros(count)


def cut_evenly(blocks: Iterable[Floats]) -> Iterator[Floats]:
    """Cut blocks anew, shape (n,), all but the last to `PIECE`."""
    waiting: list[Floats] = []
    length = 0
    for block in blocks:
        waiting.append(block)
        length += len(block)
        if length >= PIECE:
            whole = np.concatenate(waiting)
            cut = length - length % PIECE
            yield from np.split(whole[:cut], cut // PIECE)
            waiting, length = [whole[cut:]], length % PIECE
    if length:
        yield np.concatenate(waiting)
