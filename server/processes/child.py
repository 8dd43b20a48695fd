"""Start, follow and end one child process. The only module that imports subprocess."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
import weakref
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO

from server.paths import PACKAGES
from server.processes.frames import pack, read_frames
from server.processes.limits import Limits
from server.refusals import Unavailable

MAIN = "server.processes.main"
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
"""Variables for a child that shall take one core, and give the same bytes whatever the number of cores."""
LAST = 15
"""Niceness from which a system without niceness gives its lowest priority."""


@dataclass(frozen=True)
class Work:
    """What a child does, and what it may use.

    Attributes
    ----------
    run : str
        ``module:function``. The child calls it with a `Parent` and the arguments of `Child.start`.
    niceness : int
        Level that the child is raised to; 0 keeps the priority of the process that starts it.
    variables : mapping of str to str
        Environment variables beside this process's own.
    folder : Path or None
        Where the child runs.
    silent : bool
        Whether what it writes to standard error is dropped, not passed on.
    """

    run: str
    niceness: int = 10
    variables: Mapping[str, str] = field(default_factory=dict)
    limits: Limits | None = None
    folder: Path | None = None
    silent: bool = False


class Child:
    """A process that ends with this one, however this one ends."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self._process = process
        self._timer: threading.Timer | None = None
        self._late = self._over = False
        weakref.finalize(self, _finish, process)  # one that nobody has ended ends with its object

    @classmethod
    def start(cls, work: Work, *arguments: str) -> Child:
        """Start a child.

        Raises
        ------
        Unavailable
            If the system starts no process.
        """
        limits = None if work.limits is None else asdict(work.limits)
        options = json.dumps({"niceness": work.niceness, "limits": limits})
        command = [sys.executable, "-P", "-m", MAIN, work.run, options, *arguments]
        try:
            process = subprocess.Popen(
                command,
                cwd=work.folder,
                env={**os.environ, "PYTHONPATH": _import_path(), **work.variables},
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL if work.silent else None,
                start_new_session=os.name == "posix",  # what a terminal sends is for the parent
                creationflags=priority_class(work.niceness),
            )
        except OSError as error:
            got = error.strerror or str(error)
            raise Unavailable("a process beside this one", got, "fewer programs at once") from error
        return cls(process)

    @property
    def pid(self) -> int:
        """Number of the process."""
        return self._process.pid

    @property
    def running(self) -> bool:
        """Whether the process has not ended."""
        return self._process.poll() is None

    @property
    def late(self) -> bool:
        """Whether the process was ended because its time was over."""
        return self._late

    def send(self, content: bytes) -> None:
        """Send a frame.

        Raises
        ------
        OSError
            If the child has ended.
        """
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(pack(content))
            self._process.stdin.flush()
        except ValueError as error:  # closed meanwhile
            raise BrokenPipeError("the child was ended") from error

    def frames(self) -> Iterator[bytes]:
        """Frames as the child sends them, until it ends."""
        assert self._process.stdout is not None
        with contextlib.suppress(OSError, ValueError):  # closed meanwhile
            yield from read_frames(self._process.stdout.read)

    def allow(self, seconds: float | None) -> None:
        """End the child so many seconds from now, unless this is called again.

        Parameters
        ----------
        seconds : float or None
            None for no limit.
        """
        if self._timer is not None:
            self._timer.cancel()
        if seconds is not None and not self._over:
            self._timer = threading.Timer(seconds, self._expire)
            self._timer.daemon = True
            self._timer.start()

    def _expire(self) -> None:
        if self.running:
            self._late = True
            self._process.kill()

    def wait(self, timeout_s: float) -> int | None:
        """The exit status, or None if the child still runs after the time."""
        try:
            return self._process.wait(timeout_s)
        except subprocess.TimeoutExpired:
            return None

    def kill(self) -> None:
        """End the child at once. Whoever reads its frames then meets their end."""
        self._process.kill()

    def end(self, grace_s: float = 0.0) -> int:
        """End the child and return its exit status.

        Parameters
        ----------
        grace_s : float
            Time in which it may end by itself once its lifeline is cut.
        """
        self._over = True
        if self._timer is not None:
            self._timer.cancel()
        if grace_s > 0.0:
            _close(self._process.stdin)
            self.wait(grace_s)
        return _finish(self._process)


def _finish(process: subprocess.Popen[bytes]) -> int:
    """Kill first: a thread at a pipe then meets its end, and lets go of it."""
    process.kill()
    status = process.wait()
    _close(process.stdin)
    _close(process.stdout)
    return status


def _close(pipe: IO[bytes] | None) -> None:
    if pipe is not None:
        with contextlib.suppress(OSError):  # what the child has not read is lost with it
            pipe.close()


def _import_path() -> str:
    """Folders in which a child finds the modules that this process finds."""
    folders = [path for path in sys.path if Path(path).is_absolute()]
    own = str(PACKAGES)
    return os.pathsep.join(folders if own in folders else [own, *folders])


def priority_class(niceness: int) -> int:
    """Creation flags for a niceness; 0 where the system knows niceness."""
    if niceness <= 0:
        return 0
    name = "IDLE_PRIORITY_CLASS" if niceness >= LAST else "BELOW_NORMAL_PRIORITY_CLASS"
    return int(getattr(subprocess, name, 0))
