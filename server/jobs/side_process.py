"""A process beside the server that does one thing after the other, at a low priority.

What it does disturbs neither the live answers nor the sound. It is started when it is first
needed, and again after it has died.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from dsp.errors import InputError, Problem
from server.refusals import Unavailable

NICENESS = 10
"""Of the process; the player's and the live answers come first."""
FAILURES = (EOFError, OSError, pickle.PicklingError, TypeError, AttributeError)
"""Of a process that dies, a pipe that breaks, or a thing that cannot be sent."""


class SideProcess:
    """Calls functions in a process of their own, one after the other.

    Parameters
    ----------
    name : str
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self._lock = threading.Lock()
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._closed = False

    def call(self, function: Callable[..., Any], *arguments: Any) -> Any:
        """What a function returns there.

        Parameters
        ----------
        function : callable
            Of a module's own, so that the process finds it.
        *arguments

        Raises
        ------
        InputError
            As the function does.
        Unavailable
            If the process cannot be started or dies, or the server stops meanwhile.
        """
        with self._lock:
            try:
                pipe = self._started()
                pipe.send((function, arguments))
                problems, result = pipe.recv()
            except FAILURES as error:
                self._stop()
                got = "the server is stopping" if self._closed else "the process at work ended"
                raise Unavailable(self._name, got, "try again; nothing was changed") from error
        if problems:
            raise InputError.of(problems)
        return result

    @property
    def closed(self) -> bool:
        """Whether the server is stopping."""
        return self._closed

    def close(self) -> None:
        """End the process, whatever it does."""
        self._closed = True
        self._stop()

    def _started(self) -> Connection:
        if self._closed:
            raise EOFError
        if self._pipe is None or self._process is None or not self._process.is_alive():
            self._stop()
            spawning = multiprocessing.get_context("spawn")  # a fork would copy threads' locks, held
            self._pipe, theirs = spawning.Pipe()
            self._process = spawning.Process(target=_work, args=(theirs,), name=self._name, daemon=True)
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


def _work(pipe: Connection) -> None:
    """What the process does: whatever comes, until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which ends this too
    with contextlib.suppress(OSError):
        os.nice(NICENESS)
    while True:
        try:
            function, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        answer: tuple[tuple[Problem, ...], Any]
        try:
            answer = (), function(*arguments)
        except InputError as error:
            answer = error.problems, None
        pipe.send(answer)
