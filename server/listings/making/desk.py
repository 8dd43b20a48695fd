"""Where an instrument's steps find what is there: finished jobs, volts on their way, sources."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from dsp.errors import InputError
from dsp.takes.performance import Performance
from server.listings.making import keys
from server.listings.making.folder import Blob, Kept, ListingStore, at_hand, content, removed
from server.listings.making.jobs import Result, VoltsWork, Work
from server.listings.making.listing import Listing


@dataclass(frozen=True)
class Task:
    """A job to be run.

    Attributes
    ----------
    key : str
    work : Work
    places : dict of str to str
        Where its files go, within the listing's folder.
    folder : str
        Of its instrument.
    keeps_to : float or None
        A file whose true peak, full scale 1, lies beyond is not kept, only what it measured.
    """

    key: str
    work: Work
    places: dict[str, str]
    folder: str
    keeps_to: float | None = None


class Desk:
    """What all instruments of a run share.

    Parameters
    ----------
    listing : Listing
    store : ListingStore
    shares_disk : bool
        Of the engine.
    """

    def __init__(self, listing: Listing, store: ListingStore, *, shares_disk: bool) -> None:
        self.listing = listing
        self.scratch = store.scratch if shares_disk else None
        self._store = store
        self._volts: dict[tuple[str, str], Path] = {}
        self._numbers = itertools.count()
        self._takes: dict[str, str] = {}

    def take_key(self, performance: Performance) -> str:
        """Key of a take; its recording is read once a run."""
        file = performance.take.file
        if file not in self._takes:
            self._takes[file] = keys.take_key(performance)
        return self._takes[file]

    def recording(self, performance: Performance) -> Blob | None:
        """A take's sound file as its jobs can have it."""
        recording = getattr(performance, "recording", None)
        if recording is None:
            return None
        return recording.path if self.scratch is not None else content(recording.path)

    def found(self, key: str, places: Mapping[str, str] | None = None) -> Kept | None:
        """A finished job whose files are there."""
        return self._store.found(key, places)

    def must(self, key: str, places: Mapping[str, str] | None = None) -> Kept:
        """A job that has just been finished.

        Raises
        ------
        InputError
            If its files have gone in the meantime.
        """
        kept = self._store.found(key, places)
        if kept is None:
            got, allowed = "files of this run that are gone or changed", "a folder left alone during a run"
            raise InputError(str(self._store.out), got, allowed)
        return kept

    def read(self, place: str) -> bytes:
        """Content of a file of the folder."""
        return self._store.read(place)

    def number(self) -> int:
        """A number no other scratch file of this run has."""
        return next(self._numbers)

    def has_volts(self, folder: str, key: str) -> bool:
        """Whether a clip's volts are at hand; folder of its instrument."""
        return (folder, key) in self._volts

    def volts(self, folder: str, key: str) -> Blob:
        """A clip's volts as its jobs can have them; folder of its instrument."""
        path = self._volts[folder, key]
        return path if self.scratch is not None else content(path)

    def placed(self, task: Task, result: Result) -> Kept:
        """Put what a job made where it belongs; in any thread, then `note` it.

        Raises
        ------
        InputError
            When the disk refuses.
        """
        if isinstance(task.work, VoltsWork):
            return Kept(result.facts)
        beyond = task.keeps_to is not None and result.facts["true_peak"] > task.keeps_to
        files = {} if beyond else {name: (task.places[name], blob) for name, blob in result.files.items()}
        kept = self._store.placed(result.facts, files)
        if beyond:
            removed(result.files["clip"])
        return kept

    def note(self, task: Task, result: Result, kept: Kept) -> None:
        """Note a job as finished.

        Raises
        ------
        InputError
            When the disk refuses.
        """
        if isinstance(task.work, VoltsWork):
            self._note_volts(task.folder, result)
        else:
            self._store.note(task.key, kept)

    def _note_volts(self, folder: str, result: Result) -> None:
        for key, blob in result.files.items():
            with self._store.refusals():
                self._volts[folder, key] = at_hand(blob, self._store.scratch / f"{self.number()}.f32")
            if self._store.found(key) is None:
                self._store.keep(key, result.facts[key], {})

    def forget(self, folder: str) -> None:
        """Delete the volts of an instrument that is finished."""
        for one in [one for one in self._volts if one[0] == folder]:
            removed(self._volts.pop(one))
