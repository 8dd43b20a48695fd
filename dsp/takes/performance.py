"""The interface of all kinds of take: blocks of stems, and what a listener should know."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dsp.takes.captions import Caption
from dsp.takes.model import Take
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
Progress = Callable[[float], None]
"""Called with the share of the work done, 0 to 1."""
AT_ONCE = 1 << 15
"""Samples in a block: large enough to filter fast, small enough for the processor's cache."""


@dataclass(frozen=True)
class Performance(ABC):
    """A take whose recording has been found and examined.

    Attributes
    ----------
    name : str
        Names the take in file names.
    warnings : tuple of str
        What a listener should know on any wiring: clipping, an offset, a dead channel.
    """

    take: Take
    name: str = field(kw_only=True)
    warnings: tuple[str, ...] = field(default=(), kw_only=True)

    @property
    @abstractmethod
    def seconds(self) -> float:
        """Length, s."""

    def frames(self, rate_hz: int) -> int:
        """Length in samples at a rate; approximate for MP3, exact otherwise."""
        return round(self.seconds * rate_hz)

    def coil_places(self, wiring: Wiring) -> str:
        """State whether and how the sound contains the coils' places."""
        return self.take.coil_places

    def notes(self, wiring: Wiring) -> tuple[str, ...]:
        """List what a listener should know about this take on this wiring."""
        return ()

    def verdict(self, wiring: Wiring) -> tuple[str, ...]:
        """Say of each stretch whether one note sounds or several, a line each."""
        return ()

    def captions(self, wiring: Wiring) -> tuple[Caption, ...]:
        """Say what is played when; of a recording nothing is known."""
        return ()

    def silent_coils(self, wiring: Wiring) -> tuple[str, ...]:
        """Name the coils of a wiring that receive no signal from the take."""
        return ()

    def prepare(  # noqa: B027 - most kinds have nothing to prepare
        self, wiring: Wiring, rate_hz: int, *, progress: Progress | None = None
    ) -> None:
        """Do slow work now, such as tracking a pitch, and keep its result."""

    @abstractmethod
    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """Yield the EMF of every coil from start to end, signs included.

        Yields
        ------
        ndarray, shape (n_coils, n), volt
            In the order of ``wiring.coils``; `frames` samples in all.

        Raises
        ------
        InputError
            If the take does not fit the wiring, or a recording cannot be read to its end.
        """
