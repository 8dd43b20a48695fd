"""What a performance needs of the world: a recording's samples, and a place to keep results.

dsp opens no file. Whoever loads a take hands both in. Each is a frozen dataclass that pickles,
because helper processes and the machines of a cluster receive whole performances.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Kept = NDArray[np.float32]


class Recording(Protocol):
    """Samples that can be read again and again."""

    @property
    def rate_hz(self) -> int:
        """Its own rate, samples per second."""

    @property
    def channels(self) -> int:
        """Number of channels."""

    @property
    def seconds(self) -> float:
        """Length, s."""

    @property
    def full_scale(self) -> float | None:
        """Smallest magnitude that means clipped; None where samples may exceed 1."""

    def blocks(self, rate_hz: int, frames: int = 1 << 14) -> Iterator[Floats]:
        """Read the samples at a rate, from the start.

        Parameters
        ----------
        rate_hz : int
            The samples are resampled if the recording has another rate.
        frames : int
            Length of a block; the last may be shorter.

        Yields
        ------
        ndarray, shape (channels, frames)
            Volts for coils, any unit otherwise.

        Raises
        ------
        InputError
            If the recording cannot be read to its end.
        """

    def digest(self) -> str:
        """SHA-256 of its content; an InputError if it cannot be read."""


class Keeper(Protocol):
    """Keeps results by their kind and by everything they depend on."""

    def kept(self, kind: str, key: tuple[object, ...], make: Callable[[], Kept]) -> Kept:
        """Return an array that was kept, or make it and keep it.

        Parameters
        ----------
        kind : str
            Groups results, such as ``pitch``.
        key : tuple
            Numbers, texts and frozen dataclasses whose ``repr`` states all that the result
            depends on, the version of the method included.
        """

    def kept_stream(
        self,
        kind: str,
        key: tuple[object, ...],
        make: Callable[[], Iterator[Floats]],
        *,
        rows: int,
        at_once: int,
    ) -> Iterator[Floats]:
        """Return blocks that were kept, or make them and keep them as they pass.

        Parameters
        ----------
        kind, key
            As in `kept`.
        make : callable
            Gives blocks of shape (rows, n).
        at_once : int
            Samples in a block that was kept.

        Yields
        ------
        ndarray, shape (rows, n)
            As made, rounded to 32 bits, so that every use hears the same.
        """
