"""Keeps one process at the queue of listings while anything waits in it; see `listing_worker`."""

from __future__ import annotations

import contextlib
import logging
import os
import subprocess
import sys
import threading

from dsp.errors import InputError
from server.paths import PACKAGES
from server.settings import Settings
from server.storage import listing_turns
from server.storage.database import Store
from server.storage.listing_files import the_only_worker

START = "import sys; from server.jobs.listing_worker import main; main(*sys.argv[1:])"
PAUSE_S = 1.0
"""After a worker that died, before the next one."""
LOOK_EVERY_S = 0.1
ENDS_WITHIN_S = 5.0
log = logging.getLogger("presolder")


class ListingQueue:
    """Starts the process that makes listings, and ends it with the server.

    Parameters
    ----------
    settings : Settings
    store : Store
    """

    def __init__(self, settings: Settings, store: Store) -> None:
        self._settings, self._store = settings, store
        self._wake, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="listings", daemon=True)

    def start(self) -> None:
        """Go on with what was interrupted, then wait for more."""
        self._wake.set()
        self._thread.start()

    def wake(self) -> None:
        """Say that something has been queued."""
        self._wake.set()

    def stop(self) -> None:
        """End the process; the next server goes on where it stood."""
        self._stop.set()
        self._wake.set()
        self._thread.join(timeout=2 * ENDS_WITHIN_S)

    def _run(self) -> None:
        while not self._stop.is_set():
            self._wake.wait()
            self._wake.clear()
            try:
                while not self._stop.is_set() and listing_turns.waiting(self._store):
                    self._one_process()
            except (InputError, OSError):
                log.exception("looking at the queue of listings")
                self._stop.wait(PAUSE_S)
                self._wake.set()

    def _one_process(self) -> None:
        process = self._started()
        try:
            while process.poll() is None and not self._stop.wait(LOOK_EVERY_S):
                pass
        finally:
            _end(process)
        if self._stop.is_set():
            self._note_interrupted(died=False)
        elif process.returncode != 0:
            log.warning("the process that makes listings ended with %s", process.returncode)
            self._note_interrupted(died=True)
            self._stop.wait(PAUSE_S)

    def _started(self) -> subprocess.Popen[bytes]:
        environment = {**os.environ, "PYTHONPATH": str(PACKAGES), "OPENBLAS_NUM_THREADS": "1"}
        command = [sys.executable, "-P", "-c", START, str(self._settings.data.resolve())]
        command += [str(place.resolve()) for place in self._settings.places]
        return subprocess.Popen(
            command, env=environment, stdin=subprocess.PIPE, start_new_session=True
        )  # a session of its own: what a terminal sends is for the server

    def _note_interrupted(self, *, died: bool) -> None:
        """What was at work is no more, unless another server's worker is at it."""
        with the_only_worker(self._settings.data) as alone:
            if alone:
                listing_turns.note_interrupted(self._store, died=died)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Let go of a process, and see that it ends: its standard input is what it lives by."""
    if process.stdin is not None:
        with contextlib.suppress(OSError):
            process.stdin.close()
    try:
        process.wait(ENDS_WITHIN_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
