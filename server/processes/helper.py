"""A helper process: it calls functions, one after the other.

Beside the server it has a low priority, so that it disturbs neither the live answers nor the
sound. It starts at the first call, and again at the next call after it has died.
"""

from __future__ import annotations

import pickle
import threading
from collections.abc import Callable, Mapping
from typing import Any

from dsp.errors import InputError, Problem
from server.processes.child import Child, Work
from server.processes.parent import Parent
from server.refusals import TooSlow, Unavailable

NICENESS = 10
"""Of a helper; the player and the live answers come first."""
NO_VARIABLES: Mapping[str, str] = {}
FAILURES = (EOFError, OSError, Unavailable, pickle.PicklingError, TypeError, AttributeError)
"""Raised when the process cannot start or dies, its pipe breaks, or an argument cannot be sent."""


class Helper:
    """Calls functions in a process of their own.

    Parameters
    ----------
    name : str
        What refusals name.
    niceness : int
        0 for the priority of this process.
    variables : mapping of str to str
        Environment variables beside this process's own.
    """

    def __init__(
        self, name: str, *, niceness: int = NICENESS, variables: Mapping[str, str] = NO_VARIABLES
    ) -> None:
        self._name = name
        self._work = Work(f"{__name__}:serve", niceness, variables)
        self._lock, self._guard = threading.Lock(), threading.Lock()
        self._child: Child | None = None
        self._closed = False

    def call(self, function: Callable[..., Any], *arguments: Any, longest_s: float | None = None) -> Any:
        """Call a function there and return what it returns.

        Parameters
        ----------
        function : callable
            Of a module, which the process imports.
        longest_s : float or None
            After which the process is ended, and another starts at the next call.

        Raises
        ------
        InputError
            As the function does.
        TooSlow
            If it takes longer.
        Unavailable
            If the process cannot start or dies, or `close` is called meanwhile.
        """
        with self._lock:
            try:
                child = self._running_child()
                child.allow(longest_s)
                child.send(pickle.dumps((function, arguments)))
                answer = next(child.frames(), None)
                child.allow(None)
                if answer is None:
                    raise self._no_answer(child, longest_s)
                problems, result = pickle.loads(answer)
            except TooSlow:
                self._end()
                raise
            except FAILURES as error:
                self._end()
                got = "the server is stopping" if self._closed else "the process at work ended"
                raise Unavailable(self._name, got, "try again; nothing was changed") from error
        if problems:
            raise InputError.of(problems)
        return result

    @property
    def pid(self) -> int | None:
        """Number of the process, while there is one."""
        child = self._child
        return None if child is None else child.pid

    @property
    def closed(self) -> bool:
        """Whether `close` was called."""
        return self._closed

    def close(self) -> None:
        """End the process, whatever it does, for good."""
        self._closed = True
        self._end()

    def _no_answer(self, child: Child, longest_s: float | None) -> Exception:
        """Return why a child sends nothing."""
        if child.late and longest_s is not None:
            return TooSlow(self._name, f"no answer within {longest_s:g} s", "less work at a time")
        return EOFError()

    def _running_child(self) -> Child:
        with self._guard:
            if self._closed:
                raise EOFError
            if self._child is None or not self._child.running:
                if self._child is not None:
                    self._child.end()
                self._child = Child.start(self._work)
            return self._child

    def _end(self) -> None:
        with self._guard:
            child, self._child = self._child, None
            if child is not None:
                child.end()


def serve(parent: Parent) -> None:
    """Call whatever functions come, until the parent ends this process."""
    for frame in parent.frames():
        function, arguments = pickle.loads(frame)
        answer: tuple[tuple[Problem, ...], Any]
        try:
            answer = (), function(*arguments)
        except InputError as error:
            answer = error.problems, None
        parent.send(pickle.dumps(answer))
