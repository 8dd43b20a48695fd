"""Copy the demo's files to a folder where a person works on them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from dsp.errors import InputError
from server.files.whole import allowed_after, reason, write_bytes


def copy_folder(source: Path, folder: Path) -> Iterator[tuple[Path, bool]]:
    """Copy every file of a folder into another, which is made if needed.

    Yields
    ------
    path : Path
        Place of the copy.
    copied : bool
        False if a file was there already; it stays as it is.

    Raises
    ------
    InputError
        If the folder cannot be made or written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        allowed = allowed_after(error, "a folder that can be made")
        raise InputError(str(folder), reason(error), allowed) from error
    for file in sorted(source.iterdir()):
        target = folder / file.name
        there = target.exists()
        if not there:
            write_bytes(target, file.read_bytes())
        yield target, not there
