"""Searches that run for the page: start each in a process, gather its reports, see to its end.

A task's name is a digest of all that its result depends on. So the same question asked again (a
page loaded again, a second tab) finds the search that runs, or its result.
"""

from __future__ import annotations

import contextlib
import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from functools import cache as once
from typing import Any

from dsp.errors import InputError, Problem
from server.files.cache import digest, sources_digest
from server.processes.child import ONE_THREAD, Work
from server.processes.reports import Reports, Update
from server.refusals import TooOften, Unavailable, Unknown
from server.searches import results
from server.searches.process import KINDS, LARGE

WORK = Work("server.searches.process:main", niceness=10, variables=ONE_THREAD)
AT_ONCE, MOST_WAITING, MOST_KEPT = 2, 6, 24
"""Searches of one kind at a time, more that wait, and searches remembered."""
ALONE_S = 3.0
"""After so long without a follower a search may be stopped to make room."""
GRACE_S = 2.0
"""Beyond the time that a task was given, before its process is ended."""
RUNNING, DONE, CANCELLED, FAILED, REFUSED, TIME = "running", "done", "cancelled", "failed", "refused", "time"
log = logging.getLogger("presolder")


@once
def _method() -> str:
    """Digest of the program: a result of another version is not shown as this one's."""
    return sources_digest(("dsp", "server"))


class Task:
    """One search and its results so far. Threads may share it."""

    def __init__(self, name: str, kind: str, text: str, options: Mapping[str, Any], limit_s: float) -> None:
        self.name, self.kind = name, kind
        self._given = {"kind": kind, "text": text, "options": dict(options)}
        self._limit_s = limit_s
        self._lock = threading.Lock()
        self._values: dict[str, Any] = {}
        self._texts: dict[str, str] = {}
        self._state, self._news = RUNNING, 1
        self._reports: Reports | None = None
        self._watchers, self._seen = 0, time.monotonic()
        self._wish = ""
        self._begun = time.monotonic()

    @property
    def running(self) -> bool:
        """Whether anything more may come."""
        return self._state == RUNNING

    @property
    def alone(self) -> bool:
        """Whether it runs and nobody follows it."""
        return self.running and not self._watchers and time.monotonic() - self._seen > ALONE_S

    @contextlib.contextmanager
    def watched(self) -> Iterator[None]:
        """For as long as somebody waits for news."""
        self._watchers += 1
        try:
            yield
        finally:
            self._watchers -= 1
            self._seen = time.monotonic()

    @property
    def news(self) -> int:
        """Rises with every report."""
        return self._news

    def state(self) -> dict[str, Any]:
        """All results but the large ones, which it names."""
        with self._lock:
            has = [key for key in LARGE if key in self._texts]
            return {"id": self.name, "kind": self.kind, "after": self._news, "state": self._state,
                    "has": has, **self._values}  # fmt: skip

    def large(self, key: str) -> str:
        """A large result, as JSON.

        Raises
        ------
        Unknown
        """
        with self._lock:
            if key not in self._texts:
                raise Unknown(key, "nothing yet", "a search that has found something")
            return self._texts[key]

    def stop(self, wish: str = CANCELLED) -> None:
        """End it now. Its results stay."""
        with self._lock:
            if self._state != RUNNING or self._wish:
                return
            self._wish = wish
            if self._reports is not None:
                self._reports.kill()

    def wait(self) -> None:
        """Report that others are before it."""
        with self._lock:
            self._values["phase"] = "waiting"
            self._news += 1

    def run(self) -> None:
        """Have a process do it, and wait until that ends."""
        with self._lock:
            if self._wish:
                self._end(self._wish)
                return
            try:
                self._reports = reports = Reports(WORK, grace_s=GRACE_S)
            except Unavailable as error:
                self._fail(*error.problems)
                return
        try:
            for update in reports.ask(self._given, self._limit_s):
                self.take(update)
        except OSError:
            log.warning("a search's process was gone before its task")
        finally:
            self._finish(reports)

    def take(self, update: Update) -> None:
        """Take what was reported."""
        with self._lock:
            self._texts |= update.texts
            self._values |= update.values
            self._news += 1

    def _finish(self, reports: Reports) -> None:
        """See how the process ended, and save the result if there is one."""
        status = reports.end()
        with self._lock:
            wish = self._wish or (TIME if reports.late else "")
            if self._values.pop("end", False):
                self._end(REFUSED if self._values.get("problems") else DONE)
            elif wish:
                answered = wish == TIME and self._values.get("answered", False)
                self._end(DONE if answered else wish)
            else:
                log.warning("a search's process ended with %s", status)
                self._fail(Problem("the search", f"its process ended ({status})", "start it again",
                                   "what it had found is kept"))  # fmt: skip
        if self._state == DONE:
            results.save(self.kind, self.name, {"values": self._values, "texts": self._texts})

    def _fail(self, *problems: Problem) -> None:
        self._values["problems"] = [[one.where, one.got, one.allowed, one.hint] for one in problems]
        self._end(FAILED)

    def _end(self, state: str) -> None:
        self._state = state
        self._news += 1
        self._values["elapsed_s"] = round(time.monotonic() - self._begun, 2)

    def restore(self, result: Mapping[str, Any]) -> None:
        """Take over a result of an earlier run."""
        self._values, self._texts = dict(result["values"]), dict(result["texts"])
        self._state = DONE


