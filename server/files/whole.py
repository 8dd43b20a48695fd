"""Write files whole or not at all: beside their place, then renamed.

A reader finds the old file or the new one, never a part. A failure, a full disk or a crash leaves
the old file as it was.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from dsp.errors import InputError

ALLOWED = "a path in a folder that exists and may be written"
PART = re.compile(r"\..*\.[0-9a-f]{12}\.part")
"""Names of unfinished files. Only the holder of a folder's lock may delete one."""
WINDOWS = os.name == "nt"
NO_ROOM = tuple(getattr(errno, name) for name in ("ENOSPC", "EDQUOT", "EFBIG") if hasattr(errno, name))
"""Errors of a full disk, a used-up quota, and a file beyond its limit."""


def allowed_after(error: OSError, otherwise: str) -> str:
    """Return what is allowed, given what the system refused."""
    return "a disk with more room: nothing half written is left" if error.errno in NO_ROOM else otherwise


def reason(error: OSError) -> str:
    """Return the system's message as it reads after "got": in lower case."""
    said = error.strerror or str(error)
    return said[:1].lower() + said[1:]


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a path beside a file that becomes it when the block ends well.

    Parameters
    ----------
    path : Path
        File to write; a symbolic link is followed.

    Yields
    ------
    Path
        An empty file in the same folder, for the block to fill.

    Raises
    ------
    InputError
        If the system refuses (no such folder, no permission, disk full); it names the path.
        Any other exception of the block passes through. Either way nothing is left behind.
    """
    target = Path(path).resolve()
    beside = target.with_name(f".{target.name[:80]}.{secrets.token_hex(6)}.part")
    try:
        if target.is_dir():
            raise IsADirectoryError(21, "Is a directory")
        if target.exists() and not target.is_file():  # renaming over a pipe or a device would replace it
            raise InputError(str(path), "a pipe, a device or a socket", "a plain file, or a new name")
        beside.touch(exist_ok=False)  # with the umask, as for any new file
        mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else None
        if mode is not None:
            beside.chmod(mode | stat.S_IWUSR)  # as private as the file was
        yield beside
        if mode is not None:
            beside.chmod(mode)
        flush(beside)
        beside.replace(target)
        flush(target.parent)
    except OSError as error:
        if error.filename and Path(error.filename) not in (beside, target, target.parent):
            raise  # the block's own problem with another file
        allowed = allowed_after(error, ALLOWED)
        raise InputError(str(path), reason(error), allowed) from error
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def settle(beside: Path, target: Path) -> None:
    """Move a finished file to its place on the same disk, and flush both.

    Raises
    ------
    InputError
        If the system refuses; it names the target.
    """
    try:
        flush(beside)
        beside.replace(target)
        flush(target.parent)
    except OSError as error:
        raise InputError(str(target), reason(error), allowed_after(error, ALLOWED)) from error


def flush(path: Path) -> None:
    """Flush a file's or folder's content to the disk."""
    if WINDOWS and path.is_dir():
        return  # Windows opens no folder, and writes its entries through by itself
    handle = os.open(path, os.O_RDWR if WINDOWS else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def discard_output(stream: IO[str]) -> None:
    """Point an output to nowhere, so that its rest is not written at exit."""
    with contextlib.suppress(OSError, ValueError):  # a stream of a test has no descriptor
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def make_folder(path: Path) -> None:
    """Make a folder and those above it, if they do not exist.

    Raises
    ------
    InputError
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(str(path), reason(error), "a folder that can be made") from error


def read_bytes(path: Path) -> bytes:
    """Read a whole file of bytes.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(str(path), error.strerror or str(error), "a file that can be read") from error


def write_bytes(path: Path, content: bytes) -> None:
    """Write a whole file of bytes; see `whole_file`."""
    with whole_file(path) as beside:
        beside.write_bytes(content)


def write_text(path: Path, content: str) -> None:
    """Write a whole UTF-8 file with line ends as given; see `whole_file`.

    Bytes of file names that are not UTF-8 (Python's lone surrogates) are written as ``\\udcXX``,
    which JSON reads back as they were.
    """
    write_bytes(path, content.encode(errors="backslashreplace"))
