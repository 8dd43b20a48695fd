"""A process beside this one: what it returns, how it dies, that it never outlives who asked."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from dsp.errors import InputError
from server.processes.helper import NICENESS, SideProcess
from server.refusals import Unavailable

SOON_S = 20.0


@pytest.fixture
def side() -> Iterator[SideProcess]:
    with contextlib.closing(SideProcess("a test")) as found:
        yield found


def refuse(what: str) -> None:
    raise InputError("here", what, "anything else")


def gone(number: int) -> bool:
    """Whether a process has ended, within a while."""
    until = time.monotonic() + SOON_S
    while time.monotonic() < until:
        try:
            state = Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[0]
        except (FileNotFoundError, ProcessLookupError):
            return True
        if state == "Z":
            return True
        time.sleep(0.05)
    return False


def test_what_a_function_returns_there_comes_back(side: SideProcess) -> None:
    assert side.number is None
    assert side.call(divmod, 17, 5) == (3, 2)
    assert side.call(os.getpid) == side.number != os.getpid()


def test_what_a_function_refuses_is_refused_here(side: SideProcess) -> None:
    with pytest.raises(InputError, match="here: got nonsense; allowed: anything else"):
        side.call(refuse, "nonsense")
    assert side.call(len, "abc") == 3


def test_one_that_dies_is_told_and_the_next_call_has_another(side: SideProcess) -> None:
    first = side.call(os.getpid)
    with pytest.raises(Unavailable, match="the process at work ended"):
        side.call(os.kill, first, signal.SIGKILL)
    assert side.call(os.getpid) not in (first, os.getpid())


def test_it_gives_way_to_who_asks_unless_it_is_not_to(side: SideProcess) -> None:
    own = os.nice(0)
    assert side.call(os.nice, 0) == own + NICENESS
    with contextlib.closing(SideProcess("keen", niceness=0, environment={"OF_A_TEST": "yes"})) as keen:
        assert keen.call(os.nice, 0) == own
        assert keen.call(os.getenv, "OF_A_TEST") == "yes"
    assert "OF_A_TEST" not in os.environ
    assert side.call(os.getenv, "OF_A_TEST") is None


def test_closing_ends_it_in_the_middle_of_its_work(side: SideProcess) -> None:
    number, told = side.call(os.getpid), []

    def ask() -> None:
        try:
            side.call(time.sleep, 3600.0)
        except Unavailable as error:
            told.append(str(error))

    thread = threading.Thread(target=ask)
    thread.start()
    time.sleep(0.2)
    side.close()
    thread.join(SOON_S)
    assert not thread.is_alive()
    assert "the server is stopping" in told[0]
    assert gone(number)
    with pytest.raises(Unavailable):
        side.call(os.getpid)


def test_it_ends_in_the_middle_of_its_work_with_one_that_was_killed() -> None:
    code = (
        "import os, time\nfrom server.processes.helper import SideProcess\n"
        "if __name__ == '__main__':\n"
        "    side = SideProcess('a test')\n"
        "    print(side.call(os.getpid), flush=True)\n"
        "    side.call(time.sleep, 3600.0)\n"
    )
    words = [sys.executable, "-c", code]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as asking:
        assert asking.stdout is not None
        number = int(asking.stdout.readline())
        time.sleep(0.2)
        asking.kill()
    assert gone(number)
