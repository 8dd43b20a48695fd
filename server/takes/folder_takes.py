"""The takes of the demo and of folders: listed by name at once, examined when somebody asks.

An examination reads the whole recording and tracks the pitch of a single line, which takes seconds.
It runs in a process beside the server, so that the live answers do not wait for it.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from dsp.errors import InputError, Problem
from dsp.takes.performance import Performance
from server.files.audio_in import FORMATS
from server.files.existing import path_kind, real_path
from server.paths import demo_folder
from server.processes.helper import Helper
from server.processes.threads import use_one_thread
from server.refusals import TooSlow, Unavailable
from server.takes.compiling import compile_tracker
from server.takes.folders import TakeFile, list_take_files
from server.takes.load import demo_listener, load_take, require_readable_name

MOST_AT_ONCE = 3
"""Examinations at a time: a recording that hangs keeps one process, and the others go on."""
LONGEST_S = 900.0
"""Of one examination. A single line of ten minutes, the longest that is tracked, takes 150 s of processor
time, and these processes give way to everything else."""
LOADING_S = 30.0
"""How long a request waits for a take that another one loads."""
LONGEST_STEM = 48
"""Characters of a file's name in the take's id, which an address holds."""
WAITING, READY, BROKEN = "waiting", "ready", "broken"
OWN_ERROR = Problem("the take", "an error of the program's own", "a recording; the server's log says more")

log = logging.getLogger(__name__)


Described = tuple[Performance, str, tuple[str, ...]]
"""A take, and on the demo's wiring its coil places and the verdict on its stretches."""


@dataclass(frozen=True)
class TakeRow:
    """A take in the page's list.

    Attributes
    ----------
    id : str
        Starts with ``demo:`` or ``file:`` unless the take is an upload.
    seconds : float or None
        Length, s; None before the examination.
    coil_places : str
        Whether the sound contains the coils' places; empty before the examination.
    state : str
        ``waiting`` before the examination, then ``ready`` or ``broken``.
    problems : tuple of Problem
        Of a broken take.
    """

    id: str
    name: str
    kind: str
    seconds: float | None = None
    coil_places: str = ""
    warnings: tuple[str, ...] = ()
    state: str = WAITING
    problems: tuple[Problem, ...] = ()


@dataclass
class _Known:
    """A take file and what has been found out about it."""

    path: Path
    row: TakeRow
    performance: Performance | None = None
    loading: threading.Lock = field(default_factory=threading.Lock)
    examined: threading.Event | None = None
    """Set at the end of the examination that runs."""
    given_up: bool = False
    """Whether its examination took too long or broke its process."""


