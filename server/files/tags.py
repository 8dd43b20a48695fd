"""Tags of a clip: what it is a clip of, written into the file itself.

One table says how each field is called in each kind of file: Vorbis comments (FLAC, Ogg, Opus),
ID3 (MP3; user-defined TXXX frames where ID3 has no frame of its own), RIFF INFO (WAV).
RIFF INFO has no room for own names: there the fields stand as ``name=value`` lines in the
comment, the title and the software in their own chunks. libsndfile adds its own name and
version to the software chunk.
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
FRONT_COVER = 3  # the number of that kind of picture, in ID3 and in FLAC alike
PNG = "image/png"
COVER_ABOUT = "Response"
OGG_PICTURE = "metadata_block_picture"
VORBIS_COMMENTED = {"flac": "FLAC", "ogg": "OggVorbis", "opus": "OggOpus"}
"""mutagen's class for each format with Vorbis comments."""
ID3_FRAMES = {"title": "TIT2", "software": "TSSE"}


def set_riff_info(file: Any, tags: ClipTags) -> None:
    """Put the tags into an open soundfile WAV, before its first sample."""
    named = tags.named()
    file.title = named.pop("title")
    file.software = named.pop("software")
    file.comment = "\n".join(f"{name}={' '.join(value.split())}" for name, value in named.items())


def write_tags(path: Path, file_format: str, tags: ClipTags, *, cover: bytes | None = None) -> None:
    """Put the tags into a closed file, its sound kept as it is.

    Parameters
    ----------
    path : Path
    file_format : {"flac", "ogg", "opus", "mp3"}
        Stated, not guessed: the file may still bear a temporary name.
    tags : ClipTags
    cover : bytes or None
        A PNG picture.
    """
    if file_format == "mp3":
        _write_id3(path, tags, cover)
        return
    file = _vorbis_commented(path, file_format)
    for name, value in tags.named().items():
        file[name] = value
    if cover is not None and file_format == "flac":
        file.add_picture(_picture(cover))
    elif cover is not None:
        file[OGG_PICTURE] = base64.b64encode(_picture(cover).write()).decode()
    file.save()


def read_cover(path: Path, file_format: str) -> bytes | None:
    """The picture in a clip, or None; WAV holds none."""
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
        found = {name: file[name][0] for name in NAMES if name in file}
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
    """mutagen's ID3 module; its calls carry no types."""
    from mutagen import id3

    return id3


def _riff_info(path: Path) -> dict[str, str]:
    import soundfile

    with soundfile.SoundFile(os.fsencode(path)) as file:
        found = {"title": file.title, "software": file.software.split(" (")[0]}
        lines = (line.partition("=") for line in file.comment.splitlines())
    return found | {name: value for name, equals, value in lines if equals}
