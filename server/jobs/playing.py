"""Scores played in a process of their own, so that what is heard meanwhile goes on undisturbed.

The process runs at a low priority and writes into the cache; whoever asked reads it there. It is
started when it is first needed. If it cannot be, or dies, the score is played where it was asked for.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import threading
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from dsp.errors import InputError
from dsp.wiring.model import Wiring
from server.refusals import Unavailable
from server.storage.cache import cache_folder
from server.storage.performance import Performance

NICENESS = 10
"""Of the process; the player's and the live answers come first."""
_FAILURES = (EOFError, OSError, pickle.PicklingError, TypeError, AttributeError)
"""Of a process that dies, a pipe that breaks, or a take that cannot be sent."""


class PlayingProcess:
    """One process that plays scores, one after the other."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._closed = False

    def prepare(self, performance: Performance, wiring: Wiring, rate_hz: int) -> None:
        """Have a score played into the cache, or nothing if that is no use.

        Parameters
        ----------
        performance : Performance
        wiring : Wiring
        rate_hz : int

        Raises
        ------
        Unavailable
            If the server stops meanwhile.
        """
        if performance.take.kind != "score" or cache_folder() is None:
            return
        with self._lock:
            try:
                pipe = self._started()
                pipe.send((performance, wiring, rate_hz))
                pipe.recv()
            except _FAILURES as error:
                self._stop()
                if self._closed:
                    raise Unavailable("the server", "it is stopping", "a server that runs") from error

    def close(self) -> None:
        """End the process, whatever it does."""
        self._closed = True
        self._stop()

    def _started(self) -> Connection:
        if self._pipe is None or self._process is None or not self._process.is_alive():
            self._stop()
            spawning = multiprocessing.get_context("spawn")
            self._pipe, theirs = spawning.Pipe()
            self._process = spawning.Process(target=_play, args=(theirs,), name="playing", daemon=True)
            self._process.start()
            theirs.close()
        return self._pipe

    def _stop(self) -> None:
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            self._process.terminate()
            self._process.join(1.0)
        self._process = self._pipe = None


def _play(pipe: Connection) -> None:
    """What the process does: plays what comes until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which ends this too
    with contextlib.suppress(OSError):
        os.nice(NICENESS)
    while True:
        try:
            performance, wiring, rate_hz = pipe.recv()
        except (EOFError, OSError):
            return
        with contextlib.suppress(InputError):  # whoever asked meets it again, and tells
            performance.prepare(wiring, rate_hz)
        pipe.send(None)
