"""Run recordings through filters that change from note to note, block by block.

The input is cut into pieces whose weights add up to one. Each piece passes its own filter, and the
results are added. Within a piece the filter is exact for any length. The fade from piece to piece
happens at the input, so that a note that rings on keeps its own filter.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

SPAN_S = 0.6
"""Least length of the transforms; a filter may reach a quarter of it each way."""
KEPT_FILTERS = 24


@dataclass(frozen=True)
class Size:
    """Lengths of the transforms at a rate, in samples.

    Attributes
    ----------
    whole : int
        Length of a transform, a power of two.
    """

    rate_hz: int
    whole: int

    @classmethod
    def at(cls, rate_hz: int) -> Size:
        """Return the size for a rate."""
        return cls(rate_hz, 1 << int(np.ceil(np.log2(SPAN_S * rate_hz))))

    @property
    def reach(self) -> int:
        """Reach of a filter, back and ahead."""
        return self.whole // 4

    @property
    def longest(self) -> int:
        """Longest piece of input."""
        return self.whole - 2 * self.reach

    def frequencies_hz(self) -> Floats:
        """Frequencies of a filter, shape (whole // 2 + 1,), Hz, all above 0.

        A hundredth of the first bin replaces 0; it sets what a filter does to an offset.
        """
        found = np.asarray(np.fft.rfftfreq(self.whole, 1.0 / self.rate_hz), float)
        found[0] = 0.01 * found[1]
        return found


@dataclass(frozen=True)
class Piece:
    """The start of a filter and the length of the fade to it.

    Attributes
    ----------
    start, fade : int
        Samples; the fade from the previous filter runs from ``start`` to ``start + fade``.
    voice : hashable
        What the filter is computed from.
    """

    start: int
    fade: int
    voice: Hashable


@dataclass(frozen=True)
class Line:
    """One channel of a recording: its pieces and the filters of its voices.

    Attributes
    ----------
    pieces : tuple of Piece
        In order, the first from sample 0; each fade ends before the next piece starts.
    filters : callable
        Returns the filter of every coil for a voice, shape (n_coils, whole // 2 + 1).
    """

    pieces: tuple[Piece, ...]
    filters: Callable[[Hashable], Complex]


def run_pieces(
    blocks: Iterable[Floats], lines: Sequence[Line], n_coils: int, size: Size, frames: int
) -> Iterator[Floats]:
    """Filter the lines of a recording and add them up in every coil.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n_lines, n)
    frames : int
        Length of the returned blocks; the last may be shorter.

    Yields
    ------
    ndarray, shape (n_coils, frames)
        As many samples in all as ``blocks`` held, not shifted.

    Examples
    --------
    >>> size = Size.at(8000)
    >>> line = Line((Piece(0, 0, "whole note"),), lambda voice: np.full((2, size.whole // 2 + 1), 0.5 + 0j))
    >>> block, = run_pieces([np.ones((1, 5))], [line], 2, size, 5)
    >>> block.round(6).tolist()
    [[0.5, 0.5, 0.5, 0.5, 0.5], [0.5, 0.5, 0.5, 0.5, 0.5]]
    """
    run = _Run(lines, n_coils, size)
    for block in blocks:
        run.add(block)
        yield from run.ready(frames)
    run.end()
    yield from run.ready(frames)
    if run.left.shape[1]:
        yield run.left


class _Run:
    """The state of a run: input not yet used, output not yet complete."""

    def __init__(self, lines: Sequence[Line], n_coils: int, size: Size) -> None:
        self._size = size
        self._input = np.zeros((len(lines), 0))
        self._input_at = 0
        self._output = np.zeros((n_coils, 0))
        self._output_at = 0
        self._parts = [_parts(line.pieces, size.longest) for line in lines]
        self._next = [next(parts) for parts in self._parts]
        self._filters = [_filters(line.filters, size) for line in lines]
        self._ended = False

    @property
    def _end(self) -> int:
        """Sample after the last of the input so far."""
        return self._input_at + self._input.shape[1]

    @property
    def left(self) -> Floats:
        """Output not yet returned."""
        return self._output

    def add(self, block: Floats) -> None:
        """Append a block and filter every piece that is now complete."""
        self._input = np.concatenate([self._input, block], axis=1)
        self._use()

    def end(self) -> None:
        """Filter the rest of the input."""
        self._ended = True
        self._use()
        self._output = self._output[:, : self._end - self._output_at]

    def ready(self, frames: int) -> Iterator[Floats]:
        """Yield blocks that are complete."""
        upto = self._end if self._ended else self._settled() - self._size.reach
        while self._output_at + frames <= min(upto, self._output_at + self._output.shape[1]):
            block, self._output = self._output[:, :frames], self._output[:, frames:]
            self._output_at += frames
            yield block

    def _settled(self) -> int:
        return min(part.start for part in self._next)

    def _use(self) -> None:
        for channel, parts in enumerate(self._parts):
            while self._next[channel].end <= self._end or (
                self._ended and self._next[channel].start < self._end
            ):
                self._add_part(channel, self._next[channel])
                self._next[channel] = next(parts)
        keep = min(self._settled(), self._end)
        self._input = self._input[:, keep - self._input_at :]
        self._input_at = keep

    def _add_part(self, channel: int, part: _Part) -> None:
        first = part.start - self._input_at
        taken = self._input[channel, first : first + part.end - part.start]
        if not taken.any():
            self._room(part.start + len(taken))
            return
        weighted = taken * part.weights()[: len(taken)]
        spectrum = np.fft.rfft(weighted, self._size.whole)
        made = np.fft.irfft(spectrum * self._filters[channel](part.voice), self._size.whole, axis=-1)
        self._put(part.start, made[:, : len(taken) + self._size.reach])
        self._put(part.start - self._size.reach, made[:, -self._size.reach :])

    def _put(self, at: int, made: Floats) -> None:
        """Add to the output from a sample on; drop what lies before the recording."""
        cut = max(0, self._output_at - at)
        first = at + cut - self._output_at
        self._room(at + made.shape[1])
        self._output[:, first : first + made.shape[1] - cut] += made[:, cut:]

    def _room(self, upto: int) -> None:
        missing = upto - self._output_at - self._output.shape[1]
        if missing > 0:
            self._output = np.pad(self._output, ((0, 0), (0, missing)))


@dataclass(frozen=True)
class _Part:
    """A stretch of input short enough for one transform, with its weights."""

    start: int
    end: int
    voice: Hashable
    rising: tuple[int, int] | None
    falling: tuple[int, int] | None

    def weights(self) -> Floats:
        """Weight of each sample, shape (end - start,)."""
        found = np.ones(self.end - self.start)
        if self.rising:
            found *= self._fade(*self.rising)
        if self.falling:
            found *= 1.0 - self._fade(*self.falling)
        return found

    def _fade(self, at: int, over: int) -> Floats:
        share = np.clip((np.arange(self.start, self.end) - at + 0.5) / over, 0.0, 1.0)
        rise: Floats = 0.5 - 0.5 * np.cos(np.pi * share)
        return rise


def _parts(pieces: Sequence[Piece], longest: int) -> Iterator[_Part]:
    """Cut pieces to the longest length, in order of start; the last has no end."""
    for piece, following in pairwise([*pieces, None]):
        assert piece is not None
        rising = (piece.start, piece.fade) if piece.fade else None
        falling = (following.start, following.fade) if following and following.fade else None
        start = piece.start
        while following is None or start + longest < following.start + following.fade:
            stop = start + longest if following is None else min(start + longest, following.start)
            yield _Part(start, stop, piece.voice, rising, falling)
            start = stop  # never beyond the next piece's start, so that parts stay in order
        yield _Part(start, following.start + following.fade, piece.voice, rising, falling)


def _filters(given: Callable[[Hashable], Complex], size: Size) -> Callable[[Hashable], Complex]:
    """Limit the reach of filters, and cache the last few."""

    @lru_cache(maxsize=KEPT_FILTERS)
    def of(voice: Hashable) -> Complex:
        return within_reach(given(voice), size)

    return of


def within_reach(filters: Complex, size: Size) -> Complex:
    """Shorten impulse responses so that they end smoothly within the reach.

    Parameters
    ----------
    filters : ndarray, shape (n_coils, whole // 2 + 1)

    Returns
    -------
    ndarray, shape (n_coils, whole // 2 + 1)
    """
    impulses = np.fft.irfft(filters, size.whole, axis=-1)
    away = np.abs(np.fft.fftfreq(size.whole, 1.0 / size.whole)) / size.reach
    share = np.clip(2.0 * away - 1.0, 0.0, 1.0)
    short: Complex = np.fft.rfft(impulses * (0.5 + 0.5 * np.cos(np.pi * share)), axis=-1)
    return short
