"""Receive an upload: stream it to its own folder, write its take file, move it into place.

The name that was sent is a text in the take file and never part of a path. A random id names the
folder, the SHA-256 of the content names the sound file.
"""

from __future__ import annotations

import asyncio
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
from server.refusals import TooLarge, TooOften, Unavailable
from server.takes.library import TAKE_FILE, Library, UploadedTake

COMING = ".coming"
"""Folder of incomplete uploads, within that of the takes."""
SOURCE_FILE = "source.yaml"
"""The wiring that a recording was made through, beside its take file."""
STALE_S = 24 * 3600.0
"""Since the last byte of an upload that nobody here receives; another server may still do so."""
SWEEP_EVERY_S = 3600.0
MOST_COMING = 8
"""Uploads at a time; each may hold a thread while its recording is examined."""
LARGEST = 200_000_000
"""Most bytes of a sound file; 30 minutes of 16-bit mono at 48 kHz are 173 MB."""
MIDI_FORMAT = "MIDI"
ENDINGS = {
    "WAV": "wav",
    "WAVEX": "wav",
    "FLAC": "flac",
    "AIFF": "aiff",
    "OGG": "ogg",
    "MP3": "mp3",
    MIDI_FORMAT: "mid",
}
"""File ending by libsndfile's name of the format, or `MIDI_FORMAT`."""
ESCAPES = {"\x85": "\\N", "\u2028": "\\L", "\u2029": "\\P"}
"""Characters that YAML reads as line ends, and their escapes (YAML 1.2.2, section 5.7)."""


@dataclass(frozen=True)
class Through:
    """The wiring that a recording was made through, and its setting.

    Attributes
    ----------
    text : str
        Text of the wiring; stored beside the take, so that later versions change nothing.
    knobs : mapping of str to float
        Travel from 0 to 10.
    """

    text: str
    position: str
    knobs: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, str] = field(default_factory=dict)

    def field_text(self) -> str:
        """Return the value of ``source`` in the take file."""
        knobs = ", ".join(f"{_quoted(name)}: {value!r}" for name, value in self.knobs.items())
        switches = ", ".join(f"{_quoted(name)}: {_quoted(to)}" for name, to in self.switches.items())
        position = f"position: {_quoted(self.position)}, " if self.position else ""
        return f"{{wiring: {SOURCE_FILE}, {position}knobs: {{{knobs}}}, switches: {{{switches}}}}}"


@dataclass(frozen=True)
class UploadForm:
    """A person's description of a recording.

    Attributes
    ----------
    line : str
        Of a mono recording: ``single`` or ``chords``.
    source : Through or None
        Of a mono recording: the known wiring that it was made through; None for a flat sensor.
    channels : tuple of str
        Coil or string of each channel, if a recording has several.
    strings : str
        Of a MIDI file: what decides the string of a note, as in a take file.
    tracks : tuple of int
        Of a MIDI file: those that are played; empty for all.
    """

    name: str
    kind: str = "mono"
    line: str = "chords"
    source: Through | None = None
    channels: tuple[str, ...] = ()
    strings: str = "hand"
    tracks: tuple[int, ...] = ()

    def text(self, audio: str) -> str:
        """Return the text of the take file."""
        lines = ["format: 1", f"name: {_quoted(self.name)}", f"kind: {_quoted(self.kind)}"]
        if self.kind == "midi":
            lines += [f"midi: {audio}", f"strings: {self.strings}", "unplayable: leave out"]
            lines += [f"tracks: [{', '.join(map(str, self.tracks))}]"] if self.tracks else []
            return "\n".join(lines) + "\n"
        lines += [f"audio: {audio}"]
        if self.kind == "mono":
            source = "flat" if self.source is None else self.source.field_text()
            lines += [f"source: {source}", f"line: {_quoted(self.line)}"]
        else:
            lines += [f"channels: [{', '.join(map(_quoted, self.channels))}]"]
        return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Examined:
    """The result of an examination.

    Attributes
    ----------
    seconds : float
        Length, s.
    format : str
        libsndfile's name, or `MIDI_FORMAT`.
    """

    seconds: float
    coil_places: str
    warnings: tuple[str, ...]
    format: str


