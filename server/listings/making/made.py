"""What a listing has made: clips with their files, instruments with their clips."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from server.clips.level import Measurement
from server.files.audio_out import Encoding
from server.listings.making.folder import Kept
from server.listings.making.plan import Instrument, ListedClip


@dataclass(frozen=True)
class MadeFile:
    """A clip in one format: where it stands, and what it measures."""

    encoding: Encoding
    place: str
    script: str
    kept: Kept
    gain: float


@dataclass(frozen=True)
class MadeClip:
    """A clip in all its formats.

    Attributes
    ----------
    clip : ListedClip
    sound : str
        Name under which pages know it.
    measured : Measured
    cover : str
        Place of its picture.
    levels_db : list of float
        Its response.
    files : tuple of MadeFile
    """

    clip: ListedClip
    sound: str
    measured: Measurement
    cover: str
    levels_db: list[float]
    files: tuple[MadeFile, ...]


@dataclass(frozen=True)
class Made:
    """An instrument whose clips are all there."""

    instrument: Instrument
    clips: tuple[MadeClip, ...]
    reused: int


def sound_name(key: str) -> str:
    """Name under which pages know a clip, from the key of its volts."""
    return key[:16]


def relative(place: str) -> str:
    """A place as seen from its instrument's folder."""
    return Path(place).relative_to(Path(place).parts[0]).as_posix()
