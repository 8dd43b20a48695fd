"""Run a listing: every instrument's jobs through an engine, to whole files, a page and a report.

A run that ended early, for whatever reason, continues when it is run again: a job that the folder's
record holds and the disk confirms is not made again.
"""

from __future__ import annotations

import contextlib
import heapq
import itertools
import queue
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

from dsp.errors import InputError, Problem
from server.listings.making import report
from server.listings.making.engines import Engine
from server.listings.making.folder import FinishedJob, ListingStore, open_store
from server.listings.making.instrument import InstrumentResult, Steps, make_instrument
from server.listings.making.job_records import JobRecords, Task
from server.listings.making.jobs import EncodeJob, Result
from server.listings.making.page import index_page, write_instrument
from server.listings.making.plan import Instrument, ListingPlan
from server.listings.making.report import DONE, FAILED, InstrumentReport, Report, Tally

WAIT_S = 0.2
"""Wait for a result before checking again whether the run is cancelled."""
SOON_S = 0.01
"""The same wait while files are on their way to their places."""
WRITERS = 8
"""Threads that wait until the disk has a file; it takes many as fast as one."""
PER_WORKER = 2
"""Jobs handed over for each worker: one runs, the next is ready."""
AHEAD = 2
"""Instruments in work besides one for each worker; the volts of each are on the disk meanwhile."""
OnEvent = Callable[[dict[str, Any]], None]
"""Called with each event: a dict ready for JSON, its name under ``event``."""


class Cancelled(Exception):
    """The run was cancelled; what it has made stays."""


