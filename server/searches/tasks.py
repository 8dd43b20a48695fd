"""Searches that run for the page: one process each, what it tells gathered, its end seen to.

A task's name is a digest of all that its result depends on. So the same question asked again (a
page loaded again, a second tab) finds the search that runs, or what it found.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import subprocess
import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from functools import cache as once
from typing import Any

from dsp.errors import InputError, Problem
from server.files.cache import digest, sources_digest
from server.paths import PACKAGES
from server.refusals import TooOften, Unknown
from server.searches import results as kept_answers
from server.searches.process import KINDS, LARGE

START = "from server.searches.process import main; main()"
AT_ONCE, MOST_WAITING, MOST_KEPT = 2, 6, 24
"""Searches of one kind at a time, more that wait, and searches remembered."""
ALONE_S = 3.0
"""Nobody has asked for a search's news for so long: its page is gone, and it gives way to another."""
GRACE_S = 2.0
"""Beyond the time a task was given, before its process is ended."""
RUNNING, DONE, CANCELLED, FAILED, REFUSED, TIME = "running", "done", "cancelled", "failed", "refused", "time"
log = logging.getLogger("presolder")


@once
def _method() -> str:
    """Digest of the program: what another version found is not shown as this one's."""
    return sources_digest(("dsp", "server"))


class Task:
    """One search and what is known of it so far; safe in threads.

    Attributes
    ----------
    name : str
    kind : str
    """

    def __init__(self, name: str, kind: str, text: str, options: Mapping[str, Any], limit_s: float) -> None:
        self.name, self.kind = name, kind
        self._given = {"kind": kind, "text": text, "options": dict(options)}
        self._limit_s = limit_s
        self._lock = threading.Lock()
        self._told: dict[str, Any] = {}
        self._large: dict[str, str] = {}
        self._state, self._news = RUNNING, 1
        self._process: subprocess.Popen[str] | None = None
        self._timer: threading.Timer | None = None
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
        """Rises with everything told."""
        return self._news

    def state(self) -> dict[str, Any]:
        """All that was told, without what is large."""
        with self._lock:
            has = [key for key in LARGE if key in self._large]
            return {"id": self.name, "kind": self.kind, "after": self._news, "state": self._state,
                    "has": has, **self._told}  # fmt: skip

    def large(self, key: str) -> str:
        """What is fetched by itself, as JSON.

        Raises
        ------
        Unknown
        """
        with self._lock:
            if key not in self._large:
                raise Unknown(key, "nothing yet", "a search that has found something")
            return self._large[key]

    def stop(self, wish: str = CANCELLED) -> None:
        """End it now; what was found stays."""
        with self._lock:
            if self._state != RUNNING or self._wish:
                return
            self._wish = wish
            if self._process is not None:
                self._process.kill()

    def wait(self) -> None:
        """Say that others are before it."""
        with self._lock:
            self._told["phase"] = "waiting"
            self._news += 1

    def run(self) -> None:
        """Have a process do it, until its end or ours."""
        with self._lock:
            if self._wish:
                self._ended(self._wish)
                return
            self._process = process = _started()
        self._allow(self._limit_s)
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            try:
                process.stdin.write(json.dumps(self._given) + "\n")
                process.stdin.flush()
            except OSError:
                log.warning("a search's process was gone before its task")
            for line in process.stdout:
                self._hear(line)
        finally:
            if self._timer is not None:
                self._timer.cancel()
            self._over(process)

    def _allow(self, seconds: float) -> None:
        """Give it so long from now on, and a little grace: it is meant to end by itself."""
        if self._timer is not None:
            self._timer.cancel()
        self._timer = threading.Timer(seconds + GRACE_S, self.stop, (TIME,))
        self._timer.daemon = True
        self._timer.start()

    def _hear(self, line: str) -> None:
        name, _, rest = line.partition(" ")
        if name in LARGE:
            if rest.endswith("\n"):  # else a kill cut it off
                with self._lock:
                    self._large[name] = rest
            return
        try:
            told = json.loads(line)
        except ValueError:  # the end of a line that a kill cut off
            return
        with self._lock:
            left_s = told.pop("left_s", None)
            self._told |= told
            self._news += 1
        if left_s is not None:
            self._allow(left_s)

    def _over(self, process: subprocess.Popen[str]) -> None:
        process.kill()
        status = process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):  # what it has not read is lost with it
                    pipe.close()
        with self._lock:
            if self._told.pop("end", False):
                self._ended(REFUSED if self._told.get("problems") else DONE)
            elif self._wish:
                answered = self._wish == TIME and self._told.get("answered", False)
                self._ended(DONE if answered else self._wish)
            else:
                log.warning("a search's process ended with %s", status)
                lost = Problem("the search", f"its process ended ({status})", "start it again",
                               "what it had found is kept")  # fmt: skip
                self._told["problems"] = [[lost.where, lost.got, lost.allowed, lost.hint]]
                self._ended(FAILED)
        if self._state == DONE:
            kept_answers.keep(self.kind, self.name, {"told": self._told, "large": self._large})

    def _ended(self, state: str) -> None:
        self._state = state
        self._news += 1
        self._told["elapsed_s"] = round(time.monotonic() - self._begun, 2)

    def restore(self, found: Mapping[str, Any]) -> None:
        """Take over what was found before."""
        self._told, self._large = dict(found["told"]), dict(found["large"])
        self._state = DONE


def _started() -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(PACKAGES), "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-P", "-c", START],
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        start_new_session=True,  # Ctrl-C in a terminal is for the server, which ends it
    )


class Tasks:
    """Every search of a server."""

    def __init__(self) -> None:
        self._tasks: OrderedDict[str, Task] = OrderedDict()
        self._lock = threading.Lock()
        self._rooms = {kind: threading.BoundedSemaphore(AT_ONCE) for kind in KINDS}
        self._closed = False

    def ask(self, kind: str, text: str, options: Mapping[str, Any], *, limit_s: float) -> Task:
        """The search for an answer: found before, running, or started now.

        Parameters
        ----------
        kind : str
        text : str
            Of a wiring.
        options : mapping
            As JSON has them.
        limit_s : float
            After which its process is ended if it does not end by itself, nor tells ``left_s``, what
            it needs from then on.

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
            found = kept_answers.found(kind, name)
            if found is not None:
                task.restore(found)
            elif self._busy(kind) >= AT_ONCE + MOST_WAITING:
                got = f"{AT_ONCE + MOST_WAITING} searches running or waiting"
                raise TooOften("the search", got, "a search once one of them has ended")
            self._keep(task)
        if found is None:
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
    """Problems a search has told, as an error."""
    return InputError.of(Problem(*one) for one in problems)
