"""Rendering stems through a chain of settings, block by block.

Each setting of the chain has a bank of its own. A bank starts before it is heard, over the
samples that precede its fade, so that its state is what it would be had it always run (but for
modes slower than the longest warm-up, of which the renderer keeps count); then its output fades
in while that of the setting before fades out. The gains of the two always add up to one.
Coefficients are never interpolated: between two stable filters lie unstable ones, and the steps
click.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from dsp.circuit.reduction import Floats
from dsp.errors import InputError
from dsp.filters.bank import Bank
from dsp.filters.run import BankState, Runner
from dsp.sound.movement import Step
from dsp.wiring.model import Setting

WARM_DB = 130.0
"""How far the slowest mode has died away when a bank that was just started is first heard, unless
the longest warm-up is over before."""
SHORTEST_WARM = 2048
LONGEST_WARM_S = 20.0
"""Longest warm-up before a flip: 130 dB of a time constant of 1.3 s (100 nF into 13 MΩ). In a clip
that is not that old yet the bank runs from its first sample, and its state is then exact."""
LONGEST_STEP_WARM_S = 4.0
"""The same before each of the many steps of a sweep: a time constant of 0.27 s."""
UNSETTLED_DB = -100.0
"""A bank heard before its slowest mode has died away by this much is worth a word."""


class _Past:
    """The stems before the block at hand, as long as a bank may want them for its warm-up."""

    def __init__(self, longest: int) -> None:
        self.longest = longest
        self.blocks: deque[Floats] = deque()
        self.length = 0

    def add(self, block: Floats) -> None:
        """Take the next block, shape (n_coils, n), and forget what is too old for its start."""
        self.blocks.append(block)
        self.length += block.shape[1]
        while self.length - self.blocks[0].shape[1] >= self.longest + block.shape[1]:
            self.length -= self.blocks.popleft().shape[1]

    def last(self, n: int, *, back: int) -> Floats:
        """The last n samples but for those `back` from the end; fewer where there are no more."""
        stop = self.length - back
        start = max(stop - n, 0)
        pieces, at = [], 0
        for block in self.blocks:
            pieces.append(block[:, max(start - at, 0) : max(stop - at, 0)])
            at += block.shape[1]
        return np.concatenate(pieces, axis=1)


@dataclass
class _Voice:
    """A bank at work on its part of the chain."""

    step: Step
    ends: Step | None
    runner: Runner
    state: BankState


@dataclass
class Renderer:
    """Renders one chain of settings; see `render`.

    Parameters
    ----------
    bank_of : callable
        Designs the bank of a setting.

    Attributes
    ----------
    banks : list of Bank
        Those used so far.
    settled_db : float
        How far the slowest mode of the bank worst off had died away when it was first heard, dB
        below its start; minus infinity where every bank ran from the first sample.
    """

    steps: Sequence[Step]
    bank_of: Callable[[Setting], Bank]
    rate_hz: float
    banks: list[Bank] = field(default_factory=list)
    settled_db: float = -math.inf

    def render(self, blocks: Iterable[Floats]) -> Iterator[Floats]:
        """The output for stems that come in blocks.

        Parameters
        ----------
        blocks : iterable of ndarray, shape (n_coils, n), volt

        Yields
        ------
        ndarray, shape (m,), volt
            Aligned to the stems, and as many samples in all; the filters' common delay is
            taken out.
        """
        voices: list[_Voice] = []
        past = _Past(round(LONGEST_WARM_S * self.rate_hz))
        position, dropped = 0, 0
        first = self._bank(self.steps[0])
        delay = first.delay  # banks answer late by this; their fades are moved with them
        pending = [self.steps[0], *(replace(one, at=one.at + delay) for one in self.steps[1:])]
        for block in self._with_tail(blocks):
            stop = position + block.shape[1]
            if pending:
                past.add(block)
            while pending and pending[0].at < stop:
                step = pending.pop(0)
                runner = Runner(first if step is self.steps[0] else self._bank(step))
                state = self._warmed(runner, step, past, stop)
                voices.append(_Voice(step, pending[0] if pending else None, runner, state))
            output = self._sum(voices, block, position)
            position = stop
            voices = [voice for voice in voices if voice.ends is None or _end(voice.ends) > position]
            if not pending:
                past.blocks.clear()
            cut = min(max(delay - dropped, 0), len(output))
            dropped += cut
            if cut < len(output):
                yield output[cut:]

    def _warmed(self, runner: Runner, step: Step, past: _Past, now: int) -> BankState:
        """State of a bank that has run over the samples before it is heard."""
        most_s = LONGEST_STEP_WARM_S if step.straight else LONGEST_WARM_S
        needed = warm_up_samples(runner.bank)
        n = min(needed, round(most_s * self.rate_hz))
        before = past.last(n, back=now - step.at)
        if n < needed and before.shape[1] < step.at:
            self.settled_db = max(self.settled_db, -WARM_DB * before.shape[1] / needed)
        _, state = runner.run(before, runner.initial_state())
        return state

    def _with_tail(self, blocks: Iterable[Floats]) -> Iterator[Floats]:
        """The blocks, and as many zeros behind them as the filters' delay."""
        n_coils = 0
        for block in blocks:
            if block.ndim != 2 or (n_coils and len(block) != n_coils):
                raise InputError("stems", f"shape {block.shape}", "blocks of (n_coils, n)")
            n_coils = len(block)
            if block.shape[1]:
                yield block
        if self.banks:
            yield np.zeros((n_coils, self.banks[0].delay))

    def _bank(self, step: Step) -> Bank:
        bank = self.bank_of(step.setting)
        self.banks.append(bank)
        return bank

    def _sum(self, voices: Sequence[_Voice], block: Floats, position: int) -> Floats:
        """Everything that sounds in one block."""
        n = block.shape[1]
        output = np.zeros(n)
        for voice in voices:
            start = max(voice.step.at - position, 0)
            stop = n if voice.ends is None else min(n, _end(voice.ends) - position)
            if start >= stop:
                continue
            part, voice.state = voice.runner.run(block[:, start:stop], voice.state)
            samples = np.arange(position + start, position + stop)
            if voice.step.fade:
                part = part * _rise(voice.step, samples)
            if voice.ends is not None:
                part = part * (1.0 - _rise(voice.ends, samples))
            output[start:stop] += part
        return output


def _end(step: Step) -> int:
    """Sample at which the fade towards a step is over."""
    return step.at + step.fade


def _rise(step: Step, samples: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Floats:
    """Gain of a step's fade at samples, 0 before it and 1 behind it."""
    share = np.clip((samples - step.at + 0.5) / step.fade, 0.0, 1.0)
    return share if step.straight else 0.5 - 0.5 * np.cos(np.pi * share)


def warm_up_samples(bank: Bank) -> int:
    """Samples in which the slowest mode of a bank dies away by `WARM_DB`."""
    radius = bank.radius()
    if radius <= 0.0:
        return SHORTEST_WARM
    needed = WARM_DB / (-20.0 * np.log10(max(min(radius, 1.0 - 1e-12), 1e-6)))
    return int(max(needed, SHORTEST_WARM))
