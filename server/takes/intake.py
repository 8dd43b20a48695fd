"""A recording on its way in: streamed to a folder of its own, described, moved into place.

The name that was sent is a text in the take file and never part of a path: folder and sound
file are named by a random id and the content's SHA-256.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from dsp.errors import InputError
from server.database.store import new_id
from server.files.whole import flush
from server.refusals import TooLarge, Unavailable
from server.takes.library import TAKE_FILE, Brought, Library

COMING = ".coming"
"""Folder, within that of the takes, of those not yet whole."""
SOURCE_FILE = "source.yaml"
"""The wiring, beside its take file, that a recording was made through."""
STALE_S = 24 * 3600.0
LARGEST = 200_000_000
"""Bytes of a sound file; 30 minutes of 16-bit mono at 48 kHz are 173 MB."""
ENDINGS = {"WAV": "wav", "WAVEX": "wav", "FLAC": "flac", "AIFF": "aiff", "OGG": "ogg", "MP3": "mp3"}
"""Ending by libsndfile's name of the format."""
ESCAPES = {"\x85": "\\N", "\u2028": "\\L", "\u2029": "\\P"}
"""Signs that YAML takes for line ends, as it escapes them (YAML 1.2.2, section 5.7)."""


@dataclass(frozen=True)
class Through:
    """The wiring a recording was made through, and how it stood.

    Attributes
    ----------
    text : str
        Of the wiring; it is kept beside the take, so that later versions change nothing.
    position : str
    knobs : mapping of str to float
        Travel from 0 to 10.
    switches : mapping of str to str
    """

    text: str
    position: str
    knobs: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, str] = field(default_factory=dict)

    def written(self) -> str:
        """As the take file says it."""
        knobs = ", ".join(f"{_quoted(name)}: {value!r}" for name, value in self.knobs.items())
        switches = ", ".join(f"{_quoted(name)}: {_quoted(to)}" for name, to in self.switches.items())
        position = f"position: {_quoted(self.position)}, " if self.position else ""
        return f"{{wiring: {SOURCE_FILE}, {position}knobs: {{{knobs}}}, switches: {{{switches}}}}}"


@dataclass(frozen=True)
class Said:
    """What the person says of a recording.

    Attributes
    ----------
    name, kind : str
    line : str
        Of a mono recording: ``single`` or ``chords``.
    source : Through or None
        Of a mono recording: the known wiring it was made through; None for a flat sensor.
    channels : tuple of str
        Coil or string of each channel, of a recording that has several.
    """

    name: str
    kind: str = "mono"
    line: str = "chords"
    source: Through | None = None
    channels: tuple[str, ...] = ()

    def text(self, audio: str) -> str:
        """The take file's text."""
        lines = ["format: 1", f"name: {_quoted(self.name)}", f"kind: {_quoted(self.kind)}", f"audio: {audio}"]
        if self.kind == "mono":
            source = "flat" if self.source is None else self.source.written()
            lines += [f"source: {source}", f"line: {_quoted(self.line)}"]
        else:
            lines += [f"channels: [{', '.join(map(_quoted, self.channels))}]"]
        return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Examined:
    """What an examination found.

    Attributes
    ----------
    seconds : float
    coil_places : str
    warnings : tuple of str
    format : str
        libsndfile's name.
    """

    seconds: float
    coil_places: str
    warnings: tuple[str, ...]
    format: str


@dataclass
class Coming:
    """A recording on its way in, written piece by piece.

    Attributes
    ----------
    id : str
        Of the take it will be.
    folder : Path
    size : int
        Bytes so far.
    """

    id: str
    folder: Path
    file: BinaryIO
    size: int = 0
    _digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def write(self, piece: bytes) -> None:
        """Take one more piece.

        Raises
        ------
        TooLarge
        Unavailable
            If the disk is full.
        """
        self.size += len(piece)
        if self.size > LARGEST:
            raise TooLarge("the recording", f"more than {LARGEST} bytes", f"up to {LARGEST} bytes")
        self._digest.update(piece)
        try:
            self.file.write(piece)
        except OSError as error:
            raise Unavailable("the recording", error.strerror or str(error), "room on the disk") from error

    def described(self, said: Said) -> None:
        """End the sound file; write take file and source beside it.

        Raises
        ------
        InputError
            If nothing was sent.
        """
        self.file.close()
        if self.size == 0:
            raise InputError("the recording", "0 bytes", "a sound file")
        (self.folder / "sound").rename(self.folder / self.sha256)
        (self.folder / TAKE_FILE).write_text(said.text(self.sha256), encoding="utf-8")
        if said.source is not None:
            (self.folder / SOURCE_FILE).write_text(said.source.text, encoding="utf-8", newline="")

    @property
    def sha256(self) -> str:
        """Of what was sent, so far."""
        return self._digest.hexdigest()


@contextlib.contextmanager
def coming(library: Library) -> Iterator[Coming]:
    """A folder to write a recording into; gone afterwards unless it was kept.

    Parameters
    ----------
    library : Library

    Raises
    ------
    Unavailable
        If the disk refuses.
    """
    take_id = new_id()
    folder = library.folder / COMING / take_id
    try:
        folder.mkdir(parents=True)
        sound = (folder / "sound").open("wb")
    except OSError as error:
        got = error.strerror or str(error)
        raise Unavailable("the data folder", got, "a disk that can be written") from error
    try:
        with sound:
            yield Coming(take_id, folder, sound)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def keep(library: Library, came: Coming, said: Said, found: Examined) -> Brought:
    """Move a take that was found good into the library, then list it.

    Parameters
    ----------
    library : Library
    came : Coming
    said : Said
    found : Examined

    Returns
    -------
    Brought
    """
    name = f"{came.sha256}.{ENDINGS.get(found.format, 'sound')}"
    (came.folder / came.sha256).rename(came.folder / name)
    (came.folder / TAKE_FILE).write_text(said.text(name), encoding="utf-8")
    for path in (*came.folder.iterdir(), came.folder):
        flush(path)
    came.folder.rename(library.folder / came.id)
    flush(library.folder)
    take = Brought(
        came.id,
        said.name,
        said.kind,
        found.seconds,
        found.coil_places,
        found.warnings,
        came.sha256,
        came.size,
    )
    library.add(take)
    return take


def sweep(library: Library) -> None:
    """Clear away what a server killed a day ago had on its way."""
    with contextlib.suppress(OSError):
        for folder in (library.folder / COMING).iterdir():
            if folder.stat().st_mtime < time.time() - STALE_S:
                shutil.rmtree(folder, ignore_errors=True)


def _quoted(text: str) -> str:
    """A text as a YAML double-quoted scalar."""
    quoted = json.dumps(text, ensure_ascii=False)
    for sign, escape in ESCAPES.items():
        quoted = quoted.replace(sign, escape)
    return quoted
