"""Tags of a clip, written into the file: title, artist, wiring, setting, take, level.

FLAC, Ogg and Opus hold them as Vorbis comments, MP3 as ID3 frames (TXXX if ID3 has no frame for a
field), WAV as RIFF INFO. RIFF INFO allows no names of our own: the comment holds ``name=value``
lines, and what players show has its own chunks. libsndfile adds its own name and version to
the software chunk.
"""

from __future__ import annotations

import base64
import importlib
import os
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

SOFTWARE = "presolder"


@dataclass(frozen=True)
class ClipTags:
    """The tags of a clip.

    Attributes
    ----------
    wiring, position, settings, take : str
        Names as in the files; settings as ``volume=10 tone=7``.
    coil_places : str
        ``modelled``, or why they are not (``not modelled: electrical voicing only``).
    level : str
        ``as wired``, or the loudness it was matched to.
    gain : str
        Gain applied to the samples; the writer fills it in.
    through : str
        The way it is heard, ``clean``, ``edge`` or ``driven``, and a cabinet of one's own; empty for direct.
    hum : str
        The room whose hum was added; empty for none.
    title : str
        Made from the others if empty.
    artist, album, track : str
        As music players list files: who made it, what it belongs to, its number there.
    """

    wiring: str
    position: str
    settings: str
    take: str
    coil_places: str
    level: str = ""
    gain: str = ""
    through: str = ""
    hum: str = ""
    title: str = ""
    artist: str = ""
    album: str = ""
    track: str = ""

    def named(self) -> dict[str, str]:
        """Return the fields that are not empty, with title and software."""
        given = {name: _text(str(value)) for name, value in asdict(self).items() if value != ""}
        given.setdefault("title", _text(f"{self.wiring}, position {self.position}: {self.take}"))
        return given | {"software": SOFTWARE}


def _text(value: str) -> str:
    """Return a text that UTF-8 can hold; other bytes of file names become ``?``."""
    return value.encode(errors="replace").decode()


NAMES = (*(field.name for field in fields(ClipTags)), "software")
FRONT_COVER = 3  # the number of that kind of picture, in ID3 and in FLAC alike
PNG = "image/png"
COVER_ABOUT = "Response"
OGG_PICTURE = "metadata_block_picture"
VORBIS_COMMENTED = {"flac": "FLAC", "ogg": "OggVorbis", "opus": "OggOpus"}
"""mutagen's class for each format with Vorbis comments."""
ID3_FRAMES = {"title": "TIT2", "software": "TSSE", "artist": "TPE1", "album": "TALB", "track": "TRCK"}
VORBIS_NAMES = {"track": "tracknumber"}
"""Where the usual name of a Vorbis comment is not ours."""
RIFF_CHUNKS = {
    "title": "title",
    "software": "software",
    "artist": "artist",
    "album": "album",
    "track": "tracknumber",
}
"""Fields with a chunk of their own, and soundfile's name for it."""


def set_riff_info(file: Any, tags: ClipTags) -> None:
    """Write the tags into an open soundfile WAV, before its first sample."""
    named = tags.named()
    for name, chunk in RIFF_CHUNKS.items():
        if name in named:
            setattr(file, chunk, named.pop(name))
    file.comment = "\n".join(f"{name}={' '.join(value.split())}" for name, value in named.items())


def write_tags(path: Path, file_format: str, tags: ClipTags, *, cover: bytes | None = None) -> None:
    """Write the tags into a closed file; its sound stays as it is.

    Parameters
    ----------
    file_format : {"flac", "ogg", "opus", "mp3"}
        Not guessed from the name, which may still be temporary.
    cover : bytes or None
        A PNG picture.
    """
    if file_format == "mp3":
        _write_id3(path, tags, cover)
        return
    file = _vorbis_commented(path, file_format)
    for name, value in tags.named().items():
        file[VORBIS_NAMES.get(name, name)] = value
    if cover is not None and file_format == "flac":
        file.add_picture(_picture(cover))
    elif cover is not None:
        file[OGG_PICTURE] = base64.b64encode(_picture(cover).write()).decode()
    file.save()


def read_cover(path: Path, file_format: str) -> bytes | None:
    """Return the picture in a clip, or None; WAV holds none."""
    if file_format == "mp3":
        frames = _id3_module().ID3(path).getall("APIC")
        return bytes(frames[0].data) if frames else None
    if file_format == "wav":
        return None
    file = _vorbis_commented(path, file_format)
    if file_format == "flac":
        return bytes(file.pictures[0].data) if file.pictures else None
    from mutagen import flac

    picture: Any = flac.Picture
    return bytes(picture(base64.b64decode(file[OGG_PICTURE][0])).data) if OGG_PICTURE in file else None


def _picture(cover: bytes) -> Any:
    """A picture block (RFC 9639, section 8.8), its size taken from the PNG's own header."""
    from mutagen import flac

    block: Any = flac.Picture()  # type: ignore[no-untyped-call,unused-ignore]
    block.type, block.mime, block.desc, block.data = FRONT_COVER, PNG, COVER_ABOUT, cover
    block.width, block.height = (int.from_bytes(cover[at : at + 4], "big") for at in (16, 20))
    block.depth = 24
    return block


def read_tags(path: Path, file_format: str) -> dict[str, str]:
    """The tags of a clip by field name; only the fields it carries."""
    if file_format == "wav":
        found = _riff_info(path)
    elif file_format == "mp3":
        found = _id3(path)
    else:
        file = _vorbis_commented(path, file_format)
        keys = {name: VORBIS_NAMES.get(name, name) for name in NAMES}
        found = {name: file[key][0] for name, key in keys.items() if key in file}
    return {name: found[name] for name in NAMES if name in found}


def _vorbis_commented(path: Path, file_format: str) -> Any:
    name = VORBIS_COMMENTED[file_format]
    opened: Any = getattr(importlib.import_module(f"mutagen.{name.lower()}"), name)
    return opened(path)


def _write_id3(path: Path, tags: ClipTags, cover: bytes | None) -> None:
    id3 = _id3_module()
    frames = id3.ID3()
    for name, value in tags.named().items():
        if name in ID3_FRAMES:
            frames.add(getattr(id3, ID3_FRAMES[name])(encoding=id3.Encoding.UTF8, text=value))
        else:
            frames.add(id3.TXXX(encoding=id3.Encoding.UTF8, desc=name, text=value))
    if cover is not None:
        encoding = id3.Encoding.UTF8
        frames.add(id3.APIC(encoding=encoding, mime=PNG, type=FRONT_COVER, desc=COVER_ABOUT, data=cover))
    frames.save(path)


def _id3(path: Path) -> dict[str, str]:
    frames = _id3_module().ID3(path)
    keys = {name: ID3_FRAMES.get(name, f"TXXX:{name}") for name in NAMES}
    return {name: str(frames[key]) for name, key in keys.items() if key in frames}


def _id3_module() -> Any:
    """Return mutagen's ID3 module; its calls have no types."""
    from mutagen import id3

    return id3


def _riff_info(path: Path) -> dict[str, str]:
    import soundfile

    with soundfile.SoundFile(os.fsencode(path)) as file:
        found = {name: getattr(file, chunk) for name, chunk in RIFF_CHUNKS.items()}
        found["software"] = found["software"].split(" (")[0]
        lines = (line.partition("=") for line in file.comment.splitlines())
    found |= {name: value for name, equals, value in lines if equals}
    return {name: value for name, value in found.items() if value}
