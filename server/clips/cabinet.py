"""A cabinet of one's own for the chain: an impulse response in a sound file."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from dsp.chain.impulse import Cabinet, read_cabinet
from dsp.errors import InputError
from server.files import audio_in

LONGEST_FILE_S = 10.0
"""A longer file is no impulse response, whatever it starts with."""


@dataclass(frozen=True, eq=False)
class CabinetFile:
    """A cabinet, and what its file was.

    Attributes
    ----------
    name : str
        Of the file, without its ending.
    notes : tuple of str
        Sentences on what was done to the file.
    """

    name: str
    cabinet: Cabinet
    notes: tuple[str, ...]

    @property
    def digest(self) -> str:
        """SHA-256 of what is heard of it."""
        return hashlib.sha256(self.cabinet.taps.astype("<f8").tobytes()).hexdigest()


def load_cabinet(path: Path, rate_hz: int) -> CabinetFile:
    """Read an impulse response, for a chain at a rate.

    The first channel is taken, resampled if need be; see `read_cabinet`.

    Raises
    ------
    InputError
        If the file is no sound, too long or silent.
    """
    recording = audio_in.probe(path)
    if recording.seconds > LONGEST_FILE_S:
        got = f"a sound of {recording.seconds:.1f} s"
        raise InputError(str(path), got, f"an impulse response, at most {LONGEST_FILE_S:g} s")
    try:
        samples = audio_in.read(path, rate_hz=rate_hz)
        cabinet = read_cabinet(samples[0], rate_hz)
    except InputError as error:
        (problem,) = error.problems
        raise InputError(str(path), problem.got, problem.allowed, problem.hint) from error
    notes = []
    if recording.channels > 1:
        notes.append(f"{path.name} has {recording.channels} channels: the first is taken")
    if recording.rate_hz != rate_hz:
        notes.append(f"{path.name} is resampled from {recording.rate_hz} to {rate_hz} samples a second")
    return CabinetFile(path.stem, cabinet, tuple(notes))
