"""Running a listing: every instrument's jobs through an engine, to whole files, a page and a report.

A run that was ended, however it was ended, goes on where it stood when it is run again: what the
record of the folder holds and the disk confirms is not made again.
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
from server.listings.making.desk import Desk, Task
from server.listings.making.engines import Engine
from server.listings.making.folder import Kept, ListingStore, open_store
from server.listings.making.instrument import Steps, produce
from server.listings.making.jobs import FileWork, Result
from server.listings.making.made import Made
from server.listings.making.page import index_page
from server.listings.making.pages import write_instrument
from server.listings.making.plan import Instrument, ListingPlan
from server.listings.making.progress import Tally
from server.listings.making.report import DONE, FAILED, InstrumentReport, Report

WAIT_S = 0.2
"""How long a result is waited for before the wish to cancel is looked at again."""
SOON_S = 0.01
"""The same while files are on their way to their places."""
WRITERS = 8
"""Threads that wait for the disk to have a file for good; it takes many as fast as one."""
PER_WORKER = 2
"""Jobs handed over for each worker: one runs, the next is at hand."""
AHEAD = 2
"""Instruments at work besides one for each worker; each has its volts on the disk meanwhile."""
Told = Callable[[dict[str, Any]], None]
"""Called with each event: a dict with its name under ``event``, ready for JSON."""


class Cancelled(Exception):
    """The run was asked to stop; what it has made stays."""


def run_listing(
    plan: ListingPlan,
    engine: Engine,
    *,
    told: Told = lambda event: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Report:
    """Make everything a listing asks for that is not there yet.

    Parameters
    ----------
    plan : ListingPlan
    engine : Engine
        Stays open.
    told : callable
        Called with events: ``start``, ``progress``, ``instrument`` and ``end``.
    cancelled : callable
        Looked at several times a second.

    Returns
    -------
    Report
        Instruments that failed are in it; the others are whole.

    Raises
    ------
    InputError
        When the folder cannot be used, another run is at work on it, or the disk is full.
    Cancelled
        When it was asked for.
    """
    with open_store(plan.out) as store, ThreadPoolExecutor(WRITERS) as threads:
        return _Run(plan, store, engine, told, cancelled, threads).whole()


@dataclass
class _Line:
    """An instrument at work."""

    number: int
    instrument: Instrument
    steps: Steps
    missing: int = 0
    results: list[Kept | None] = field(default_factory=list)
    over: bool = False


class _Run:
    """One run; see `run_listing`."""

    def __init__(
        self,
        plan: ListingPlan,
        store: ListingStore,
        engine: Engine,
        told: Told,
        cancelled: Callable[[], bool],
        threads: ThreadPoolExecutor,
    ) -> None:
        self.threads = threads
        self.placed: queue.Queue[tuple[_Line, int, Task, Result, Future[Kept]]] = queue.Queue()
        self.placing = 0
        self.plan, self.store, self.engine, self.told, self.cancelled = plan, store, engine, told, cancelled
        self.desk = Desk(plan.listing, store, shares_disk=engine.shares_disk)
        self.waiting = list(enumerate(plan.instruments))[::-1]
        self.lines: dict[int, _Line] = {}
        self.ready: list[tuple[int, int, int, Task]] = []  # instrument, order, place in its step
        self.flying: dict[int, tuple[_Line, int, Task]] = {}
        self.order = itertools.count()
        self.reports: dict[int, InstrumentReport] = {}
        self.start_s = time.monotonic()
        n_formats = len(plan.listing.encodings)
        self.tally = Tally(plan.seconds * n_formats, n_formats, self.start_s)

    def whole(self) -> Report:
        """Everything, from the first event to the last."""
        plan = self.plan
        self.told({
            "event": "start", "listing": plan.listing.name, "out": str(plan.out),
            "instruments": len(plan.instruments), "clips": plan.n_clips, "seconds": round(plan.seconds, 3),
            "unusable": len(plan.unusable),
        })  # fmt: skip
        for one in plan.unusable:
            self._tell_instrument(_unusable(one.file, one.problems))
        while self.waiting or self.lines:
            if self.cancelled():
                raise Cancelled
            self._fill()
            self._wait()
        return self._finished()

    def _wait(self) -> None:
        """One job's result, or one whose files are in their places, if any comes in a while."""
        soon = bool(self.placing)
        if self.flying and (got := self.engine.next(SOON_S if soon else WAIT_S)):
            self._arrived(*got)
        with contextlib.suppress(queue.Empty):
            while self.placing:
                self._placed(*self.placed.get(timeout=0 if self.flying else WAIT_S))

    def _fill(self) -> None:
        """Hand jobs over until every worker has enough."""
        width = self.engine.width
        while len(self.flying) < PER_WORKER * width:
            if not self.ready and self.waiting and len(self.lines) < width + AHEAD:
                number, instrument = self.waiting.pop()
                line = _Line(number, instrument, produce(instrument, self.desk))
                self.lines[number] = line
                self._go_on(line, None)
            elif self.ready:
                number, _, place, task = heapq.heappop(self.ready)
                if number in self.lines:
                    name = next(self.order)
                    self.flying[name] = (self.lines[number], place, task)
                    self.engine.submit(name, task.work)
            else:
                return

    def _arrived(self, name: Any, result: Result) -> None:
        line, place, task = self.flying.pop(name)
        if result.fatal:
            raise InputError.of(result.problems)
        if line.over:
            return
        if result.problems:
            self._fail(line, result.problems)
            return
        self.placing += 1
        future = self.threads.submit(self.desk.placed, task, result)
        future.add_done_callback(lambda done: self.placed.put((line, place, task, result, done)))

    def _placed(self, line: _Line, place: int, task: Task, result: Result, done: Future[Kept]) -> None:
        """The files of a job are in their places."""
        self.placing -= 1
        kept = done.result()  # what the disk refuses ends the run
        if line.over:
            return
        self.desk.note(task, result, kept)
        line.results[place] = kept
        line.missing -= 1
        if isinstance(task.work, FileWork) and kept.files:
            self._count(line)
        if not line.missing:
            self._go_on(line, [one for one in line.results if one is not None])

    def _go_on(self, line: _Line, results: list[Kept] | None) -> None:
        """The next step of an instrument, or its end."""
        try:
            tasks = next(line.steps) if results is None else line.steps.send(results)
        except StopIteration as end:
            self._done(line, end.value)
            return
        except InputError as error:
            self._fail(line, error.problems)
            return
        line.missing, line.results = len(tasks), [None] * len(tasks)
        for place, task in enumerate(tasks):
            heapq.heappush(self.ready, (line.number, next(self.order), place, task))

    def _count(self, line: _Line) -> None:
        seconds = self._seconds(line.instrument) / max(len(line.instrument.clips), 1)
        self.tally.add(line.instrument.folder, seconds, made=True)
        self._tell_progress(line.instrument)

    def _seconds(self, instrument: Instrument) -> float:
        return sum(clip.plan.performance.seconds for clip in instrument.clips)

    def _tell_progress(self, instrument: Instrument) -> None:
        now_s, tally = time.monotonic(), self.tally
        rate, left_s = tally.rate(now_s), tally.remaining_s(now_s)
        self.told({
            "event": "progress", "instrument": instrument.folder,
            "files_done": tally.files.get(instrument.folder, 0),
            "files": len(instrument.clips) * len(self.plan.listing.encodings),
            "instruments_done": sum(one.state == DONE for one in self.reports.values()),
            "instruments": len(self.plan.instruments), "share": round(tally.share, 4),
            "times_real_time": None if rate is None else round(rate, 2),
            "remaining_s": None if left_s is None else round(left_s, 1),
        })  # fmt: skip

    def _done(self, line: _Line, made: Made) -> None:
        instrument = line.instrument
        try:
            found = write_instrument(made, self.plan.listing, self.store)
        except InputError as error:
            raise InputError.of(error.problems) from error  # the disk's trouble, not the instrument's
        n_formats = len(self.plan.listing.encodings)
        files = len(instrument.clips) * n_formats
        counted = self.tally.files.get(instrument.folder, 0)
        for _ in range(files - counted):
            self.tally.add(instrument.folder, self._seconds(instrument) * n_formats / files, made=False)
        self._over(line, found)
        self._tell_progress(instrument)

    def _fail(self, line: _Line, problems: tuple[Problem, ...]) -> None:
        instrument = line.instrument
        line.steps.close()
        done = self.tally.files.get(instrument.folder, 0)
        n_formats = len(self.plan.listing.encodings)
        whole_s = self._seconds(instrument) * n_formats
        self.tally.give_up(whole_s * (1.0 - done / max(len(instrument.clips) * n_formats, 1)))
        found = InstrumentReport(
            instrument.folder, instrument.name, instrument.wiring.file, FAILED, problems=problems
        )
        self._over(line, found)

    def _over(self, line: _Line, found: InstrumentReport) -> None:
        line.over = True
        del self.lines[line.number]
        self.desk.forget(line.instrument.folder)
        self.reports[line.number] = found
        self._tell_instrument(found)

    def _tell_instrument(self, found: InstrumentReport) -> None:
        self.told({
            "event": "instrument", "instrument": found.folder, "name": found.name, "state": found.state,
            "clips": found.clips, "files": found.files, "reused": found.reused,
            "problems": [str(problem) for problem in found.problems], "warnings": list(found.warnings),
        })  # fmt: skip

    def _finished(self) -> Report:
        plan = self.plan
        rows = [self.reports[number] for number in range(len(plan.instruments))]
        rows += [_unusable(one.file, one.problems) for one in plan.unusable]
        elapsed_s = time.monotonic() - self.start_s
        found = Report(tuple(rows), self.tally.made_s / self.tally.n_formats, elapsed_s)
        self.store.write("index.html", index_page(plan.listing.name, rows))
        self.store.write(report.NAME, report.report_json(plan.listing.name, rows))
        if found.failed:
            self.store.compact()  # what a failed instrument had before stays
        else:
            self.store.sweep()
        self.told({
            "event": "end", "summary": found.summary(), "failed": len(found.failed),
            "seconds": round(found.seconds, 3), "elapsed_s": round(elapsed_s, 3),
            "index": str(plan.out / "index.html"),
        })  # fmt: skip
        return found


def _unusable(file: str, problems: tuple[Problem, ...]) -> InstrumentReport:
    return InstrumentReport("", file, file, FAILED, problems=problems)
