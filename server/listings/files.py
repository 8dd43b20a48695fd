"""The folders of listings ordered from the bench: their places, their public files, and a ZIP of one."""

from __future__ import annotations

import contextlib
import hashlib
import re
from collections.abc import Iterator
from pathlib import Path

from server.files.pictures import picture_for_page
from server.files.whole import make_folder, write_bytes
from server.listings.making.folder import OWN
from server.refusals import Unknown

FOLDER, PICTURES = "listings", "listing-pictures"
PICTURE_NAME = re.compile(r"[0-9a-f]{64}")
INDEX = "index.html"
MEDIA = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".flac": "audio/flac",
    ".mp3": "audio/mpeg",
    ".ogg": "audio/ogg",
    ".opus": "audio/ogg",
    ".vtt": "text/vtt; charset=utf-8",
    ".wav": "audio/wav",
}
"""Media types of a listing's files (RFC 9639, RFC 3003, RFC 7845, RFC 9239, WebVTT)."""


def listing_folder(data: Path, job: str) -> Path:
    """Return the folder of a listing, by an id that the database knows."""
    return listings_folder(data) / job


def listings_folder(data: Path) -> Path:
    """Return the folder of all listings and of their worker's lock."""
    return data / FOLDER


def keep_picture(data: Path, content: bytes) -> str:
    """Keep a picture, made fit for a page; return its digest as its name.

    Raises
    ------
    InputError
        If it is no picture, or the disk refuses it.
    """
    made = picture_for_page(content)
    name = hashlib.sha256(made).hexdigest()
    path = data / PICTURES / f"{name}.jpg"
    if not path.is_file():
        make_folder(path.parent)
        write_bytes(path, made)
    return name


def picture_file(data: Path, name: str) -> Path:
    """Return a kept picture.

    Raises
    ------
    Unknown
    """
    path = data / PICTURES / f"{name}.jpg"
    if not PICTURE_NAME.fullmatch(name) or not path.is_file():
        raise Unknown("picture", "none of that name", "one that the bench has brought in", "choose it again")
    return path


def shown_file(folder: Path, path: str) -> Path:
    """Return a file of a listing by its path within the listing.

    Raises
    ------
    Unknown
        For anything that is not one of its files: other places, hidden files, links to elsewhere.
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
    """Return the whole files of a listing, in order, without its own record."""
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.is_symlink() and not _hidden(path.relative_to(folder))
    ]


def _hidden(path: Path) -> bool:
    """Whether a file is the run's own, or still on its way."""
    return OWN in path.parts or any(part.startswith(".") for part in path.parts)


class ListingZip:
    """A listing's files as a ZIP that is made while it is sent.

    Parameters
    ----------
    name : str
        Name of the one folder in it.

    Raises
    ------
    Unknown
        If the listing has no file.
    """

    def __init__(self, folder: Path, name: str) -> None:
        from zipstream import ZIP_STORED, ZipStream

        files = files_of(folder)
        if not files:
            raise Unknown("listing", "no file in its folder", "one that has been made", "make it again")
        # Sound does not compress; stored as it is, the size is known before it is sent.
        self._stream = ZipStream(compress_type=ZIP_STORED, sized=True)
        for path in files:
            self._stream.add_path(path, f"{name}/{path.relative_to(folder).as_posix()}")
        self.size = len(self._stream)

    def __iter__(self) -> Iterator[bytes]:
        """Yield its bytes, piece by piece."""
        yield from self._stream
