"""A thread of the server that keeps one worker process at a queue while anything waits in it."""

from __future__ import annotations

import logging
import threading
from abc import ABC, abstractmethod

from dsp.errors import InputError
from server.processes.child import Child, Work

PAUSE_S = 1.0
"""After a worker that died, before the next one."""
LOOK_EVERY_S = 0.1
ENDS_WITHIN_S = 5.0
log = logging.getLogger("presolder")


class Keeper(ABC):
    """Starts a worker whenever something waits, and ends it with the server.

    Parameters
    ----------
    name : str
        Of what is in the queue.
    *arguments : str
        Of the work.
    """

    def __init__(self, name: str, work: Work, *arguments: str) -> None:
        self._name, self._work, self._arguments = name, work, arguments
        self._wake, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    @abstractmethod
    def waiting(self) -> bool:
        """Whether anything waits."""

    @abstractmethod
    def interrupted(self, *, died: bool) -> None:
        """Note that the worker has ended in the middle of its work.

        Parameters
        ----------
        died : bool
            Whether it ended by itself, not because the server stops.
        """

    def start(self) -> None:
        """Go on with what an earlier run left behind, then wait for more."""
        self._wake.set()
        self._thread.start()

    def wake(self) -> None:
        """Say that something has been queued."""
        self._wake.set()

    def stop(self) -> None:
        """End the worker; the next server goes on from there."""
        self._stop.set()
        self._wake.set()
        self._thread.join(timeout=2 * ENDS_WITHIN_S)

    def _run(self) -> None:
        while not self._stop.is_set():
            self._wake.wait()
            self._wake.clear()
            try:
                while not self._stop.is_set() and self.waiting():
                    self._run_worker()
            except (InputError, OSError):
                log.exception("looking at the queue of %s", self._name)
                self._stop.wait(PAUSE_S)
                self._wake.set()

    def _run_worker(self) -> None:
        """Run one worker until it ends or the server stops."""
        child = Child.start(self._work, *self._arguments)
        try:
            while child.running and not self._stop.wait(LOOK_EVERY_S):
                pass
        finally:
            status = child.end(ENDS_WITHIN_S)
        if self._stop.is_set():
            self.interrupted(died=False)
        elif status:
            log.warning("the process at the queue of %s ended with %s", self._name, status)
            self.interrupted(died=True)
            self._stop.wait(PAUSE_S)
