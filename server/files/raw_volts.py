"""Raw 32-bit float volts in a scratch folder: a rendering before it becomes files."""

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
    """One channel of samples on disk."""

    path: Path
    n_samples: int

    def blocks(self) -> Iterator[Floats]:
        """Yield the samples in blocks of shape (n,), volt, afresh at each call."""
        with self.path.open("rb") as file:
            while len(block := np.fromfile(file, np.float32, BLOCK)):
                yield block.astype(float)


class VoltsFile:
    """A file that samples are added to."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.n_samples = 0
        self._file = path.open("wb")

    def add(self, block: Floats) -> None:
        """Write a block, shape (n,), volt; raise an OSError if the disk refuses."""
        self._file.write(block.astype(np.float32).tobytes())
        self.n_samples += len(block)

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def read_volts(path: Path) -> RawVolts:
    """Return the samples of a finished file."""
    return RawVolts(path, path.stat().st_size // np.dtype(np.float32).itemsize)


def write_volts(path: Path, blocks: Iterable[Floats]) -> RawVolts:
    """Write blocks of samples, shape (n,), volt.

    Raises
    ------
    OSError
        If the disk refuses, for instance because it is full.
    """
    file = VoltsFile(path)
    try:
        for block in blocks:
            file.add(block)
    finally:
        file.close()
    return RawVolts(path, file.n_samples)
