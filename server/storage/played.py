"""A score played by the string model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from dsp.takes.model import Take
from dsp.takes.score import Score
from dsp.wiring.model import Wiring
from server.storage.performance import Floats, Performance


@dataclass(frozen=True)
class Played(Performance):
    """A score and the strings of whatever wiring listens."""

    @property
    def score(self) -> Score:
        """The take's score."""
        assert self.take.score is not None  # the reader gives every take of this kind one
        return self.take.score

    @property
    def seconds(self) -> float:
        """Length, s."""
        return self.score.seconds

    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """EMF of every coil, blocks of shape (n_coils, n); see `Performance`."""
        raise NotImplementedError


def load_played(take: Take, folder: Path) -> Played:
    """A take of kind score; it needs no other file."""
    return Played(take)
