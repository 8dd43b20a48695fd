"""Ask what a named path leads to; whatever the system refuses is that path's own problem."""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from dsp.errors import InputError
from server.files.whole import reason

PathKind = Literal["file", "folder", "other", "nothing"]
"""``other``: a pipe or a device."""


def path_kind(path: Path) -> PathKind:
    """Say what a path leads to; symbolic links are followed.

    Raises
    ------
    InputError
        If the system does not say: a name too long, a loop of links, a folder without permission.
    """
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return "nothing"
    except (OSError, ValueError) as error:  # ValueError: a name with a NUL, or not of this system's text
        got = reason(error) if isinstance(error, OSError) else str(error)
        raise InputError(str(path), got, "a path that this system can open") from error
    return "file" if stat.S_ISREG(mode) else "folder" if stat.S_ISDIR(mode) else "other"


def files_of(folder: Path) -> list[Path]:
    """Return the paths in a folder, sorted.

    Raises
    ------
    InputError
        If it cannot be listed.
    """
    try:
        return sorted(folder.iterdir())
    except OSError as error:
        raise InputError(str(folder), reason(error), "a folder that can be read") from error


def real_path(path: Path) -> Path:
    """Return a path without symbolic links; a loop of links stays as it is."""
    return Path(os.path.realpath(path))


@contextlib.contextmanager
def system_errors_of(path: Path) -> Iterator[None]:
    """Turn an OSError of the block into a problem of its file.

    The file is the one that the error names, or else this path.

    Raises
    ------
    InputError
    """
    try:
        yield
    except OSError as error:
        where = error.filename if isinstance(error.filename, str) else str(path)
        raise InputError(where, reason(error), "a file that can be read") from error
