"""Takes on disk: the take file, its recording, and the stems they make, block by block."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.takes.model import Take, coil_matrix
from dsp.takes.reader import read_take
from server.storage import audio_in
from server.storage.yaml_text import load_tree

Floats = NDArray[np.float64]
AT_ONCE = 1 << 15
"""Samples in a block: large enough to filter fast, small enough for the processor's cache."""


@dataclass(frozen=True)
class Performance:
    """A take with its recording found and looked at.

    Attributes
    ----------
    take : Take
    recording : Recording
    warnings : tuple of str
        What a listener should know: clipping, an offset, a dead channel.
    """

    take: Take
    recording: audio_in.Recording
    warnings: tuple[str, ...]

    @property
    def name(self) -> str:
        """Name of the take for file names: its file's stem."""
        return Path(self.take.file).stem

    def frames(self, rate_hz: int) -> int:
        """Length at a rate, in samples; near for MP3, exact otherwise."""
        return round(self.recording.frames * rate_hz / self.recording.rate_hz)

    def stems(self, coils: Mapping[str, Coil], rate_hz: int) -> Iterator[Floats]:
        """EMF of every coil, in blocks of shape (n_coils, n), volt.

        Raises
        ------
        InputError
            If the take's channels do not fit the coils or the sound file; see `audio_in.blocks`.
        """
        matrix = coil_matrix(self.take, coils, self.recording.channels)
        where = f"{self.take.where('audio')}: audio"
        for block in audio_in.blocks(self.recording.path, rate_hz=rate_hz, frames=AT_ONCE, where=where):
            yield matrix @ block


def load_take(path: Path) -> Performance:
    """A take file and its recording.

    Parameters
    ----------
    path : Path
        A take file, or a sound file: then it is taken as one recording of a flat sensor.

    Raises
    ------
    InputError
        With every problem of the take file, or the one that keeps its recording from use.
    """
    take = read_take(load_tree(path), str(path)) if path.suffix.lower() in (".yaml", ".yml") else _bare(path)
    where = f"{take.where('audio')}: audio" if take.lines else ""
    audio = Path(take.audio)
    if not audio.is_absolute():
        audio = path.parent / audio
    recording = audio_in.probe(audio, where=where)
    if take.kind == "coils" and recording.channels != len(take.channels):
        got = f"{len(take.channels)} named, {recording.channels} in {take.audio}"
        raise InputError(f"{take.where('channels')}: channels", got, "one coil for each channel of the file")
    facts = audio_in.examine_file(audio, where=where)
    names = take.channels or tuple(f"channel {i + 1}" for i in range(recording.channels))
    warnings = [text for fact, name in zip(facts, names, strict=True) for text in fact.warnings(name)]
    if take.kind == "mono" and recording.channels > 1:
        warnings.append(f"the {recording.channels} channels of {audio.name} are averaged into one recording")
    return Performance(take, recording, tuple(warnings))


def _bare(path: Path) -> Take:
    """A sound file on its own: one recording of a flat sensor, said with every clip."""
    return Take(path.stem, str(path), "mono", path.name)
