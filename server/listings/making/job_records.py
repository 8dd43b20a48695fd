"""What all instruments of a run share: finished jobs, volts on their way to files, takes."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from dsp.errors import InputError
from dsp.takes.performance import Performance
from server.clips.keys import take_key
from server.listings.making.folder import Blob, FinishedJob, ListingStore, as_file, delete, read_bytes
from server.listings.making.jobs import Job, PlayJob, RenderJob, Result
from server.listings.making.listing import Listing


@dataclass(frozen=True)
class Task:
    """A job to be run.

    Attributes
    ----------
    places : dict of str to str
        Places of its files, within the listing's folder.
    folder : str
        Folder of its instrument.
    keeps_to : float or None
        Largest true peak, full scale 1, of a file that is kept. Of a louder one only the
        measurement is.
    """

    key: str
    job: Job
    places: dict[str, str]
    folder: str
    keeps_to: float | None = None


class JobRecords:
    """Finished jobs, volts and takes of a run; see the module.

    Parameters
    ----------
    shares_disk : bool
        Whether the engine's workers see this machine's files.
    """

    def __init__(self, listing: Listing, store: ListingStore, *, shares_disk: bool) -> None:
        self.listing = listing
        self.scratch = store.scratch if shares_disk else None
        self._store = store
        self._volts: dict[tuple[str, str], Path] = {}
        self._numbers = itertools.count()
        self._takes: dict[str, str] = {}

    def take_key(self, performance: Performance) -> str:
        """Return the key of a take; its recording is read once per run."""
        file = performance.take.file
        if file not in self._takes:
            self._takes[file] = take_key(performance)
        return self._takes[file]

    def recording(self, performance: Performance) -> Blob | None:
        """Return a take's sound file: its path, or bytes if the disks differ."""
        recording = getattr(performance, "recording", None)
        if recording is None:
            return None
        return recording.path if self.scratch is not None else read_bytes(recording.path)

    def find_job(self, key: str, places: Mapping[str, str] | None = None) -> FinishedJob | None:
        """Return a finished job whose files are all there, or None."""
        return self._store.find_job(key, places)

    def find_peak(self, key: str) -> float | None:
        """Return the true peak of a finished job, or None; its file may be gone."""
        facts = self._store.find_facts(key)
        return None if facts is None else float(facts["true_peak"])

    def keep_facts(self, key: str) -> None:
        """Keep what a job of an earlier run measured."""
        self._store.keep_facts(key)

    def require_job(self, key: str, places: Mapping[str, str] | None = None) -> FinishedJob:
        """Return a job that was finished in this run.

        Raises
        ------
        InputError
            If its files are gone or changed.
        """
        job = self._store.find_job(key, places)
        if job is None:
            got, allowed = "files of this run that are gone or changed", "a folder left alone during a run"
            raise InputError(str(self._store.out), got, allowed)
        return job

    def read(self, place: str) -> bytes:
        """Return the content of a file of the folder."""
        return self._store.read(place)

    def next_number(self) -> int:
        """Return a number that no other scratch file of this run has."""
        return next(self._numbers)

    def has_volts(self, folder: str, key: str) -> bool:
        """Whether this run has a clip's volts; folder of its instrument."""
        return (folder, key) in self._volts

    def volts(self, folder: str, key: str) -> Blob:
        """Return a clip's volts for its jobs; folder of its instrument."""
        path = self._volts[folder, key]
        return path if self.scratch is not None else read_bytes(path)

    def place_files(self, task: Task, result: Result) -> FinishedJob:
        """Put a job's files in their places, in any thread; `record_job` next.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        if isinstance(task.job, PlayJob | RenderJob):
            return FinishedJob(result.facts)
        beyond = task.keeps_to is not None and result.facts["true_peak"] > task.keeps_to
        files = {} if beyond else {name: (task.places[name], blob) for name, blob in result.files.items()}
        finished = self._store.place_files(result.facts, files)
        if beyond:
            delete(result.files["clip"])
        return finished

    def record_job(self, task: Task, result: Result, finished: FinishedJob) -> None:
        """Record a job as finished.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        if isinstance(task.job, RenderJob):
            self._record_volts(task.folder, result)
        elif not isinstance(task.job, PlayJob):
            self._store.record_job(task.key, finished)

    def _record_volts(self, folder: str, result: Result) -> None:
        for key, blob in result.files.items():
            with self._store.refusals():
                self._volts[folder, key] = as_file(blob, self._store.scratch / f"{self.next_number()}.f32")
            if self._store.find_job(key) is None:
                self._store.save_job(key, result.facts[key], {})

    def forget(self, folder: str) -> None:
        """Delete the volts of a finished instrument."""
        for one in [one for one in self._volts if one[0] == folder]:
            delete(self._volts.pop(one))
