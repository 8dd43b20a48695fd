"""Recorded coil stems, and one recording put into every coil alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from dsp.errors import InputError
from dsp.takes.model import COIL_PLACES_LEFT_OUT, COIL_PLACES_RECORDED, Take, coil_matrix, silent_coils
from dsp.takes.performance import AT_ONCE, Floats, Performance
from dsp.wiring.model import Wiring
from server.files import audio_in


@dataclass(frozen=True)
class Recorded(Performance):
    """A take whose channels go to the coils as they are.

    Attributes
    ----------
    recording : Recording
    """

    recording: audio_in.Recording

    @property
    def seconds(self) -> float:
        """Length, s."""
        return self.recording.seconds

    def coil_places(self, wiring: Wiring) -> str:
        """As recorded, or left out of a recording put into every coil alike."""
        return COIL_PLACES_RECORDED if self.take.kind == "coils" else COIL_PLACES_LEFT_OUT

    def silent_coils(self, wiring: Wiring) -> tuple[str, ...]:
        """Coils of a wiring that no channel names."""
        return silent_coils(self.take, wiring.coils)

    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """EMF of every coil, blocks of shape (n_coils, n); see `Performance`."""
        matrix = coil_matrix(self.take, wiring.coils, self.recording.channels)
        where = f"{self.take.where('audio')}: audio"
        for block in audio_in.blocks(self.recording.path, rate_hz=rate_hz, frames=AT_ONCE, where=where):
            yield matrix @ block


def load_recorded(take: Take, folder: Path) -> Recorded:
    """A take of coils or mono with its recording found and examined.

    Raises
    ------
    InputError
        If the recording cannot be used, or has another number of channels than named.
    """
    recording = find_recording(take, folder)
    if take.kind == "coils" and recording.channels != len(take.channels):
        got = f"{len(take.channels)} named, {recording.channels} in {take.audio}"
        raise InputError(f"{take.where('channels')}: channels", got, "one coil for each channel of the file")
    return Recorded(take, recording, warnings=warnings_of(take, recording))


def find_recording(take: Take, folder: Path) -> audio_in.Recording:
    """The sound file that a take names, relative to its folder.

    Raises
    ------
    InputError
        If there is none that can be used.
    """
    audio = Path(take.audio)
    return audio_in.probe(audio if audio.is_absolute() else folder / audio, where=_where(take))


def warnings_of(take: Take, recording: audio_in.Recording) -> tuple[str, ...]:
    """Warnings on the samples of a recording: clipping, offset, noise."""
    facts = audio_in.examine_file(recording.path, where=_where(take))
    names = take.channels or tuple(f"channel {i + 1}" for i in range(recording.channels))
    warnings = [text for fact, name in zip(facts, names, strict=True) for text in fact.warnings(name)]
    if take.kind == "mono" and recording.channels > 1:
        name = recording.path.name
        warnings.append(f"the {recording.channels} channels of {name} are averaged into one recording")
    return tuple(warnings)


def _where(take: Take) -> str:
    return f"{take.where('audio')}: audio" if take.lines else ""