@dataclass
class Upload:
    """A recording that arrives piece by piece.

    Attributes
    ----------
    id : str
        Id of the future take.
    size : int
        Bytes so far.
    """

    id: str
    folder: Path
    file: BinaryIO
    size: int = 0
    _digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def write(self, piece: bytes) -> None:
        """Append a piece.

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

    def finish(self, form: UploadForm) -> None:
        """Close the sound file; write the take file and the source beside it.

        Raises
        ------
        InputError
            If nothing was sent.
        """
        self.file.close()
        if self.size == 0:
            raise InputError("the recording", "0 bytes", "a sound file or a MIDI file")
        (self.folder / "sound").rename(self.folder / self.sha256)
        (self.folder / TAKE_FILE).write_text(form.text(self.sha256), encoding="utf-8")
        if form.source is not None:
            (self.folder / SOURCE_FILE).write_text(form.source.text, encoding="utf-8", newline="")

    def hand_over(self, name: str, texts: Mapping[str, str]) -> None:
        """Close the file under a name, and write texts by name beside it."""
        self.file.close()
        (self.folder / "sound").rename(self.folder / name)
        for beside, text in texts.items():
            (self.folder / beside).write_text(text, encoding="utf-8", newline="")

    @property
    def sha256(self) -> str:
        """SHA-256 of the pieces so far."""
        return self._digest.hexdigest()


@contextlib.contextmanager
def open_upload(library: Library) -> Iterator[Upload]:
    """Open a folder for an upload; it is deleted at the end unless kept.

    Call it from one thread, that of the requests.

    Raises
    ------
    TooOften
        If as many are coming as are taken at a time.
    Unavailable
        If the disk refuses.
    """
    if len(library.coming) >= MOST_COMING:
        got = f"{len(library.coming)} recordings on their way already"
        raise TooOften("the recording", got, f"{MOST_COMING} at a time", "send it again in a minute")
    take_id = new_id()
    library.coming.add(take_id)
    try:
        with _open_folder(library, take_id) as upload:
            yield upload
    finally:
        library.coming.discard(take_id)


@contextlib.contextmanager
def _open_folder(library: Library, take_id: str) -> Iterator[Upload]:
    folder = library.folder / COMING / take_id
    try:
        folder.mkdir(parents=True)
        sound = (folder / "sound").open("wb")
    except OSError as error:
        got = error.strerror or str(error)
        raise Unavailable("the data folder", got, "a disk that can be written") from error
    try:
        with sound:
            yield Upload(take_id, folder, sound)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def keep_upload(library: Library, upload: Upload, form: UploadForm, found: Examined) -> UploadedTake:
    """Move an accepted upload into the library, then list it."""
    name = f"{upload.sha256}.{ENDINGS.get(found.format, 'sound')}"
    (upload.folder / upload.sha256).rename(upload.folder / name)
    (upload.folder / TAKE_FILE).write_text(form.text(name), encoding="utf-8")
    for path in (*upload.folder.iterdir(), upload.folder):
        flush(path)
    upload.folder.rename(library.folder / upload.id)
    flush(library.folder)
    take = UploadedTake(
        upload.id,
        form.name,
        form.kind,
        found.seconds,
        found.coil_places,
        found.warnings,
        upload.sha256,
        upload.size,
    )
    library.add(take)
    return take


def sweep(library: Library) -> None:
    """Delete incomplete uploads that nobody has written to for a day.

    A server that is killed leaves them behind.
    """
    try:
        folders = list((library.folder / COMING).iterdir())
    except OSError:
        return
    for folder in folders:
        with contextlib.suppress(OSError):
            if folder.name not in library.coming and _last_change(folder) < time.time() - STALE_S:
                shutil.rmtree(folder, ignore_errors=True)


async def keep_swept(library: Library) -> None:
    """Sweep every hour, until cancelled."""
    while True:
        await asyncio.sleep(SWEEP_EVERY_S)
        await asyncio.to_thread(sweep, library)


def _last_change(folder: Path) -> float:
    """Return when a folder or a file in it was last written to, s since 1970."""
    return max(path.stat().st_mtime for path in (folder, *folder.iterdir()))


def _quoted(text: str) -> str:
    """Quote a text as a YAML double-quoted scalar."""
    quoted = json.dumps(text, ensure_ascii=False)
    for sign, escape in ESCAPES.items():
        quoted = quoted.replace(sign, escape)
    return quoted
