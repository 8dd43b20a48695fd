"""A take made ready to be heard: whatever its kind, blocks of stems come out."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.takes.model import Take
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
Progress = Callable[[float], None]
"""Called with the share of the work done, 0 to 1."""
AT_ONCE = 1 << 15
"""Samples in a block: large enough to filter fast, small enough for the processor's cache."""


@dataclass(frozen=True)
class Performance(ABC):
    """A take whose files have been found and looked at.

    Attributes
    ----------
    take : Take
    warnings : tuple of str
        What a listener should know whatever the wiring: clipping, an offset, a dead channel.
    """

    take: Take
    warnings: tuple[str, ...] = field(default=(), kw_only=True)

    @property
    def name(self) -> str:
        """Name of the take for file names: its file's stem."""
        return Path(self.take.file).stem

    @property
    @abstractmethod
    def seconds(self) -> float:
        """Length, s."""

    def frames(self, rate_hz: int) -> int:
        """Length at a rate, in samples; near for MP3, exact otherwise."""
        return round(self.seconds * rate_hz)

    def coil_places(self, wiring: Wiring) -> str:
        """Whether and how the places of this wiring's coils are in the sound."""
        return self.take.coil_places

    def notes(self, wiring: Wiring) -> tuple[str, ...]:
        """What a listener should know of this take on this wiring."""
        return ()

    def silent_coils(self, wiring: Wiring) -> tuple[str, ...]:
        """Coils of a wiring that the take gives nothing to."""
        return ()

    def prepare(  # noqa: B027 - most kinds have nothing to prepare
        self, wiring: Wiring, rate_hz: int, *, progress: Progress | None = None
    ) -> None:
        """Do now what takes long, such as tracking a pitch; keep it."""

    @abstractmethod
    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """EMF of every coil of a wiring, start over finish, signs included.

        Parameters
        ----------
        wiring : Wiring
        rate_hz : int

        Yields
        ------
        ndarray, shape (n_coils, n), volt
            In the order of ``wiring.coils``; `frames` samples in all.

        Raises
        ------
        InputError
            If the take does not fit the wiring, or a recording cannot be read to its end.
        """
