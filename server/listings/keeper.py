"""Keeps one process at the queue of listings while anything waits in it; see `listing_worker`."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys

from server.database.store import Store
from server.files.lock import sole_worker
from server.listings import queue as listing_turns
from server.listings.files import listings_folder
from server.paths import PACKAGES
from server.processes.queue import ENDS_WITHIN_S, LOOK_EVERY_S, QueueKeeper
from server.settings import Settings

START = "import sys; from server.listings.work import main; main(*sys.argv[1:])"


class ListingQueue(QueueKeeper):
    """Starts the process that makes listings, and ends it with the server.

    Parameters
    ----------
    settings : Settings
    store : Store
    """

    def __init__(self, settings: Settings, store: Store) -> None:
        super().__init__("listings", settings, store)

    def _waiting(self) -> int:
        return listing_turns.waiting(self._store)

    def _one_process(self) -> int | None:
        process = self._started()
        try:
            while process.poll() is None and not self._stop.wait(LOOK_EVERY_S):
                pass
        finally:
            _end(process)
        if not self._stop.is_set():
            return process.returncode
        self._note_interrupted(died=False)
        return None

    def _died(self) -> None:
        self._note_interrupted(died=True)

    def _started(self) -> subprocess.Popen[bytes]:
        environment = {**os.environ, "PYTHONPATH": str(PACKAGES), "OPENBLAS_NUM_THREADS": "1"}
        command = [sys.executable, "-P", "-c", START, str(self._settings.data.resolve())]
        command += [str(place.resolve()) for place in self._settings.places]
        return subprocess.Popen(
            command, env=environment, stdin=subprocess.PIPE, start_new_session=True
        )  # a session of its own: what a terminal sends is for the server

    def _note_interrupted(self, *, died: bool) -> None:
        """What was at work is no more, unless another server's worker is at it."""
        with sole_worker(listings_folder(self._settings.data)) as alone:
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
