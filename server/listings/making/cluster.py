"""Run jobs on a Dask cluster: a running one, or one started on this machine.

This needs the optional dependency ``presolder[dask]``. The scheduler runs a lost worker's jobs again on
another; a job is pure, so that changes nothing. Workers need the same version of Presolder and its
libraries, but no common disk: takes go out with the jobs, files come back with the results.
"""

from __future__ import annotations

import contextlib
import itertools
import queue
from collections.abc import Hashable
from typing import Any

from dsp.errors import InputError
from server.listings.making import keys
from server.listings.making.engines import LOST, MOST_TRIES
from server.listings.making.jobs import Job, Result, run_job
from server.processes.child import ONE_THREAD

LOCAL = "local"
CONNECT_S = 20.0
ALLOWED = f"'{LOCAL}', or the address of a scheduler, such as tcp://192.0.2.1:8786"
LARGE = "4 GiB"
"""Dask warns of jobs beyond 10 MiB unless told otherwise; takes are often larger."""


class Cluster:
    """Runs jobs on the workers of a Dask scheduler.

    Parameters
    ----------
    address : str
        Address of the scheduler, or ``local`` for workers of our own on this machine.
    n_workers : int
        Workers of a local cluster.

    Raises
    ------
    InputError
        If Dask is not installed, or no scheduler answers at the address.
    """

    shares_disk = False

    def __init__(self, address: str, n_workers: int) -> None:
        try:
            import dask
            import distributed
        except ImportError as error:
            got, allowed = "no Dask here", "pip install 'presolder[dask]'"
            raise InputError("--cluster", got, allowed) from error
        self._numbers = itertools.count()
        self._ended: queue.Queue[tuple[Hashable, Any]] = queue.Queue()
        self._going: dict[Hashable, Any] = {}
        self._lost: tuple[type[Exception], ...] = (distributed.KilledWorker,)
        dask.config.set({
            "distributed.admin.large-graph-warning-threshold": LARGE,
            "distributed.scheduler.allowed-failures": MOST_TRIES,
            "distributed.nanny.pre-spawn-environ": {**ONE_THREAD, "MALLOC_TRIM_THRESHOLD_": 65536},
        })  # fmt: skip
        with contextlib.ExitStack() as stack:
            if address == LOCAL:
                start: Any = distributed.LocalCluster  # Dask's calls carry no types
                started = start(
                    n_workers=n_workers, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0"
                )
                self._local = stack.enter_context(contextlib.closing(started))
                self._client = self._connected(self._local)
            else:
                self._client = self._connected(address)
            stack.enter_context(contextlib.closing(self._client))
            self._stack = stack.pop_all()

    def _connected(self, target: Any) -> Any:
        import distributed

        client: Any = distributed.Client
        try:
            return client(target, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            raise InputError("--cluster", f"'{target}': {error}", ALLOWED) from error

    @property
    def width(self) -> int:
        """Threads of all present workers; at least 1, as some may come later."""
        threads: dict[str, int] = self._client.nthreads()
        return max(sum(threads.values()), 1)

    def submit(self, name: Hashable, job: Job) -> None:
        """Queue a job."""
        key = f"presolder-{next(self._numbers)}-{id(self)}"
        future = self._client.submit(run_job, job, keys.method(), key=key, pure=False)
        self._going[name] = future
        future.add_done_callback(lambda done: self._ended.put((name, done)))

    def next(self, timeout_s: float) -> tuple[Hashable, Result] | None:
        """Return a job that has ended, or None after a timeout.

        Raises
        ------
        InputError
            If the scheduler is gone.
        """
        try:
            name, future = self._ended.get(timeout=timeout_s)
        except queue.Empty:
            if self._client.status in ("closed", "closing"):
                raise InputError("--cluster", "a scheduler that is gone", "run again: it goes on") from None
            return None
        self._going.pop(name, None)
        if future.cancelled():
            raise InputError("--cluster", "a scheduler that gave the jobs up", "run again: it goes on")
        try:
            found: Result = future.result()
        except self._lost:
            return name, LOST
        finally:
            future.release()
        return name, found

    def close(self) -> None:
        """Cancel running jobs, and end our own workers."""
        with contextlib.suppress(Exception):
            self._client.cancel(list(self._going.values()), force=True)
        self._stack.close()
