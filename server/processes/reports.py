"""A child process that does one task and reports on it all the while."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Any, NamedTuple

from server.processes.child import Child, Work
from server.processes.parent import Parent

Report = Callable[..., None]
"""Report a result under a name. A later report with that name replaces it."""
LEFT = "left_s"
"""Name under which a task reports the time that it still needs, s."""


class Update(NamedTuple):
    """What one report adds.

    Attributes
    ----------
    texts : dict of str to str
        Large values as JSON, which this process does not read.
    """

    values: dict[str, Any]
    texts: dict[str, str]


class Reports:
    """Runs one task in a child.

    Parameters
    ----------
    work : Work
        Its function reads the task with `read_task` and reports with `reporter`.
    grace_s : float
        Beyond the time that the task was given; it is meant to end by itself.

    Raises
    ------
    Unavailable
        If the child cannot start.
    """

    def __init__(self, work: Work, *, grace_s: float) -> None:
        self._grace_s = grace_s
        self._child = Child.start(work)

    def ask(self, task: Mapping[str, Any], limit_s: float) -> Iterator[Update]:
        """Hand the task over and wait for its reports, until the child ends.

        Parameters
        ----------
        task : mapping
            As JSON.
        limit_s : float
            After which the child is ended. Each ``left_s`` that it reports counts anew.

        Raises
        ------
        OSError
            If the child is gone before its task.
        """
        self._child.allow(limit_s + self._grace_s)
        self._child.send(_to_json(task).encode())
        for frame in self._child.frames():
            update = read_update(frame)
            left_s = update.values.pop(LEFT, None)
            yield update
            if left_s is not None:
                self._child.allow(left_s + self._grace_s)

    @property
    def pid(self) -> int:
        """Number of the child."""
        return self._child.pid

    @property
    def late(self) -> bool:
        """Whether the child was ended because its time was over."""
        return self._child.late

    def kill(self) -> None:
        """End the child at once, from any thread."""
        self._child.kill()

    def end(self) -> int:
        """End the child, if it has not ended, and return its exit status."""
        return self._child.end()


def read_task(parent: Parent) -> dict[str, Any]:
    """The task that the parent sends."""
    task: dict[str, Any] = json.loads(next(parent.frames()))
    return task


def reporter(parent: Parent, large: Collection[str]) -> Report:
    """What sends reports to the parent.

    Parameters
    ----------
    large : collection of str
        Names of values that the parent passes on unread.
    """

    def report(**values: Any) -> None:
        texts = {name: values.pop(name) for name in large if name in values}
        lines = [_to_json(values), *(f"{name} {_to_json(value)}" for name, value in texts.items())]
        parent.send("\n".join(lines).encode())

    return report


def _to_json(value: Any) -> str:
    """JSON in one line."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def read_update(frame: bytes) -> Update:
    """Read a frame of `reporter`.

    Its first line holds the small values; each large one has a line of its own.
    """
    values, *large = frame.decode().split("\n")
    return Update(json.loads(values), dict(line.split(" ", 1) for line in large))
