"""A thread of the server that keeps one worker process at a queue while anything waits in it."""

from __future__ import annotations

import logging
import threading
from abc import ABC, abstractmethod

from dsp.errors import InputError
from server.database.store import Store
from server.settings import Settings

PAUSE_S = 1.0
"""After a worker that died, before the next one."""
LOOK_EVERY_S = 0.1
ENDS_WITHIN_S = 5.0
log = logging.getLogger("presolder")


class QueueKeeper(ABC):
    """Starts a process whenever something waits, and ends it with the server.

    Parameters
    ----------
    name : str
        Of what is in the queue.
    settings : Settings
    store : Store
    """

    def __init__(self, name: str, settings: Settings, store: Store) -> None:
        self._name, self._settings, self._store = name, settings, store
        self._wake, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Go on with what a run before left behind, then wait for more."""
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

    @abstractmethod
    def _waiting(self) -> int:
        """How many wait."""

    @abstractmethod
    def _one_process(self) -> int | None:
        """Run a process until it ends or the server does; the status it ended with by itself."""

    def _died(self) -> None:  # noqa: B027 - most have nothing to note
        """A process has ended in the middle of its work."""

    def _run(self) -> None:
        while not self._stop.is_set():
            self._wake.wait()
            self._wake.clear()
            try:
                while not self._stop.is_set() and self._waiting():
                    if status := self._one_process():
                        log.warning("the process at the queue of %s ended with %s", self._name, status)
                        self._died()
                        self._stop.wait(PAUSE_S)
            except (InputError, OSError):
                log.exception("looking at the queue of %s", self._name)
                self._stop.wait(PAUSE_S)
                self._wake.set()
