"""Recordings used as they are: a channel per coil, or one recording in every coil alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from dsp.takes.model import COIL_PLACES_LEFT_OUT, COIL_PLACES_RECORDED, coil_matrix, silent_coils
from dsp.takes.performance import AT_ONCE, Floats, Performance
from dsp.takes.recording import Recording
from dsp.wiring.model import Wiring


@dataclass(frozen=True)
class CoilRecording(Performance):
    """A take whose channels reach the coils unfiltered."""

    recording: Recording

    @property
    def seconds(self) -> float:
        """Length, s."""
        return self.recording.seconds

    def coil_places(self, wiring: Wiring) -> str:
        """State that places are as recorded, or left out of a mono recording."""
        return COIL_PLACES_RECORDED if self.take.kind == "coils" else COIL_PLACES_LEFT_OUT

    def silent_coils(self, wiring: Wiring) -> tuple[str, ...]:
        """Name the coils of a wiring that no channel names."""
        return silent_coils(self.take, wiring.coils)

    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """Yield the EMF of every coil, blocks of shape (n_coils, n)."""
        matrix = coil_matrix(self.take, wiring.coils, self.recording.channels)
        for block in self.recording.blocks(rate_hz, AT_ONCE):
            yield matrix @ block
