"""What runs jobs: this process, or a pool of processes on this machine.

An engine takes jobs and gives their results back in whatever order they end; the jobs being pure,
the results are the same whichever engine ran them. A job whose worker was lost is run again.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections import deque
from collections.abc import Hashable
from typing import Protocol

from dsp.errors import Problem
from server.listings.making import keys
from server.listings.making.jobs import Job, Result, run_job
from server.processes.child import ONE_THREAD
from server.processes.helper import Helper
from server.refusals import Unavailable

MOST_TRIES = 3
"""Times a job is run whose worker was lost: one that kills its worker must not go on for ever."""
LOST = Result(
    problems=(
        Problem(
            "worker", f"lost {MOST_TRIES} times at this job", "a job that fits this machine", "out of memory?"
        ),
    )
)


class Engine(Protocol):
    """Runs jobs; see the module.

    Attributes
    ----------
    shares_disk : bool
        Whether its workers see this machine's files.
    """

    shares_disk: bool

    @property
    def width(self) -> int:
        """Jobs that run at once; may change from one moment to the next."""
        ...

    def submit(self, name: Hashable, work: Job) -> None:
        """Take a job."""
        ...

    def next(self, timeout_s: float) -> tuple[Hashable, Result] | None:
        """A job that has ended, or None after a while, s."""
        ...

    def close(self) -> None:
        """End the workers; jobs not ended are given up."""
        ...


class InProcess:
    """Runs jobs here, one at a time, when a result is asked for."""

    shares_disk = True
    width = 1

    def __init__(self) -> None:
        self._waiting: deque[tuple[Hashable, Job]] = deque()

    def submit(self, name: Hashable, work: Job) -> None:
        """Take a job."""
        self._waiting.append((name, work))

    def next(self, timeout_s: float) -> tuple[Hashable, Result] | None:
        """The next job's result, however long it takes: the time, s, is unused."""
        if not self._waiting:
            return None
        name, work = self._waiting.popleft()
        return name, run_job(work, keys.method())

    def close(self) -> None:
        """Give up what waits."""
        self._waiting.clear()


class Pool:
    """Runs jobs in processes of this machine.

    Each process has a thread here of its own, which waits for that one alone. So a process that
    dies costs its own job nothing but another try.
    """

    shares_disk = True

    def __init__(self, n_workers: int) -> None:
        self.width = n_workers
        self._jobs: queue.SimpleQueue[tuple[Hashable, Job] | None] = queue.SimpleQueue()
        self._ended: queue.SimpleQueue[tuple[Hashable, Result | Exception]] = queue.SimpleQueue()
        self._helpers = [Helper(f"clips {i + 1}", niceness=0, variables=ONE_THREAD) for i in range(n_workers)]
        self._threads = [
            threading.Thread(target=self._serve, args=(helper,), daemon=True) for helper in self._helpers
        ]
        for thread in self._threads:
            thread.start()

    def processes(self) -> list[int]:
        """Numbers of the worker processes."""
        return [pid for helper in self._helpers if (pid := helper.pid) is not None]

    def submit(self, name: Hashable, work: Job) -> None:
        """Take a job."""
        self._jobs.put((name, work))

    def _serve(self, helper: Helper) -> None:
        """Give one process job after job."""
        while (job := self._jobs.get()) is not None and not helper.closed:
            name, work = job
            try:
                self._ended.put((name, _run_again_if_lost(helper, work)))
            except Exception as error:
                self._ended.put((name, error))

    def next(self, timeout_s: float) -> tuple[Hashable, Result] | None:
        """A job that has ended, or None after a while, s.

        Raises
        ------
        Exception
            What a slip in the engine's own work raises; jobs tell theirs in their results.
        """
        try:
            name, result = self._ended.get(timeout=timeout_s)
        except queue.Empty:
            return None
        if isinstance(result, Exception):
            raise result
        return name, result

    def close(self) -> None:
        """End the workers at once: what they write lies in the scratch folder."""
        for helper in self._helpers:
            helper.close()
        for _ in self._threads:
            self._jobs.put(None)
        for thread in self._threads:
            thread.join()


def _run_again_if_lost(helper: Helper, work: Job) -> Result:
    """A job's result; run again where its process is lost."""
    for _ in range(MOST_TRIES):
        with contextlib.suppress(Unavailable):
            result: Result = helper.call(run_job, work, keys.method())
            return result
        if helper.closed:
            break
    return LOST
