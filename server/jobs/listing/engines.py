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
from multiprocessing import connection
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
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

    Each process has a pipe and a thread here of its own, which waits for that one alone. So a
    process that dies, in the middle of its answer too, ends its own pipe, and costs its own job
    nothing but another try; with one pipe for all, half an answer is waited for without end.

    Parameters
    ----------
    n_workers : int
    """

    shares_disk = True

    def __init__(self, n_workers: int) -> None:
        self.width = n_workers
        self._jobs: queue.SimpleQueue[tuple[Hashable, Work] | None] = queue.SimpleQueue()
        self._ended: queue.SimpleQueue[tuple[Hashable, Result | Exception]] = queue.SimpleQueue()
        self._places = [_Place() for _ in range(n_workers)]
        self._threads = [
            threading.Thread(target=self._serve, args=(place,), daemon=True) for place in self._places
        ]
        for thread in self._threads:
            thread.start()

    def processes(self) -> list[int]:
        """Numbers of the worker processes."""
        return [number for place in self._places if (number := place.number) is not None]

    def submit(self, name: Hashable, work: Work) -> None:
        """Take a job."""
        self._jobs.put((name, work))

    def _serve(self, place: _Place) -> None:
        """Give one process job after job."""
        while (job := self._jobs.get()) is not None and not place.closed:
            name, work = job
            try:
                self._ended.put((name, place.run(work)))
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
        for place in self._places:
            place.close()
        for _ in self._threads:
            self._jobs.put(None)
        for thread in self._threads:
            thread.join()
        for place in self._places:
            place.ended()


class _Place:
    """A process that runs jobs one at a time, and the next one where it is lost."""

    def __init__(self) -> None:
        self.closed = False
        self._lock = threading.Lock()
        self._process: SpawnProcess | None = None
        self._pipe: Connection | None = None

    @property
    def number(self) -> int | None:
        """Of the process, if there is one."""
        return self._process.pid if self._process is not None else None

    def run(self, work: Work) -> Result:
        """A job's result; run again where its process is lost."""
        for _ in range(MOST_TRIES):
            pipe = self._at_hand()
            if pipe is None:
                break
            try:
                pipe.send((work, keys.method()))
                result: Result = pipe.recv()
            except (EOFError, OSError):
                self.ended()
            else:
                return result
        return LOST

    def _at_hand(self) -> Connection | None:
        """The pipe to the process, which is started if there is none; None once closed."""
        with self._lock:
            if self._pipe is None and not self.closed:
                context = multiprocessing.get_context("spawn")
                self._pipe, theirs = context.Pipe()
                self._process = context.Process(target=_work, args=(theirs,), daemon=True)
                with _environment(WORKER_ENVIRONMENT):
                    self._process.start()
                theirs.close()  # so that the pipe ends with the process
            return self._pipe

    def close(self) -> None:
        """End the process, and start no other."""
        self.closed = True
        with self._lock:
            if self._process is not None:
                self._process.kill()

    def ended(self) -> None:
        """The process is gone, and with it its pipe."""
        with self._lock:
            if self._process is not None and self._pipe is not None:
                self._process.kill()
                self._process.join()
                self._pipe.close()
            self._process = self._pipe = None


class _environment:
    """Variables set for the processes started within the block, one block at a time."""

    _one_at_a_time = threading.Lock()

    def __init__(self, values: dict[str, str]) -> None:
        self._values = values
        self._before: dict[str, str | None] = {}

    def __enter__(self) -> None:
        self._one_at_a_time.acquire()
        self._before = {name: os.environ.get(name) for name in self._values}
        os.environ.update(self._values)

    def __exit__(self, *_: object) -> None:
        for name, value in self._before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
        self._one_at_a_time.release()


def _work(pipe: Connection) -> None:
    """What a worker process does: jobs, one after another, until its pipe ends."""
    _as_worker()
    while True:
        try:
            work, method = pipe.recv()
        except EOFError:
            return
        pipe.send(run_job(work, method))


def _as_worker() -> None:
    """Leave interrupts to the run; end when it does, even if it was killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)