def run_listing(
    plan: ListingPlan,
    engine: Engine,
    *,
    on_event: OnEvent = lambda event: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Report:
    """Make everything of a listing that is not there yet.

    Parameters
    ----------
    engine : Engine
        Stays open.
    on_event : callable
        Called with the events ``start``, ``progress``, ``instrument`` and ``end``.
    cancelled : callable
        Called several times a second; True ends the run.

    Returns
    -------
    Report
        It names the instruments that failed; the others are whole.

    Raises
    ------
    InputError
        If the folder cannot be used, another run is at work on it, or the disk is full.
    Cancelled
        If `cancelled` said so.
    """
    with open_store(plan.out) as store, ThreadPoolExecutor(WRITERS) as threads:
        return _Run(plan, store, engine, on_event, cancelled, threads).run()


@dataclass
class _InstrumentRun:
    """An instrument in work."""

    number: int
    instrument: Instrument
    steps: Steps
    missing: int = 0
    results: list[FinishedJob | None] = field(default_factory=list)
    over: bool = False


class _Run:
    """One run; see `run_listing`."""

    def __init__(
        self,
        plan: ListingPlan,
        store: ListingStore,
        engine: Engine,
        on_event: OnEvent,
        cancelled: Callable[[], bool],
        threads: ThreadPoolExecutor,
    ) -> None:
        self.threads = threads
        self.placed: queue.Queue[tuple[_InstrumentRun, int, Task, Result, Future[FinishedJob]]] = (
            queue.Queue()
        )
        self.placing = 0
        self.plan, self.store, self.engine, self.on_event, self.cancelled = (
            plan,
            store,
            engine,
            on_event,
            cancelled,
        )
        self.records = JobRecords(plan.listing, store, shares_disk=engine.shares_disk)
        self.waiting = list(enumerate(plan.instruments))[::-1]
        self.running: dict[int, _InstrumentRun] = {}
        self.ready: list[tuple[int, int, int, Task]] = []  # instrument, order, place in its step
        self.flying: dict[int, tuple[_InstrumentRun, int, Task]] = {}
        self.order = itertools.count()
        self.reports: dict[int, InstrumentReport] = {}
        self.start_s = time.monotonic()
        n_formats = len(plan.listing.encodings)
        self.tally = Tally(plan.seconds * n_formats, n_formats, self.start_s)

    def run(self) -> Report:
        """Run from the first event to the last."""
        plan = self.plan
        self.on_event({
            "event": "start", "listing": plan.listing.name, "out": str(plan.out),
            "instruments": len(plan.instruments), "clips": plan.n_clips, "seconds": round(plan.seconds, 3),
            "unusable": len(plan.unusable),
        })  # fmt: skip
        for one in plan.unusable:
            self._report_instrument(_unusable(one.file, one.problems))
        while self.waiting or self.running:
            if self.cancelled():
                raise Cancelled
            self._fill()
            self._wait()
        return self._write_report()

    def _wait(self) -> None:
        """Take the next result, and the files that have reached their places, if any come soon."""
        soon = bool(self.placing)
        if self.flying and (got := self.engine.next(SOON_S if soon else WAIT_S)):
            self._take_result(*got)
        with contextlib.suppress(queue.Empty):
            while self.placing:
                self._record(*self.placed.get(timeout=0 if self.flying else WAIT_S))

    def _fill(self) -> None:
        """Hand jobs over until every worker has enough."""
        width = self.engine.width
        while len(self.flying) < PER_WORKER * width:
            if not self.ready and self.waiting and len(self.running) < width + AHEAD:
                number, instrument = self.waiting.pop()
                run = _InstrumentRun(number, instrument, make_instrument(instrument, self.records))
                self.running[number] = run
                self._advance(run, None)
            elif self.ready:
                number, _, place, task = heapq.heappop(self.ready)
                if number in self.running:
                    name = next(self.order)
                    self.flying[name] = (self.running[number], place, task)
                    self.engine.submit(name, task.job)
            else:
                return

    def _take_result(self, name: Any, result: Result) -> None:
        run, place, task = self.flying.pop(name)
        if result.fatal:
            raise InputError.of(result.problems)
        if run.over:
            return
        if result.problems:
            self._fail(run, result.problems)
            return
        self.placing += 1
        future = self.threads.submit(self.records.place_files, task, result)
        future.add_done_callback(lambda done: self.placed.put((run, place, task, result, done)))

    def _record(
        self, run: _InstrumentRun, place: int, task: Task, result: Result, done: Future[FinishedJob]
    ) -> None:
        """Record a job whose files are in their places."""
        self.placing -= 1
        job = done.result()  # a refusal of the disk ends the run
        if run.over:
            return
        self.records.record_job(task, result, job)
        run.results[place] = job
        run.missing -= 1
        if isinstance(task.job, EncodeJob) and job.files:
            self._count(run)
        if not run.missing:
            self._advance(run, [one for one in run.results if one is not None])

    def _advance(self, run: _InstrumentRun, results: list[FinishedJob] | None) -> None:
        """Advance an instrument to its next step, or to its end."""
        try:
            tasks = next(run.steps) if results is None else run.steps.send(results)
        except StopIteration as end:
            self._finish(run, end.value)
            return
        except InputError as error:
            self._fail(run, error.problems)
            return
        run.missing, run.results = len(tasks), [None] * len(tasks)
        for place, task in enumerate(tasks):
            heapq.heappush(self.ready, (run.number, next(self.order), place, task))

    def _count(self, run: _InstrumentRun) -> None:
        seconds = self._seconds(run.instrument) / max(len(run.instrument.clips), 1)
        self.tally.add(run.instrument.folder, seconds, made=True)
        self._report_progress(run.instrument)

    def _seconds(self, instrument: Instrument) -> float:
        return sum(clip.plan.performance.seconds for clip in instrument.clips)

    def _report_progress(self, instrument: Instrument) -> None:
        now_s, tally = time.monotonic(), self.tally
        rate, left_s = tally.rate(now_s), tally.remaining_s(now_s)
        self.on_event({
            "event": "progress", "instrument": instrument.folder,
            "files_done": tally.files.get(instrument.folder, 0),
            "files": len(instrument.clips) * len(self.plan.listing.encodings),
            "instruments_done": sum(one.state == DONE for one in self.reports.values()),
            "instruments": len(self.plan.instruments), "share": round(tally.share, 4),
            "times_real_time": None if rate is None else round(rate, 2),
            "remaining_s": None if left_s is None else round(left_s, 1),
        })  # fmt: skip

    def _finish(self, run: _InstrumentRun, result: InstrumentResult) -> None:
        instrument = run.instrument
        try:
            found = write_instrument(result, self.plan.listing, self.store)
        except InputError as error:
            raise InputError.of(error.problems) from error  # the disk's problem, not the instrument's
        n_formats = len(self.plan.listing.encodings)
        files = len(instrument.clips) * n_formats
        counted = self.tally.files.get(instrument.folder, 0)
        for _ in range(files - counted):
            self.tally.add(instrument.folder, self._seconds(instrument) * n_formats / files, made=False)
        self._close(run, found)
        self._report_progress(instrument)

    def _fail(self, run: _InstrumentRun, problems: tuple[Problem, ...]) -> None:
        instrument = run.instrument
        run.steps.close()
        done = self.tally.files.get(instrument.folder, 0)
        n_formats = len(self.plan.listing.encodings)
        whole_s = self._seconds(instrument) * n_formats
        self.tally.give_up(whole_s * (1.0 - done / max(len(instrument.clips) * n_formats, 1)))
        found = InstrumentReport(
            instrument.folder, instrument.name, instrument.wiring.file, FAILED, problems=problems
        )
        self._close(run, found)

    def _close(self, run: _InstrumentRun, found: InstrumentReport) -> None:
        run.over = True
        del self.running[run.number]
        self.records.forget(run.instrument.folder)
        self.reports[run.number] = found
        self._report_instrument(found)

    def _report_instrument(self, found: InstrumentReport) -> None:
        self.on_event({
            "event": "instrument", "instrument": found.folder, "name": found.name, "state": found.state,
            "clips": found.clips, "files": found.files, "reused": found.reused,
            "problems": [str(problem) for problem in found.problems], "warnings": list(found.warnings),
        })  # fmt: skip

    def _write_report(self) -> Report:
        plan = self.plan
        rows = [self.reports[number] for number in range(len(plan.instruments))]
        rows += [_unusable(one.file, one.problems) for one in plan.unusable]
        elapsed_s = time.monotonic() - self.start_s
        found = Report(tuple(rows), self.tally.made_s / self.tally.n_formats, elapsed_s)
        self.store.write("index.html", index_page(plan.listing.name, rows, plan.listing.artist))
        self.store.write(report.NAME, report.report_json(plan.listing.name, rows))
        if found.failed:
            self.store.compact()  # the earlier files of a failed instrument stay
        else:
            self.store.sweep()
        self.on_event({
            "event": "end", "summary": found.summary(), "failed": len(found.failed),
            "seconds": round(found.seconds, 3), "elapsed_s": round(elapsed_s, 3),
            "index": str(plan.out / "index.html"),
        })  # fmt: skip
        return found


def _unusable(file: str, problems: tuple[Problem, ...]) -> InstrumentReport:
    return InstrumentReport("", file, file, FAILED, problems=problems)
