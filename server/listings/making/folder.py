"""A listing's folder: the record of finished jobs, their files, and the scratch folder.

The record is a text file, one line of JSON per job: its key, what was measured, and its files with
their digests. A line cut off by a crash is skipped. A file is made in the scratch folder and moved to
its place once it is whole and on the disk. The record of a file counts only while the file's content
has the digest recorded, so no change of the folder can mislead a run.
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
"""Place of a job that has facts but no file."""
Blob = Path | bytes
"""A file's content: its path, or its bytes if the disks are not the same."""


@dataclass(frozen=True)
class FinishedJob:
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
    """A listing's folder while one run holds it; see `open_store`."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.scratch = out / OWN / SCRATCH
        self._path = out / OWN / RECORD
        self._jobs = _read_record(self._path)
        self._of_key: dict[str, list[Place]] = {}
        for key, place in self._jobs:
            self._of_key.setdefault(key, []).append(place)
        self._used: set[tuple[str, Place]] = set()
        self._known: set[tuple[str, Place]] = set()
        self._line_ends = not self._path.exists() or self._path.read_bytes()[-1:] in (b"", b"\n")

    def find_job(self, key: str, places: Mapping[str, str] | None = None) -> FinishedJob | None:
        """Return a finished job whose files are all there, or None.

        Parameters
        ----------
        places : mapping of str to str
            Place of each file within the folder. If the record has the same content in other
            places, it is copied.
        """
        wanted = places or {}
        for place in (_place_of(wanted), NOWHERE):  # NOWHERE: measured, its file not kept
            job = self._jobs.get((key, place))
            if job is None:
                continue
            if (key, place) in self._used or self._is_intact(job):
                self._used.add((key, place))
                return job
        return self._copy_job(key, wanted)

    def find_facts(self, key: str) -> dict[str, Any] | None:
        """Return what a finished job measured, or None; its files may be gone."""
        places = self._of_key.get(key)
        return self._jobs[key, places[0]].facts if places else None

    def keep_facts(self, key: str) -> None:
        """Keep what a finished job measured, though its files are not used."""
        self._known.update((key, place) for place in self._of_key.get(key, ()))

    def _is_intact(self, job: FinishedJob) -> bool:
        return all(self._has_digest(path, sha) for path, sha in job.files.values())

    def _has_digest(self, path: str, sha: str) -> bool:
        with contextlib.suppress(InputError):
            return digest_of(self.out / path) == sha
        return False

    def _copy_job(self, key: str, wanted: Mapping[str, str]) -> FinishedJob | None:
        """Copy the files of a finished job from their other places."""
        for place in self._of_key.get(key, ()):
            job = self._jobs[key, place]
            if job.files.keys() == wanted.keys() and self._is_intact(job):
                blobs = {name: (wanted[name], self.read(path)) for name, (path, _) in job.files.items()}
                return self.save_job(key, job.facts, blobs)
        return None

    def save_job(self, key: str, facts: dict[str, Any], files: Mapping[str, tuple[str, Blob]]) -> FinishedJob:
        """Put a job's files in their places, and record the job as finished.

        Parameters
        ----------
        files : mapping of str to tuple
            Per file its place within the folder, and its content.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        return self.record_job(key, self.place_files(facts, files))

    def place_files(self, facts: dict[str, Any], files: Mapping[str, tuple[str, Blob]]) -> FinishedJob:
        """Put a job's files in their places, in any thread; `record_job` next.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        return FinishedJob(
            facts, {name: (place, self._place(place, blob)) for name, (place, blob) in files.items()}
        )

    def record_job(self, key: str, job: FinishedJob) -> FinishedJob:
        """Record a job as finished; its files are in their places.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        place = _place_of({name: path for name, (path, _) in job.files.items()})
        if (key, place) not in self._jobs:
            self._of_key.setdefault(key, []).append(place)
        self._jobs[key, place] = job
        self._used.add((key, place))
        self._append(key, job)
        return job

    def _place(self, place: str, blob: Blob) -> str:
        target = self.out / place
        make_folder(target.parent)
        if isinstance(blob, bytes):
            write_bytes(target, blob)
            return hashlib.sha256(blob).hexdigest()
        sha = digest_of(blob)
        settle(blob, target)
        return sha

    def _append(self, key: str, job: FinishedJob) -> None:
        start = "" if self._line_ends else "\n"  # a line that a crash cut off stays by itself
        with _refusals(self._path), self._path.open("a", encoding="utf-8") as file:
            file.write(start + _line(key, job))
        self._line_ends = True

    def sweep(self) -> None:
        """Forget jobs neither used nor kept; delete unused files if unchanged."""
        wanted = {path for one in self._used for path, _ in self._jobs[one].files.values()}
        for one in self._jobs.keys() - self._used:
            for path, sha in self._jobs[one].files.values():
                if path not in wanted and _inside(self.out, path) and self._has_digest(path, sha):
                    _delete(self.out / path)
        self._jobs = {one: self._jobs[one] for one in self._used | self._known}
        self.compact()

    def compact(self) -> None:
        """Write the record anew, one line per job, in order."""
        write_text(
            self._path, "".join(_line(key, self._jobs[key, place]) for key, place in sorted(self._jobs))
        )

    def write(self, place: str, text: bytes) -> None:
        """Write a file that each run makes anew, if it changed.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        key, places = f"made {place}", {"file": place}
        job = self.find_job(key, places)
        if job is None or job.files["file"][1] != hashlib.sha256(text).hexdigest():
            self.save_job(key, {}, {"file": (place, text)})

    def refusals(self) -> contextlib.AbstractContextManager[None]:
        """Turn an OSError of the block into an InputError that names the folder."""
        return _refusals(self.out)

    def read(self, place: str) -> bytes:
        """Return the content of a file of the folder.

        Raises
        ------
        InputError
        """
        with _refusals(self.out / place):
            return (self.out / place).read_bytes()


@contextlib.contextmanager
def open_store(out: Path) -> Iterator[ListingStore]:
    """Open a listing's folder for one run at a time.

    Raises
    ------
    InputError
        If the folder cannot be made or written, or another run is at work on it.
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
    """Hold the folder's lock; the system releases it when the process ends, however it ends."""
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
    """Remove the half-made files of a killed run; under the lock nobody else is at work here."""
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
    """Return the places of a job's files as a key."""
    return tuple(sorted(places.items()))


