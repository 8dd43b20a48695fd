"""A recording and a keeper in memory, for performances without files or a cache."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class HeldRecording:
    """Samples of shape (channels, n) in memory."""

    samples: Floats
    rate_hz: int
    full_scale: float | None = None

    @property
    def channels(self) -> int:
        return len(self.samples)

    @property
    def seconds(self) -> float:
        return self.samples.shape[1] / self.rate_hz

    def blocks(self, rate_hz: int, frames: int = 1 << 14) -> Iterator[Floats]:
        common = gcd(rate_hz, self.rate_hz)
        found = self.samples
        if rate_hz != self.rate_hz:
            found = resample_poly(self.samples, rate_hz // common, self.rate_hz // common, axis=1)
        for start in range(0, found.shape[1], frames):
            yield found[:, start : start + frames]

    def digest(self) -> str:
        return sha256(self.samples.tobytes()).hexdigest()


@dataclass(frozen=True)
class HeldResults:
    """A keeper with its results in a dict, by kind and key as a cache names them."""

    found: dict[tuple[str, str], Any] = field(default_factory=dict)
    asked: list[tuple[str, str]] = field(default_factory=list)

    def kept(
        self, kind: str, key: tuple[object, ...], make: Callable[[], NDArray[np.float32]]
    ) -> NDArray[np.float32]:
        name = self._name(kind, key)
        if name not in self.found:
            self.found[name] = make()
        found: NDArray[np.float32] = self.found[name]
        return found

    def kept_stream(
        self,
        kind: str,
        key: tuple[object, ...],
        make: Callable[[], Iterator[Floats]],
        *,
        rows: int,
        at_once: int,
    ) -> Iterator[Floats]:
        name = self._name(kind, key)
        if name not in self.found:
            self.found[name] = np.concatenate(list(make()), axis=1).astype(np.float32)
            assert len(self.found[name]) == rows
        for start in range(0, self.found[name].shape[1], at_once):
            yield self.found[name][:, start : start + at_once].astype(float)

    def _name(self, kind: str, key: tuple[object, ...]) -> tuple[str, str]:
        self.asked.append((kind, repr(key)))
        return self.asked[-1]
