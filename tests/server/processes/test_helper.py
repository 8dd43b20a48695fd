"""A helper process: its results, its death, and that it never outlives its parent."""

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
from server.processes.helper import NICENESS, Helper
from server.refusals import TooSlow, Unavailable

SOON_S = 20.0


@pytest.fixture
def helper() -> Iterator[Helper]:
    with contextlib.closing(Helper("a test")) as found:
        yield found


def refuse(what: str) -> None:
    raise InputError("here", what, "anything else")


def nice_of_a_helper() -> int:
    with contextlib.closing(Helper("a helper's own")) as inner:
        return int(inner.call(os.nice, 0))


def exit_in_the_middle() -> None:
    os.write(1, b"half an answer, on the way to standard error")
    os._exit(0)


def print_much() -> str:
    print("x" * 100_000)
    return "done"


def gone(number: int) -> bool:
    """Return whether a process ends within a while."""
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


def test_a_functions_result_comes_back(helper: Helper) -> None:
    assert helper.pid is None
    assert helper.call(divmod, 17, 5) == (3, 2)
    assert helper.call(os.getpid) == helper.pid != os.getpid()


def test_a_functions_refusal_comes_back(helper: Helper) -> None:
    with pytest.raises(InputError, match="here: got nonsense; allowed: anything else"):
        helper.call(refuse, "nonsense")
    assert helper.call(len, "abc") == 3


def test_a_death_is_reported_and_the_next_call_has_a_new_process(helper: Helper) -> None:
    first = helper.call(os.getpid)
    with pytest.raises(Unavailable, match="the process at work ended"):
        helper.call(os.kill, first, signal.SIGKILL)
    assert helper.call(os.getpid) not in (first, os.getpid())


def test_a_call_that_takes_too_long_is_ended_and_the_next_has_a_new_process(helper: Helper) -> None:
    first = helper.call(os.getpid, longest_s=60.0)
    with pytest.raises(TooSlow, match=r"a test: got no answer within 0\.2 s"):
        helper.call(time.sleep, 3600.0, longest_s=0.2)
    assert gone(first)
    assert helper.call(os.getpid) not in (first, os.getpid())


def test_a_time_limit_ends_with_its_call(helper: Helper) -> None:
    """A timer left behind would end the process at its next work."""
    first = helper.call(os.getpid, longest_s=60.0)
    assert helper._child is not None
    assert helper._child._timer is not None
    assert helper._child._timer.finished.is_set()
    assert helper.call(os.getpid) == first


def test_its_priority_does_not_depend_on_its_parents(helper: Helper) -> None:
    own = os.nice(0)
    assert helper.call(os.nice, 0) == max(own, NICENESS)
    with contextlib.closing(Helper("keen", niceness=0, variables={"OF_A_TEST": "yes"})) as keen:
        assert keen.call(os.nice, 0) == own
        assert keen.call(os.getenv, "OF_A_TEST") == "yes"
        keen.call(os.nice, 3)
        assert keen.call(nice_of_a_helper) == max(own, NICENESS), "a level, not a step"
    assert "OF_A_TEST" not in os.environ
    assert helper.call(os.getenv, "OF_A_TEST") is None


def test_its_output_is_not_an_answer(helper: Helper) -> None:
    assert helper.call(print_much) == "done"
    with pytest.raises(Unavailable, match="the process at work ended"):
        helper.call(exit_in_the_middle)
    assert helper.call(len, "abc") == 3


def test_large_arguments_and_results_pass(helper: Helper) -> None:
    content = os.urandom(20 << 20)
    assert helper.call(bytes.swapcase, content) == content.swapcase()


def test_arguments_that_cannot_be_pickled_are_refused(helper: Helper) -> None:
    with pytest.raises(Unavailable):
        helper.call(lambda: None)
    assert helper.call(len, "abc") == 3


def test_closing_ends_it_at_work(helper: Helper) -> None:
    number, messages = helper.call(os.getpid), []

    def ask() -> None:
        try:
            helper.call(time.sleep, 3600.0)
        except Unavailable as error:
            messages.append(str(error))

    thread = threading.Thread(target=ask)
    thread.start()
    time.sleep(0.2)
    helper.close()
    thread.join(SOON_S)
    assert not thread.is_alive()
    assert "the server is stopping" in messages[0]
    assert gone(number)
    with pytest.raises(Unavailable):
        helper.call(os.getpid)


def test_it_ends_at_work_with_a_killed_parent() -> None:
    code = (
        "import os, time\nfrom server.processes.helper import Helper\n"
        "if __name__ == '__main__':\n"
        "    helper = Helper('a test')\n"
        "    print(helper.call(os.getpid), flush=True)\n"
        "    helper.call(time.sleep, 3600.0)\n"
    )
    words = [sys.executable, "-c", code]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as asking:
        assert asking.stdout is not None
        number = int(asking.stdout.readline())
        time.sleep(0.2)
        asking.kill()
    assert gone(number)
