"""A process beside this one that does one thing after the other.

Beside the server it has a low priority, so that what it does disturbs neither the live answers nor the
sound. It is started when it is first needed, and again after it has died. Its pipe is its own: one that
dies, in the middle of its answer too, ends its pipe and holds nothing up.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import threading
from collections.abc import Callable, Iterator, Mapping
from multiprocessing import connection
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from dsp.errors import InputError, Problem
from server.refusals import Unavailable

NICENESS = 10
"""Of the process; the player's and the live answers come first."""
FAILURES = (EOFError, OSError, pickle.PicklingError, TypeError, AttributeError)
"""Of a process that dies, a pipe that breaks, or a thing that cannot be sent."""


NO_VARIABLES: Mapping[str, str] = {}
_ONE_AT_A_TIME = threading.Lock()


class SideProcess:
    """Calls functions in a process of their own, one after the other.

    Parameters
    ----------
    name : str
    niceness : int
        0 for the priority of the process that asks.
    environment : mapping of str to str
        Variables that it is started with, besides this process's own.
    """

    def __init__(
        self, name: str, *, niceness: int = NICENESS, environment: Mapping[str, str] = NO_VARIABLES
    ) -> None:
        self._name, self._niceness, self._environment = name, niceness, environment
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
    def number(self) -> int | None:
        """Of the process, while there is one."""
        process = self._process
        return None if process is None else process.pid

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
            pipe, theirs = spawning.Pipe()
            process = spawning.Process(
                target=_work, args=(theirs, self._niceness), name=self._name, daemon=True
            )
            with _variables(self._environment):
                process.start()
            theirs.close()  # so that the pipe ends with the process
            self._process, self._pipe = process, pipe
            if self._closed:  # meanwhile
                raise EOFError
        return self._pipe

    def _stop(self) -> None:
        process, self._process = self._process, None
        pipe, self._pipe = self._pipe, None
        if process is not None:
            process.kill()  # first: whoever waits at the pipe then reads its end
            process.join()
        if pipe is not None:
            pipe.close()


@contextlib.contextmanager
def _variables(values: Mapping[str, str]) -> Iterator[None]:
    """Variables set for what is started within the block, one block at a time."""
    with _ONE_AT_A_TIME:
        before = {name: os.environ.get(name) for name in values}
        os.environ.update(values)
        try:
            yield
        finally:
            for name, value in before.items():
                if value is None:
                    os.environ.pop(name, None)
                else:
                    os.environ[name] = value


def _work(pipe: Connection, niceness: int) -> None:
    """What the process does: whatever comes, until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for who asks, which ends this too
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()
    with contextlib.suppress(OSError):
        os.nice(niceness)
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


def _end_with(sentinel: int) -> None:
    """End in the middle of whatever it is when the process that asked has ended, even if it was killed."""
    connection.wait([sentinel])
    os._exit(1)
