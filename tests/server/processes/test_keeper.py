"""The keeper of a queue: it restarts a worker that dies, and tells a crash from the server's own stop."""

from __future__ import annotations

import os
import threading
import time

import pytest

from server.processes import keeper as keeper_module
from server.processes.child import Work
from server.processes.keeper import Keeper
from server.processes.parent import Parent

WITHIN_S = 30.0


class Queue(Keeper):
    """Waits until its worker has been interrupted `most` times, and notes how."""

    def __init__(self, function: str, most: int) -> None:
        super().__init__("test", Work(f"{__name__}:{function}"))
        self.died: list[bool] = []
        self.looked, self.empty = threading.Event(), threading.Event()
        self._most = most

    def waiting(self) -> bool:
        self.looked.set()
        if len(self.died) >= self._most:
            self.empty.set()
        return len(self.died) < self._most

    def interrupted(self, *, died: bool) -> None:
        self.died.append(died)


def crash(parent: Parent) -> None:
    """Runs in the child: ends at once, with a status."""
    os._exit(3)


def sleep(parent: Parent) -> None:
    """Runs in the child, until it is ended."""
    time.sleep(3600.0)


def test_a_worker_that_dies_is_reported_each_time_and_started_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeper_module, "PAUSE_S", 0.0)
    queue = Queue("crash", 2)
    queue.start()
    try:
        assert queue.empty.wait(WITHIN_S)
    finally:
        queue.stop()
    assert queue.died == [True, True]


def test_a_worker_that_the_server_stops_has_not_died() -> None:
    queue = Queue("sleep", 1)
    queue.start()
    try:
        assert queue.looked.wait(WITHIN_S)
    finally:
        queue.stop()
    assert queue.died == [False]