class Tasks:
    """Every search of a server."""

    def __init__(self) -> None:
        self._tasks: OrderedDict[str, Task] = OrderedDict()
        self._lock = threading.Lock()
        self._rooms = {kind: threading.BoundedSemaphore(AT_ONCE) for kind in KINDS}
        self._closed = False

    def ask(self, kind: str, text: str, options: Mapping[str, Any], *, limit_s: float) -> Task:
        """The search for an answer: ended, running, or started now.

        Parameters
        ----------
        text : str
            Of a wiring.
        options : mapping
            As JSON has them.
        limit_s : float
            After which its process is ended, unless it ends by itself or reports ``left_s``, the time
            that it still needs.

        Raises
        ------
        TooOften
            If too many wait already.
        """
        name = digest(kind, text, sorted(options.items()), _method())[:40]
        with self._lock:
            known = self._tasks.get(name)
            if known is not None and (known.running or known.state()["state"] in (DONE, REFUSED)):
                self._tasks.move_to_end(name)
                return known
            task = Task(name, kind, text, options, limit_s)
            result = results.load(kind, name)
            if result is not None:
                task.restore(result)
            elif self._busy(kind) >= AT_ONCE + MOST_WAITING:
                got = f"{AT_ONCE + MOST_WAITING} searches running or waiting"
                raise TooOften("the search", got, "a search once one of them has ended")
            self._keep(task)
        if result is None:
            threading.Thread(target=self._run, args=(task,), name="search", daemon=True).start()
        return task

    def _busy(self, kind: str) -> int:
        return sum(one.running for one in self._tasks.values() if one.kind == kind)

    def _keep(self, task: Task) -> None:
        self._tasks[task.name] = task
        self._tasks.move_to_end(task.name)
        for name, one in list(self._tasks.items()):
            if len(self._tasks) <= MOST_KEPT:
                break
            if not one.running:
                del self._tasks[name]

    def _run(self, task: Task) -> None:
        room = self._rooms[task.kind]
        if not room.acquire(blocking=False):
            task.wait()
            self._make_room(task.kind)
            room.acquire()
        try:
            if self._closed:
                task.stop()
            task.run()
        finally:
            room.release()

    def _make_room(self, kind: str) -> None:
        """End searches of a kind whose pages are gone."""
        with self._lock:
            alone = [one for one in self._tasks.values() if one.kind == kind and one.alone]
        for one in alone:
            one.stop()

    def task(self, name: str) -> Task:
        """A search by its name.

        Raises
        ------
        Unknown
        """
        with self._lock:
            if name not in self._tasks:
                raise Unknown("search", f"'{name}'", "the id of a search; ask again to have it back")
            return self._tasks[name]

    def close(self) -> None:
        """End every search."""
        self._closed = True
        with self._lock:
            tasks = list(self._tasks.values())
        for one in tasks:
            one.stop()


def refusal(problems: list[list[str]]) -> InputError:
    """Problems that a search has reported, as an error."""
    return InputError.of(Problem(*one) for one in problems)
