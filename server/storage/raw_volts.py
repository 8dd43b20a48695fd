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


def write_volts(path: Path, blocks: Iterable[Floats]) -> RawVolts:
    """Write blocks of samples, shape (n,), volt, as they come.

    Raises
    ------
    OSError
        When the system refuses, a full disk for one.
    """
    written = 0
    with path.open("wb") as file:
        for block in blocks:
            file.write(block.astype(np.float32).tobytes())
            written += len(block)
    return RawVolts(path, written)
