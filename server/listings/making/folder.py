"""A listing's folder: the record of finished jobs, the files they made, the place they are made in.

The record is one text file, a line of JSON a job: its key, what was measured, and the files it made
with their digests. A line that a crash has cut off is passed over. Files are made in a scratch folder
and moved to their place when they are whole and on the disk; what the record says of a file counts
only as long as the file's content agrees, so nothing that happens to the folder can mislead a run.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from dsp.errors import InputError
from server.files.cache import digest_of
from server.files.lock import try_lock
from server.files.scratch import endings_unwind
from server.files.whole import PART, allowed_after, make_folder, reason, settle, write_bytes, write_text

OWN = ".presolder-listing"
RECORD, LOCK, SCRATCH = "record.jsonl", "lock", "scratch"
AT_ONCE = 1 << 20
Place = tuple[tuple[str, str], ...]
NOWHERE: Place = ()
"""Of a job that has made no file, only facts."""
Blob = Path | bytes
"""A file's content: where it lies, or itself where the disks are not the same."""


@dataclass(frozen=True)
class Kept:
    """A finished job.

    Attributes
    ----------
    facts : dict
        What was measured, as JSON.
    files : dict of str to tuple
        Per file: its path within the folder, and its digest.
    """

    facts: dict[str, Any]
    files: dict[str, tuple[str, str]] = field(default_factory=dict)


class ListingStore:
    """A listing's folder while a run has it to itself; see `open_store`.

    Parameters
    ----------
    out : Path
    """

    def __init__(self, out: Path) -> None:
        self.out = out
        self.scratch = out / OWN / SCRATCH
        self._path = out / OWN / RECORD
        self._kept = _read_record(self._path)
        self._of_key: dict[str, list[Place]] = {}
        for key, place in self._kept:
            self._of_key.setdefault(key, []).append(place)
        self._used: set[tuple[str, Place]] = set()
        self._line_ends = not self._path.exists() or self._path.read_bytes()[-1:] in (b"", b"\n")

    def found(self, key: str, places: Mapping[str, str] | None = None) -> Kept | None:
        """A finished job whose files are all there, or None.

        Parameters
        ----------
        key : str
        places : mapping of str to str
            Where each file should stand, within the folder. Where the same content stands in other
            places of the record it is copied.
        """
        wanted = places or {}
        for place in (_place_of(wanted), NOWHERE):  # measured, but not kept: then there is no file
            kept = self._kept.get((key, place))
            if kept is None:
                continue
            if (key, place) in self._used or self._stands(kept):
                self._used.add((key, place))
                return kept
        return self._copied(key, wanted)

    def _stands(self, kept: Kept) -> bool:
        return all(self._holds(path, sha) for path, sha in kept.files.values())

    def _holds(self, path: str, sha: str) -> bool:
        with contextlib.suppress(InputError):
            return digest_of(self.out / path) == sha
        return False

    def _copied(self, key: str, wanted: Mapping[str, str]) -> Kept | None:
        """A finished job whose files stand elsewhere, copied to where they are wanted."""
        for place in self._of_key.get(key, ()):
            kept = self._kept[key, place]
            if kept.files.keys() == wanted.keys() and self._stands(kept):
                blobs = {name: (wanted[name], self.read(path)) for name, (path, _) in kept.files.items()}
                return self.keep(key, kept.facts, blobs)
        return None

    def keep(self, key: str, facts: dict[str, Any], files: Mapping[str, tuple[str, Blob]]) -> Kept:
        """Put a job's files in their places and note it as finished.

        Parameters
        ----------
        key : str
        facts : dict
        files : mapping of str to tuple
            Per file its place within the folder and its content.

        Raises
        ------
        InputError
            When the disk refuses.
        """
        return self.note(key, self.placed(facts, files))

    def placed(self, facts: dict[str, Any], files: Mapping[str, tuple[str, Blob]]) -> Kept:
        """Put a job's files in their places, as `keep` does; in any thread.

        Raises
        ------
        InputError
            When the disk refuses.
        """
        return Kept(facts, {name: (place, self._place(place, blob)) for name, (place, blob) in files.items()})

    def note(self, key: str, kept: Kept) -> Kept:
        """Note a job whose files are in their places as finished.

        Raises
        ------
        InputError
            When the disk refuses.
        """
        placed = kept.files
        place = _place_of({name: path for name, (path, _) in placed.items()})
        if (key, place) not in self._kept:
            self._of_key.setdefault(key, []).append(place)
        self._kept[key, place] = kept
        self._used.add((key, place))
        self._append(key, kept)
        return kept

    def _place(self, place: str, blob: Blob) -> str:
        target = self.out / place
        make_folder(target.parent)
        if isinstance(blob, bytes):
            write_bytes(target, blob)
            return hashlib.sha256(blob).hexdigest()
        sha = digest_of(blob)
        settle(blob, target)
        return sha

    def _append(self, key: str, kept: Kept) -> None:
        start = "" if self._line_ends else "\n"  # a line that a crash cut off stays by itself
        with _refusals(self._path), self._path.open("a", encoding="utf-8") as file:
            file.write(start + _line(key, kept))
        self._line_ends = True

    def sweep(self) -> None:
        """Forget jobs no longer asked for; delete their files if unchanged."""
        wanted = {path for one in self._used for path, _ in self._kept[one].files.values()}
        for one in self._kept.keys() - self._used:
            for path, sha in self._kept[one].files.values():
                if path not in wanted and _inside(self.out, path) and self._holds(path, sha):
                    _delete(self.out / path)
        self._kept = {one: self._kept[one] for one in self._used}
        self.compact()

    def compact(self) -> None:
        """Write the record anew, a line a job, in order."""
        write_text(
            self._path, "".join(_line(key, self._kept[key, place]) for key, place in sorted(self._kept))
        )

    def write(self, place: str, text: bytes) -> None:
        """Write a file that is made anew each run, if it changed.

        Raises
        ------
        InputError
            When the disk refuses.
        """
        key, places = f"made {place}", {"file": place}
        kept = self.found(key, places)
        if kept is None or kept.files["file"][1] != hashlib.sha256(text).hexdigest():
            self.keep(key, {}, {"file": (place, text)})

    def refusals(self) -> contextlib.AbstractContextManager[None]:
        """Tell what the system refuses as an InputError that names the folder."""
        return _refusals(self.out)

    def read(self, place: str) -> bytes:
        """The content of a file of the folder.

        Raises
        ------
        InputError
        """
        with _refusals(self.out / place):
            return (self.out / place).read_bytes()


