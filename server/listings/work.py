"""The process that makes listings, one after the other, behind everything else on the machine.

Nothing is lost when it ends with the server: files come into their places whole, and the record in
each listing's folder says what is finished.
"""

from __future__ import annotations

import logging
import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dsp.errors import InputError
from server.database.store import Store
from server.files.lock import sole_worker
from server.listings import queue
from server.listings import store as orders
from server.listings.files import listings_folder
from server.processes.child import ONE_THREAD, Work
from server.processes.keeper import Keeper
from server.processes.parent import Parent
from server.settings import Settings

if TYPE_CHECKING:
    from server.takes.library import Library

NICENESS = 19
"""The last of all: the live page's filters never wait for a listing."""
LOOK_EVERY_S = 0.2
WRITE_EVERY_S = 0.5
PAUSE_S = 0.5
log = logging.getLogger("presolder")


class ListingKeeper(Keeper):
    """Keeps a process at the queue of listings."""

    def __init__(self, settings: Settings, store: Store) -> None:
        self._store = store
        work = Work(f"{__name__}:main", NICENESS, ONE_THREAD)
        folders = (settings.data, *settings.places)
        super().__init__("listings", work, *(str(folder.resolve()) for folder in folders))

    def waiting(self) -> bool:
        """Whether a listing has not ended."""
        return queue.waiting(self._store)

    def interrupted(self, *, died: bool) -> None:
        """Mark what the worker left, unless another server's worker is at it."""
        with sole_worker(listings_folder(self._store.folder)) as alone:
            if alone:
                queue.mark_interrupted(self._store, died=died)


def main(parent: Parent, data: str, *places: str) -> None:
    """Make every listing that waits, then end.

    Parameters
    ----------
    data : str
        Folder of the database.
    *places : str
        In which takes are looked for.
    """
    from server.takes.library import Library

    store = Store(Path(data))
    library = Library(store, [Path(place) for place in places])
    while True:
        with sole_worker(listings_folder(store.folder)) as alone:
            if alone:
                empty_queue(store, library)
                return
        time.sleep(PAUSE_S)  # a server before this one, or beside it, has a worker still


def empty_queue(store: Store, library: Library) -> None:
    """Make every listing that waits, as the only worker."""
    queue.mark_interrupted(store, died=False)
    while (job := queue.take_next(store)) is not None:
        make(store, library, job)


def make(store: Store, library: Library, job: str) -> None:
    """Make one listing, and save how it ended."""
    from server.listings.making.run import Cancelled

    try:
        state, report = _run(store, library, job)
        queue.finish(store, job, state, report)
    except Cancelled:
        queue.finish(store, job, orders.CANCELLED, {})
    except InputError as error:
        queue.finish(store, job, orders.FAILED, {"problems": [str(one) for one in error.problems]})
    except Exception:
        log.exception("making a listing")
        problems = ["an error of the program's own; its log says more"]
        queue.finish(store, job, orders.FAILED, {"problems": problems})


def _run(store: Store, library: Library, job: str) -> tuple[str, dict[str, Any]]:
    """Run one listing: its state at the end, and its report."""
    from server.listings.making.engines import Pool
    from server.listings.making.run import run_listing
    from server.listings.order import plan_order

    cancelled, progress = CancelFlag(store, job), ProgressWriter(store, job)
    plan = plan_order(job, orders.read_order(store, job), library, stopped=cancelled)
    engine = Pool(spare_cores())
    try:
        result = run_listing(plan, engine, on_event=progress, cancelled=cancelled)
    finally:
        engine.close()
        progress.flush()
    report = {
        "summary": result.summary(),
        "failed": len(result.failed),
        "problems": [],
        "seconds": round(result.seconds, 3),
        "elapsed_s": round(result.elapsed_s, 3),
    }
    nothing_made = len(result.failed) == len(result.instruments)
    return orders.FAILED if nothing_made else orders.DONE, report


def spare_cores() -> int:
    """Processes that make clips: a core is left to the page and its browser."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, cores - 1)


class CancelFlag:
    """Whether a listing is to be cancelled; asks the database now and then."""

    def __init__(self, store: Store, job: str) -> None:
        self._store, self._job = store, job
        self._asked_s, self._set = 0.0, False

    def __call__(self) -> bool:
        if not self._set and time.monotonic() - self._asked_s >= LOOK_EVERY_S:
            self._asked_s, self._set = time.monotonic(), queue.cancel_requested(self._store, self._job)
        return self._set


class ProgressWriter:
    """Writes the events of a run to the database, progress not too often."""

    def __init__(self, store: Store, job: str) -> None:
        self._store, self._job = store, job
        self._written_s = 0.0
        self._about: dict[str, Any] | None = None
        self._files: dict[str, int] = {}

    def __call__(self, event: dict[str, Any]) -> None:
        if event["event"] == "progress":
            self._write_progress(event)
        elif event["event"] == "instrument":
            self._write_instrument(event)

    def _write_progress(self, event: dict[str, Any]) -> None:
        self._files[event["instrument"]] = event["files_done"]
        self._about = {key: event[key] for key in ("share", "times_real_time", "remaining_s")}
        if time.monotonic() - self._written_s >= WRITE_EVERY_S:
            self.flush()

    def flush(self) -> None:
        """Write what has not been written yet."""
        if self._about is not None:
            self._written_s = time.monotonic()
            queue.save_progress(self._store, self._job, self._about, self._files)
            self._about, self._files = None, {}

    def _write_instrument(self, event: dict[str, Any]) -> None:
        folder = event["instrument"] or event["name"]  # one that could not be planned has no folder
        self._files.pop(folder, None)
        queue.save_wiring(self._store, self._job, folder, event)
