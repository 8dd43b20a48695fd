"""Tags of a clip: what it is a clip of, written into the file itself.

One table says how each field is called in each kind of file: Vorbis comments (FLAC, Ogg),
ID3 (MP3; user-defined TXXX frames where ID3 has no frame of its own), RIFF INFO (WAV).
RIFF INFO has no room for own names: there the fields stand as ``name=value`` lines in the
comment, the title and the software in their own chunks. libsndfile adds its own name and
version to the software chunk.
"""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

SOFTWARE = "presolder"


@dataclass(frozen=True)
class ClipTags:
    """What a clip was rendered from.

    Attributes
    ----------
    wiring, position, settings, take : str
        Names as in the files; settings as ``volume=10 tone=7``.
    coil_places : str
        ``modelled``, or what stands instead (``not modelled: electrical voicing only``).
    level : str
        ``as wired``, or the loudness it was matched to.
    gain : str
        Gain applied to the samples on the way into the file; the writer fills it in.
    title : str
        Made from the others when empty.
    """

    wiring: str
    position: str
    settings: str
    take: str
    coil_places: str
    level: str = ""
    gain: str = ""
    title: str = ""

    def named(self) -> dict[str, str]:
        """The fields that hold something, title and software included."""
        given = {name: _text(str(value)) for name, value in asdict(self).items() if value != ""}
        given.setdefault("title", _text(f"{self.wiring}, position {self.position}: {self.take}"))
        return given | {"software": SOFTWARE}


def _text(value: str) -> str:
    """A text that UTF-8 can hold: of a file's name, bytes that are none become ``?``."""
    return value.encode(errors="replace").decode()


NAMES = (*(field.name for field in fields(ClipTags)), "software")
ID3_FRAMES = {"title": "TIT2", "software": "TSSE"}


def set_riff_info(file: Any, tags: ClipTags) -> None:
    """Put the tags into an open soundfile WAV, before its first sample."""
    named = tags.named()
    file.title = named.pop("title")
    file.software = named.pop("software")
    file.comment = "\n".join(f"{name}={' '.join(value.split())}" for name, value in named.items())


def write_tags(path: Path, file_format: str, tags: ClipTags) -> None:
    """Put the tags into a closed file, its sound kept as it is.

    Parameters
    ----------
    path : Path
    file_format : {"flac", "ogg", "mp3"}
        Stated, not guessed: the file may still bear a temporary name.
    tags : ClipTags
    """
    if file_format == "mp3":
        _write_id3(path, tags)
        return
    file = _vorbis_commented(path, file_format)
    for name, value in tags.named().items():
        file[name] = value
    file.save()


def read_tags(path: Path, file_format: str) -> dict[str, str]:
    """The tags of a clip by field name; only the fields it carries."""
    if file_format == "wav":
        found = _riff_info(path)
    elif file_format == "mp3":
        found = _id3(path)
    else:
        file = _vorbis_commented(path, file_format)
        found = {name: file[name][0] for name in NAMES if name in file}
    return {name: found[name] for name in NAMES if name in found}


def _vorbis_commented(path: Path, file_format: str) -> Any:
    from mutagen import flac, oggvorbis

    opened: Any = flac.FLAC if file_format == "flac" else oggvorbis.OggVorbis
    return opened(path)


def _write_id3(path: Path, tags: ClipTags) -> None:
    id3 = _id3_module()
    frames = id3.ID3()
    for name, value in tags.named().items():
        if name in ID3_FRAMES:
            frames.add(getattr(id3, ID3_FRAMES[name])(encoding=id3.Encoding.UTF8, text=value))
        else:
            frames.add(id3.TXXX(encoding=id3.Encoding.UTF8, desc=name, text=value))
    frames.save(path)


def _id3(path: Path) -> dict[str, str]:
    frames = _id3_module().ID3(path)
    keys = {name: ID3_FRAMES.get(name, f"TXXX:{name}") for name in NAMES}
    return {name: str(frames[key]) for name, key in keys.items() if key in frames}


def _id3_module() -> Any:
    """mutagen's ID3 module; its calls carry no types."""
    from mutagen import id3

    return id3


def _riff_info(path: Path) -> dict[str, str]:
    import soundfile

    with soundfile.SoundFile(os.fsencode(path)) as file:
        found = {"title": file.title, "software": file.software.split(" (")[0]}
        lines = (line.partition("=") for line in file.comment.splitlines())
    return found | {name: value for name, equals, value in lines if equals}
