"""What runs jobs: this process, or a pool of processes on this machine.

An engine takes jobs and gives their results back in whatever order they end; the jobs being pure,
the results are the same whichever engine ran them. A job whose worker was lost is run again.
"""

from __future__ import annotations

import multiprocessing
import os
import queue
import signal
import threading
from collections import deque
from collections.abc import Hashable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import connection
from typing import Protocol

from dsp.errors import Problem
from server.jobs.listing import keys
from server.jobs.listing.work import Result, Work, run_job

MOST_TRIES = 3
"""Times a job is run whose worker was lost: one that kills its worker must not go on for ever."""
LOST = Result(
    problems=(
        Problem(
            "worker", f"lost {MOST_TRIES} times at this job", "a job that fits this machine", "out of memory?"
        ),
    )
)
WORKER_ENVIRONMENT = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


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

    def submit(self, name: Hashable, work: Work) -> None:
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
        self._waiting: deque[tuple[Hashable, Work]] = deque()

    def submit(self, name: Hashable, work: Work) -> None:
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

    Parameters
    ----------
    n_workers : int
    """

    shares_disk = True

    def __init__(self, n_workers: int) -> None:
        self.width = n_workers
        self._ended: queue.Queue[tuple[Hashable, Future[Result]]] = queue.Queue()
        self._going: dict[Hashable, tuple[Work, int]] = {}
        self._pool = self._started()

    def _started(self) -> ProcessPoolExecutor:
        with _environment(WORKER_ENVIRONMENT):
            pool = ProcessPoolExecutor(
                self.width, mp_context=multiprocessing.get_context("spawn"), initializer=_as_worker
            )
            # All are started now, while the environment holds.
            for _ in range(self.width):
                pool.submit(os.getpid)
        return pool

    def processes(self) -> list[int]:
        """Numbers of the worker processes."""
        return list(self._pool._processes or {})

    def submit(self, name: Hashable, work: Work) -> None:
        """Take a job."""
        self._submit(name, work, 1)

    def _submit(self, name: Hashable, work: Work, tries: int) -> None:
        self._going[name] = (work, tries)
        try:
            future = self._pool.submit(run_job, work, keys.method())
        except BrokenProcessPool:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = self._started()
            future = self._pool.submit(run_job, work, keys.method())
        future.add_done_callback(lambda done: self._ended.put((name, done)))

    def next(self, timeout_s: float) -> tuple[Hashable, Result] | None:
        """A job that has ended, or None after a while, s; lost ones run again.

        Raises
        ------
        Exception
            What a slip in the engine's own work raises; jobs tell theirs in their results.
        """
        try:
            name, future = self._ended.get(timeout=timeout_s)
        except queue.Empty:
            return None
        work, tries = self._going.pop(name)
        error = future.exception()
        if error is None:
            return name, future.result()
        if not isinstance(error, BrokenProcessPool):
            raise error
        if tries >= MOST_TRIES:
            return name, LOST
        self._submit(name, work, tries + 1)
        return None

    def close(self) -> None:
        """End the workers at once: what they write lies in the scratch folder."""
        for process in list((self._pool._processes or {}).values()):
            process.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)


class _environment:
    """Variables set for the processes started within the block."""

    def __init__(self, values: dict[str, str]) -> None:
        self._values = values
        self._before: dict[str, str | None] = {}

    def __enter__(self) -> None:
        self._before = {name: os.environ.get(name) for name in self._values}
        os.environ.update(self._values)

    def __exit__(self, *_: object) -> None:
        for name, value in self._before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _as_worker() -> None:
    """Leave interrupts to the run; end when it does, even if it was killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)
