"""The process that makes listings, one after the other, behind everything else on the machine.

Its standard input is a pipe that the server holds open and never writes to: when the server goes,
however it goes, the pipe ends and this process with it. Nothing is lost by that: files come into
their places whole, and the record of each listing's folder tells what is finished.
"""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import sys
import threading
import time
from pathlib import Path
from typing import Any

NICENESS = 19
"""The last of all: the live page's filters never wait for a listing."""
LOOK_EVERY_S = 0.2
TELL_EVERY_S = 0.5
PAUSE_S = 0.5
log = logging.getLogger("presolder")


def main(data: str, *places: str) -> None:
    """Make every listing that waits, then end.

    Parameters
    ----------
    data : str
        Folder of the database.
    *places : str
        In which takes are looked for.
    """
    threading.Thread(target=_end_with_the_server, daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C in a terminal is for the server, which ends this
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    from server.database.store import Store
    from server.files.lock import sole_worker
    from server.listings.files import listings_folder
    from server.takes.library import Library

    store = Store(Path(data))
    library = Library(store, [Path(place) for place in places])
    while True:
        with sole_worker(listings_folder(store.folder)) as alone:
            if alone:
                work_off(store, library)
                return
        time.sleep(PAUSE_S)  # a server before this one, or beside it, has a worker still


def _end_with_the_server() -> None:
    with contextlib.suppress(OSError):
        while os.read(sys.stdin.fileno(), 1):
            pass
    os._exit(1)


def work_off(store: Any, library: Any) -> None:
    """Make every listing that waits, as the only worker."""
    from server.listings import queue as listing_turns

    listing_turns.note_interrupted(store, died=False)
    while (job := listing_turns.claim(store)) is not None:
        make(store, library, job)


def make(store: Any, library: Any, job: str) -> None:
    """Make one listing, and note what came of it."""
    from dsp.errors import InputError
    from server.listings.making.run import Cancelled
    from server.listings.queue import end
    from server.listings.store import CANCELLED, FAILED

    try:
        state, report = _made(store, library, job)
        end(store, job, state, report)
    except Cancelled:
        end(store, job, CANCELLED, {})
    except InputError as error:
        end(store, job, FAILED, {"problems": [str(one) for one in error.problems]})
    except Exception:
        log.exception("making a listing")
        end(store, job, FAILED, {"problems": ["an error of the program's own; its log says more"]})


def _made(store: Any, library: Any, job: str) -> tuple[str, dict[str, Any]]:
    from server.listings import store as jobs
    from server.listings.making.engines import Pool
    from server.listings.making.run import run_listing
    from server.listings.order_plan import plan_of

    stopped = _Wish(store, job)
    plan = plan_of(job, jobs.asked_of(store, job), library, stopped=stopped)
    engine, teller = Pool(spare_cores()), _Teller(store, job)
    try:
        found = run_listing(plan, engine, told=teller, cancelled=stopped)
    finally:
        engine.close()
        teller.flush()
    whole_loss = len(found.failed) == len(found.instruments)
    report = {
        "summary": found.summary(),
        "failed": len(found.failed),
        "problems": [],
        "seconds": round(found.seconds, 3),
        "elapsed_s": round(found.elapsed_s, 3),
    }
    return jobs.FAILED if whole_loss else jobs.DONE, report


def spare_cores() -> int:
    """Processes that make clips: a core is left to the page and its browser."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, cores - 1)


class _Wish:
    """Whether a listing is to be ended, looked at now and then."""

    def __init__(self, store: Any, job: str) -> None:
        self._store, self._job = store, job
        self._seen_s, self._is = 0.0, False

    def __call__(self) -> bool:
        from server.listings.queue import wished

        if not self._is and time.monotonic() - self._seen_s >= LOOK_EVERY_S:
            self._seen_s, self._is = time.monotonic(), wished(self._store, self._job)
        return self._is


class _Teller:
    """Notes the events of a run in the database, progress not too often."""

    def __init__(self, store: Any, job: str) -> None:
        self._store, self._job = store, job
        self._told_s = 0.0
        self._about: dict[str, Any] | None = None
        self._files: dict[str, int] = {}

    def __call__(self, event: dict[str, Any]) -> None:
        if event["event"] == "progress":
            self._progress(event)
        elif event["event"] == "instrument":
            self._instrument(event)

    def _progress(self, event: dict[str, Any]) -> None:
        self._files[event["instrument"]] = event["files_done"]
        self._about = {key: event[key] for key in ("share", "times_real_time", "remaining_s")}
        if time.monotonic() - self._told_s >= TELL_EVERY_S:
            self.flush()

    def flush(self) -> None:
        """Note what has not been noted yet."""
        from server.listings import queue as listing_turns

        if self._about is not None:
            self._told_s = time.monotonic()
            listing_turns.progress(self._store, self._job, self._about, self._files)
            self._about, self._files = None, {}

    def _instrument(self, event: dict[str, Any]) -> None:
        from server.listings import queue as listing_turns

        folder = event["instrument"] or event["name"]  # one that could not be planned has no folder
        self._files.pop(folder, None)
        listing_turns.note_wiring(self._store, self._job, folder, event)
