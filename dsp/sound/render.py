"""Render stems through a chain of settings, block by block.

Each setting has its own bank. A bank runs over the samples before its fade, so that its state is
as if it had always run. Modes slower than the longest warm-up are the exception, and the renderer
reports them. The bank's output then fades in while the previous one fades out; their gains always
add up to one. Coefficients are never interpolated: filters between two stable ones can be
unstable, and the steps click.
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
"""Decay of a new bank's slowest mode when its fade starts, unless the longest warm-up ends first."""
SHORTEST_WARM = 2048
LONGEST_WARM_S = 20.0
"""Longest warm-up before a flip: 130 dB at a time constant of 1.3 s (100 nF into 13 MΩ). Earlier in a
clip the bank runs from the first sample, and its state is exact."""
LONGEST_STEP_WARM_S = 4.0
"""Longest warm-up before each step of a sweep: a time constant of 0.27 s."""
UNSETTLED_DB = -100.0
"""A bank whose slowest mode has decayed by less than this is reported."""


class _Past:
    """The most recent stems, as many as a warm-up may need."""

    def __init__(self, longest: int) -> None:
        self.longest = longest
        self.blocks: deque[Floats] = deque()
        self.length = 0

    def add(self, block: Floats) -> None:
        """Add the next block, shape (n_coils, n), and drop what no warm-up needs."""
        self.blocks.append(block)
        self.length += block.shape[1]
        while self.length - self.blocks[0].shape[1] >= self.longest + block.shape[1]:
            self.length -= self.blocks.popleft().shape[1]

    def last(self, n: int, *, back: int) -> Floats:
        """Return n samples that end `back` before the last; fewer near the start."""
        stop = self.length - back
        start = max(stop - n, 0)
        pieces, at = [], 0
        for block in self.blocks:
            pieces.append(block[:, max(start - at, 0) : max(stop - at, 0)])
            at += block.shape[1]
        return np.concatenate(pieces, axis=1)


@dataclass
class _Voice:
    """A running bank and its step of the chain."""

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
        Banks used so far.
    settled_db : float
        Largest level of any bank's slowest mode at the start of its fade, relative to its own start,
        dB; minus infinity if every bank ran from the first sample.
    """

    steps: Sequence[Step]
    bank_of: Callable[[Setting], Bank]
    rate_hz: float
    banks: list[Bank] = field(default_factory=list)
    settled_db: float = -math.inf

    def render(self, blocks: Iterable[Floats]) -> Iterator[Floats]:
        """Yield the output for stems that come in blocks.

        Parameters
        ----------
        blocks : iterable of ndarray, shape (n_coils, n), volt

        Yields
        ------
        ndarray, shape (m,), volt
            Aligned to the stems and as long; the filters' common delay is removed.
        """
        voices: list[_Voice] = []
        past = _Past(round(LONGEST_WARM_S * self.rate_hz))
        position, dropped = 0, 0
        first = self._bank(self.steps[0])
        delay = first.delay  # banks lag by this, so their fades move with them
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
        """Run a bank over the samples before its fade; return its state."""
        most_s = LONGEST_STEP_WARM_S if step.straight else LONGEST_WARM_S
        needed = warm_up_samples(runner.bank)
        n = min(needed, round(most_s * self.rate_hz))
        before = past.last(n, back=now - step.at)
        if n < needed and before.shape[1] < step.at:
            self.settled_db = max(self.settled_db, -WARM_DB * before.shape[1] / needed)
        _, state = runner.run(before, runner.initial_state())
        return state

    def _with_tail(self, blocks: Iterable[Floats]) -> Iterator[Floats]:
        """Yield the blocks, then as many zeros as the filters' delay."""
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
        """Sum the outputs of all running banks over one block."""
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
    """Return the sample at which the fade to a step ends."""
    return step.at + step.fade


def _rise(step: Step, samples: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Floats:
    """Return the gain of a step's fade at samples: 0 before it, 1 after it."""
    share = np.clip((samples - step.at + 0.5) / step.fade, 0.0, 1.0)
    return share if step.straight else 0.5 - 0.5 * np.cos(np.pi * share)


def warm_up_samples(bank: Bank) -> int:
    """Return the samples in which a bank's slowest mode decays by `WARM_DB`."""
    radius = bank.radius()
    if radius <= 0.0:
        return SHORTEST_WARM
    needed = WARM_DB / (-20.0 * np.log10(max(min(radius, 1.0 - 1e-12), 1e-6)))
    return int(max(needed, SHORTEST_WARM))