def _read_record(path: Path) -> dict[tuple[str, Place], FinishedJob]:
    """Read finished jobs by key and place; skip lines that are not whole."""
    found: dict[tuple[str, Place], FinishedJob] = {}
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").split("\n")
    except FileNotFoundError:
        return found
    for line in lines:
        with contextlib.suppress(ValueError, KeyError, TypeError, AttributeError, RecursionError):
            one = json.loads(line)
            files = {str(n): (str(path), str(sha)) for n, (path, sha) in one["files"].items()}
            place = _place_of({name: path for name, (path, _) in files.items()})
            found[str(one["key"]), place] = FinishedJob(dict(one["facts"]), files)
    return found


def _line(key: str, job: FinishedJob) -> str:
    return json.dumps({"key": key, "facts": job.facts, "files": job.files}, ensure_ascii=True) + "\n"


def _inside(out: Path, path: str) -> bool:
    return (out / path).resolve().is_relative_to(out.resolve())


@contextlib.contextmanager
def _refusals(path: Path) -> Iterator[None]:
    """Turn an OSError of the block into an InputError that names a path."""
    try:
        yield
    except OSError as error:
        allowed = allowed_after(error, "a folder that can be written to")
        raise InputError(str(path), reason(error), allowed) from error


@contextlib.contextmanager
def workplace(scratch: Path | None) -> Iterator[Path]:
    """Give the scratch folder of a run, or a temporary one."""
    if scratch is not None:
        yield scratch
        return
    with tempfile.TemporaryDirectory(prefix="presolder-") as own:
        yield Path(own)


def release(path: Path, scratch: Path | None) -> Blob:
    """Hand a file to the run: its path, or its bytes if the disks differ."""
    return path if scratch is not None else path.read_bytes()


def as_file(blob: Blob, path: Path) -> Path:
    """Return the path of a blob; write its bytes to `path` if it has none."""
    if isinstance(blob, Path):
        return blob
    path.write_bytes(blob)
    return path


def delete(blob: Blob) -> None:
    """Delete a blob's file, if it is one."""
    if isinstance(blob, Path):
        with contextlib.suppress(OSError):
            blob.unlink()


def read_bytes(blob: Blob) -> bytes:
    """Return the bytes of a blob."""
    return blob if isinstance(blob, bytes) else blob.read_bytes()