class FolderTakes:
    """Takes of the demo and of folders, by id.

    Parameters
    ----------
    places : iterable of Path
        Folders beside the demo; a place that is a file is passed over.
    """

    def __init__(self, places: Iterable[Path] = ()) -> None:
        self._places = tuple(places)
        self._lock = threading.Lock()
        self._returned = threading.Condition(self._lock)
        self._known: dict[str, _Known] | None = None
        self._free: list[Helper] = []
        self._busy: set[Helper] = set()
        self._closed = False

    def __contains__(self, take_id: str) -> bool:
        return take_id in self._takes()

    def id_of(self, path: Path) -> str | None:
        """Return the id of a take file, or None if it is not among the takes."""
        real = real_path(path)
        return next((name for name, one in self._takes().items() if real_path(one.path) == real), None)

    def rows(self) -> list[TakeRow]:
        """List every take as far as it is known; nothing is examined."""
        return [one.row for one in self._takes().values()]

    def performance(self, take_id: str) -> Performance:
        """Return a take ready to be played; load it at the first call.

        Raises
        ------
        InputError
            If its files cannot be used, or its examination was given up.
        Unavailable
            If another request has been loading it for `LOADING_S`.
        """
        one = self._takes()[take_id]
        if one.performance is None and one.given_up:
            raise InputError.of(one.row.problems)
        if one.performance is None:
            if not one.loading.acquire(timeout=LOADING_S):
                raise Unavailable(str(one.path), "a recording that is still being read", "try again later")
            try:
                if one.performance is None:
                    require_readable_name(one.path)
                    one.performance = load_take(one.path)
            finally:
                one.loading.release()
        return one.performance

    def examine(self, take_id: str, wait_s: float | None = None) -> TakeRow:
        """Examine a take and return its row; a broken one is examined again.

        Parameters
        ----------
        wait_s : float or None
            Return after this time at the latest, the row still ``waiting``; None for no limit.
        """
        one = self._takes()[take_id]
        with self._lock:
            if one.row.state == READY:
                return one.row
            examined = one.examined
            if examined is None:
                if wait_s is not None and len(self._busy) >= MOST_AT_ONCE:
                    return one.row
                examined = one.examined = threading.Event()
                threading.Thread(
                    target=self._examine, args=(one,), name="examining a take", daemon=True
                ).start()
        examined.wait(wait_s)
        return one.row

    def close(self) -> None:
        """End the processes, whatever they do."""
        with self._lock:
            self._closed = True
            helpers, self._free = [*self._free, *self._busy], []
            self._returned.notify_all()
        for helper in helpers:
            helper.close()

    def _examine(self, one: _Known) -> None:
        helper = self._take_helper()
        try:
            performance, coil_places, verdict = self._ask(helper, one.path)
        except InputError as error:
            one.given_up = isinstance(error, TooSlow | Unavailable)
            problems = (_broken_off(one.path, error),) if one.given_up else error.problems
            one.row = replace(one.row, state=BROKEN, problems=problems)
        except Exception:
            log.exception("examining the take %s", one.path)
            one.row = replace(one.row, state=BROKEN, problems=(OWN_ERROR,))
        else:
            one.performance = one.performance or performance
            one.row = _row_of(one.row.id, performance, coil_places, verdict)
        finally:
            self._return_helper(helper)
            with self._lock:
                examined, one.examined = one.examined, None
            if examined is not None:
                examined.set()

    def _ask(self, helper: Helper, path: Path) -> Described:
        """Examine a take in a process, whose time is for the take alone."""
        compile_tracker()
        found: Described = helper.call(examine_take, path, longest_s=LONGEST_S)
        return found

    def _take_helper(self) -> Helper:
        """Return a process as soon as one is free; a closed one at the end."""
        with self._returned:
            self._returned.wait_for(lambda: self._closed or len(self._busy) < MOST_AT_ONCE)
            helper = self._free.pop() if self._free else Helper("the takes")
            self._busy.add(helper)
            if self._closed:
                helper.close()
            return helper

    def _return_helper(self, helper: Helper) -> None:
        """Keep a process for the next take; end it if every take has been examined."""
        waits = any(row.state == WAITING for row in self.rows())
        with self._lock:
            self._busy.discard(helper)
            self._returned.notify()
            keep = waits and not self._closed
            if keep:
                self._free.append(helper)
            ended = [] if keep else [helper, *self._free]
            if not keep:
                self._free.clear()
        for one in ended:
            one.close()

    def _takes(self) -> dict[str, _Known]:
        """Every take, listed by name once."""
        with self._lock:
            if self._known is None:
                known: dict[str, _Known] = {}
                for file in list_take_files(demo_folder()):
                    _add(known, f"demo:{file.path.stem}", file)
                for folder in self._folders():
                    for file in list_take_files(folder):
                        _add(known, f"file:{file.path.stem[:LONGEST_STEM]}", file)
                self._known = known
            return self._known

    def _folders(self) -> Iterator[Path]:
        """Folders beside the demo; one whose nature the system does not say is listed with its problem."""
        demo = real_path(demo_folder())
        for place in self._places:
            try:
                is_folder = path_kind(place) == "folder"
            except InputError:
                is_folder = True
            if is_folder and real_path(place) != demo:
                yield place


def examine_take(path: Path) -> Described:
    """Load a take, and describe its coil places and its stretches."""
    use_one_thread()
    require_readable_name(path)
    performance = load_take(path)
    listener = demo_listener()
    return performance, performance.coil_places(listener), performance.verdict(listener)


def _broken_off(path: Path, error: InputError) -> Problem:
    """Return why a take's examination was given up."""
    if isinstance(error, TooSlow):
        got = f"a recording that was still being read after {LONGEST_S / 60:g} minutes"
        return Problem(str(path), got, f"a plain recording: {FORMATS}")
    got = f"its examination broke off: {error.problems[0].got}"
    return Problem(str(path), got, f"a plain recording: {FORMATS}", "choose it once more to try again")


def _add(known: dict[str, _Known], stem: str, file: TakeFile) -> None:
    """Add a take under its name, numbered if there is one of that name."""
    plain = take_id = stem.encode("utf-8", "backslashreplace").decode()
    number = 1
    while take_id in known:
        number += 1
        take_id = f"{plain}:{number}"
    row = TakeRow(take_id, file.name, file.kind)
    if file.error is not None:
        row = replace(row, state=BROKEN, problems=file.error.problems)
    known[take_id] = _Known(file.path, row)


def _row_of(take_id: str, performance: Performance, coil_places: str, verdict: tuple[str, ...]) -> TakeRow:
    take = performance.take
    return TakeRow(
        take_id,
        take.name or performance.name,
        take.kind,
        round(performance.seconds, 3),
        coil_places,
        (*performance.warnings, *verdict),
        READY,
    )
