"""The real server for tests: a process on a free port, with its own data folder.

`running_server` (a fixture for one test) and `shared_server` (one for a whole run, on the demo)
give a `Running`: its address, its data folder, what it printed, and means to stop and start it.
Only what was started here is stopped. What it printed is shown where a test fails.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from places import ROOT

START = "from server.cli import main; main()"
READY_S = 120.0
"""A start takes about a second. Only a server that hangs takes this long."""


@dataclass
class Running:
    """A server that runs, or did."""

    data: Path
    log: Path
    words: tuple[str, ...] = ("demo",)
    environment: Mapping[str, str] = field(default_factory=dict)
    url: str = ""
    process: subprocess.Popen[bytes] | None = None
    seconds_to_start: float = 0.0
    processor_s: float = 0.0

    @property
    def port(self) -> int:
        """Return the port it listens on."""
        return int(self.url.rstrip("/").rpartition(":")[2])

    def start(self, *more: str) -> Running:
        """Start it, on its earlier port if it had one, and wait until it answers."""
        port = ("--port", str(self.port)) if self.url else ()
        options = ("--no-browser", "--no-warm", "--data", str(self.data), *port, *more)
        command = [sys.executable, "-c", START, *self.words, *options]
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1", **self.environment}
        begun, seen = time.perf_counter(), self.log.stat().st_size if self.log.exists() else 0
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=self.data.parent, env=environment, stdout=log, stderr=log
            )
        while not (match := re.search(r"Presolder is at (\S+?)/\n", self.printed()[seen:])):
            if self.process.poll() is not None or time.perf_counter() - begun > READY_S:
                self.stop()
                raise AssertionError(f"the server did not start:\n{self.printed()}")
            time.sleep(0.01)
        self.seconds_to_start = time.perf_counter() - begun
        self.processor_s = _processor_s(self.process.pid)
        self.url = match[1]
        return self

    def stop(self, with_signal: int = signal.SIGINT) -> int | None:
        """Stop it and return its exit status."""
        if self.process is None:
            return None
        if self.process.poll() is None:
            self.process.send_signal(with_signal)
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.process.kill()
        status = self.process.wait(10)
        self.process = None
        return status

    def kill(self) -> None:
        """Kill it, as a crash would."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(10)
        self.process = None

    def printed(self) -> str:
        """Return everything it has printed."""
        return self.log.read_bytes().decode(errors="replace") if self.log.exists() else ""


def _processor_s(pid: int) -> float:
    """Return a process's user and system time (proc(5), fields 14 and 15 of stat)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def started(folder: Path, *words: str, **environment: str) -> Running:
    """Start a server with its data and log in a folder; `demo` unless given other words."""
    return Running(folder / "data", folder / "server.log", words or ("demo",), environment).start()


@pytest.fixture
def running_server(tmp_path: Path) -> Iterator[Running]:
    """Start a server on the demo for one test, which may change or stop it."""
    server = started(tmp_path)
    try:
        yield server
    finally:
        server.stop()
        print(server.printed())  # pytest shows it if the test fails


@pytest.fixture(scope="session")
def shared_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Share a server on the demo in the whole run; tests make their own commissions on it."""
    server = started(tmp_path_factory.mktemp("server"))
    try:
        yield server
    finally:
        server.stop()
        print(server.printed())
