"""The folders of listings made from the bench: where they lie, what of them is shown, one as a ZIP."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from server.listings.making.folder import OWN
from server.refusals import Unknown

FOLDER = "listings"
INDEX = "index.html"
MEDIA = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".png": "image/png",
    ".flac": "audio/flac",
    ".mp3": "audio/mpeg",
    ".ogg": "audio/ogg",
    ".opus": "audio/ogg",
    ".wav": "audio/wav",
}
"""Media types of what a listing holds (RFC 9639, RFC 3003, RFC 7845, RFC 9239)."""


def listing_folder(data: Path, job: str) -> Path:
    """Where the files of a listing lie, by an id that the database knows."""
    return listings_folder(data) / job


def listings_folder(data: Path) -> Path:
    """Where the listings of a data folder lie, and the lock of their worker."""
    return data / FOLDER


def shown_file(folder: Path, path: str) -> Path:
    """A file of a listing by its path within it.

    Raises
    ------
    Unknown
        For whatever is none of its files: other places, hidden ones, links to elsewhere.
    """
    refused = Unknown("listing", "no such file in it", "a file that the listing's pages name")
    parts = path.split("/")
    if any(part.startswith(".") or not part or "\\" in part or "\0" in part for part in parts):
        raise refused
    found = folder.joinpath(*parts)
    with contextlib.suppress(OSError):
        if found.suffix in MEDIA and found.is_file() and found.resolve() == folder.resolve() / Path(*parts):
            return found
    raise refused


def files_of(folder: Path) -> list[Path]:
    """The files of a listing that are whole, in order; not its own record."""
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.is_symlink() and not _hidden(path.relative_to(folder))
    ]


def _hidden(path: Path) -> bool:
    """What a run has for itself, or what is on its way."""
    return OWN in path.parts or any(part.startswith(".") for part in path.parts)


class Zipped:
    """A listing's files as a ZIP made while it is sent, piece by piece.

    Parameters
    ----------
    folder : Path
    name : str
        Of the one folder in it.

    Raises
    ------
    Unknown
        If there is no file.
    """

    def __init__(self, folder: Path, name: str) -> None:
        from zipstream import ZIP_STORED, ZipStream

        files = files_of(folder)
        if not files:
            raise Unknown("listing", "no file in its folder", "one that has been made", "make it again")
        # Sound does not get smaller; stored as it is, the size is known before it is sent.
        self._stream = ZipStream(compress_type=ZIP_STORED, sized=True)
        for path in files:
            self._stream.add_path(path, f"{name}/{path.relative_to(folder).as_posix()}")
        self.size = len(self._stream)

    def __iter__(self) -> Iterator[bytes]:
        """Its bytes, piece by piece."""
        yield from self._stream
