"""Finished clips and pictures on the disk, each named by the SHA-256 of its content."""

from __future__ import annotations

import contextlib
import hashlib
import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from server.files.whole import read_bytes, whole_file
from server.refusals import Unknown

FOLDER = "clips"
MAKING = ".making-"
"""Start of the names of folders for clips that are being made."""
MEDIA = {"flac": "audio/flac", "mp3": "audio/mpeg", "svg": "image/svg+xml"}
"""Endings of the files and their media types (RFC 9639, RFC 3003; SVG 1.1, appendix P)."""
SHA256 = re.compile(r"[0-9a-f]{64}")


def clips_folder(data: Path) -> Path:
    """Return the folder of a data folder's clips."""
    return data / FOLDER


@contextlib.contextmanager
def making_folder(data: Path) -> Iterator[Path]:
    """Make a folder for clips in the making; remove it at the end."""
    folder = clips_folder(data)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=MAKING, dir=folder) as temporary:
        yield Path(temporary)


def sweep(data: Path) -> None:
    """Remove half-made clips of a worker that was ended.

    Call as the only worker.
    """
    for folder in clips_folder(data).glob(f"{MAKING}*"):
        shutil.rmtree(folder, ignore_errors=True)


def clip_path(data: Path, sha256: str, ending: str) -> Path:
    """Return the path of a clip, whether it exists or not.

    Raises
    ------
    Unknown
        For a wrong digest or ending, so that neither leads elsewhere.
    """
    if not SHA256.fullmatch(sha256) or ending not in MEDIA:
        raise Unknown("clip", "another name", f"64 hexadecimal digits, then .{' or .'.join(MEDIA)}")
    return clips_folder(data) / sha256[:2] / f"{sha256}.{ending}"


def read_clip(data: Path, sha256: str, ending: str) -> bytes:
    """Read a clip or picture.

    Raises
    ------
    InputError
        If it is missing or cannot be read.
    """
    return read_bytes(clip_path(data, sha256, ending))


def keep_clip(data: Path, file: Path) -> str:
    """Copy a finished file to its place and return its digest."""
    return keep_content(data, file.read_bytes(), file.suffix.lstrip("."))


def keep_content(data: Path, content: bytes, ending: str) -> str:
    """Write a content to its place and return its digest."""
    sha256 = hashlib.sha256(content).hexdigest()
    path = clip_path(data, sha256, ending)
    if not path.is_file():
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as beside:
            beside.write_bytes(content)
    return sha256


def clip_problem(data: Path, sha256: str, ending: str) -> str:
    """Return the problem of a clip; empty if its content fits its name."""
    path = clip_path(data, sha256, ending)
    try:
        found = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return f"{path.name}: the file is missing"
    return "" if found == sha256 else f"{path.name}: the file's content is another"