@contextlib.contextmanager
def open_store(out: Path) -> Iterator[ListingStore]:
    """A listing's folder, for one run at a time.

    Raises
    ------
    InputError
        When the folder cannot be made or written, or another run is at work on it.
    """
    make_folder(out / OWN)
    with _lock(out), _refusals(out), endings_unwind():
        _clear(out)
        store = ListingStore(out)
        store.scratch.mkdir()
        try:
            yield store
        finally:
            shutil.rmtree(store.scratch, ignore_errors=True)


@contextlib.contextmanager
def _lock(out: Path) -> Iterator[None]:
    """Hold the folder's lock; the system lets it go when the process ends, however it ends."""
    path = out / OWN / LOCK
    with _refusals(out), path.open("a+", encoding="utf-8") as file:
        if not try_lock(file.fileno()):
            raise InputError(str(out), _held_by(file), "one run at a time: wait for it, or end it")
        file.truncate(0)
        file.write(f"{os.getpid()}\n")
        file.flush()
        yield
        file.truncate(0)


def _held_by(file: IO[str]) -> str:
    file.seek(0)
    pid = file.read().strip()
    return f"another run at work on this folder{f' (process {pid})' if pid.isdecimal() else ''}"


def _clear(out: Path) -> None:
    """Remove what a run that was killed left half made: nobody else can be at work here."""
    shutil.rmtree(out / OWN / SCRATCH, ignore_errors=True)
    for part in out.rglob(".*.part"):
        if PART.fullmatch(part.name):
            with contextlib.suppress(OSError):
                part.unlink()


def _delete(path: Path) -> None:
    """Delete a file, and the folders above it that are empty then."""
    with contextlib.suppress(OSError):
        path.unlink()
        path.parent.rmdir()
        path.parent.parent.rmdir()


def _place_of(places: Mapping[str, str]) -> Place:
    """Where a job's files stand, as a key."""
    return tuple(sorted(places.items()))


def _read_record(path: Path) -> dict[tuple[str, Place], Kept]:
    """Finished jobs by key and place; lines that say nothing whole are passed over."""
    found: dict[tuple[str, Place], Kept] = {}
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").split("\n")
    except FileNotFoundError:
        return found
    for line in lines:
        with contextlib.suppress(ValueError, KeyError, TypeError, AttributeError, RecursionError):
            one = json.loads(line)
            files = {str(n): (str(path), str(sha)) for n, (path, sha) in one["files"].items()}
            place = _place_of({name: path for name, (path, _) in files.items()})
            found[str(one["key"]), place] = Kept(dict(one["facts"]), files)
    return found


def _line(key: str, kept: Kept) -> str:
    return json.dumps({"key": key, "facts": kept.facts, "files": kept.files}, ensure_ascii=True) + "\n"


def _inside(out: Path, path: str) -> bool:
    return (out / path).resolve().is_relative_to(out.resolve())


@contextlib.contextmanager
def _refusals(path: Path) -> Iterator[None]:
    """Tell what the system refuses as an InputError that names a path."""
    try:
        yield
    except OSError as error:
        allowed = allowed_after(error, "a folder that can be written to")
        raise InputError(str(path), reason(error), allowed) from error


@contextlib.contextmanager
def workplace(scratch: Path | None) -> Iterator[Path]:
    """The scratch folder of a run, or our own where that is out of reach."""
    if scratch is not None:
        yield scratch
        return
    with tempfile.TemporaryDirectory(prefix="presolder-") as own:
        yield Path(own)


def handed_over(path: Path, scratch: Path | None) -> Blob:
    """A finished file as the run can take it: its path, else its bytes."""
    return path if scratch is not None else path.read_bytes()


def at_hand(blob: Blob, path: Path) -> Path:
    """A blob as a file: where it lies, or written to a path."""
    if isinstance(blob, Path):
        return blob
    path.write_bytes(blob)
    return path


def removed(blob: Blob) -> None:
    """Delete a file that has served, if it is one."""
    if isinstance(blob, Path):
        with contextlib.suppress(OSError):
            blob.unlink()


def content(blob: Blob) -> bytes:
    """The bytes of a blob."""
    return blob if isinstance(blob, bytes) else blob.read_bytes()
