"""A rendering on its way to its files: raw 32-bit float volts in a scratch folder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
BLOCK = 1 << 16


@dataclass(frozen=True)
class RawVolts:
    """One channel of samples on disk, read as often as wanted.

    Attributes
    ----------
    path : Path
    n_samples : int
    """

    path: Path
    n_samples: int

    def blocks(self) -> Iterator[Floats]:
        """The samples, shape (n,) a block, volt, afresh at each call."""
        with self.path.open("rb") as file:
            while len(block := np.fromfile(file, np.float32, BLOCK)):
                yield block.astype(float)


class VoltsFile:
    """Samples written as they come.

    Parameters
    ----------
    path : Path
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.n_samples = 0
        self._file = path.open("wb")

    def add(self, block: Floats) -> None:
        """Write a block, shape (n,), volt; an OSError where the disk refuses."""
        self._file.write(block.astype(np.float32).tobytes())
        self.n_samples += len(block)

    def close(self) -> None:
        """Hand everything to the system."""
        self._file.close()


def read_volts(path: Path) -> RawVolts:
    """Samples that were written before."""
    return RawVolts(path, path.stat().st_size // np.dtype(np.float32).itemsize)


def write_volts(path: Path, blocks: Iterable[Floats]) -> RawVolts:
    """Write blocks of samples, shape (n,), volt, as they come.

    Raises
    ------
    OSError
        When the system refuses, a full disk for one.
    """
    file = VoltsFile(path)
    try:
        for block in blocks:
            file.add(block)
    finally:
        file.close()
    return RawVolts(path, file.n_samples)
