"""A child process: frames, lifeline, time, limits, priority."""

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

from server.processes import child as child_module
from server.processes.child import Child, Work, priority_class
from server.processes.frames import pack, read_frames
from server.processes.limits import Limits
from server.processes.parent import Parent
from server.refusals import Unavailable


@contextlib.contextmanager
def started(function: str, *arguments: str, **more: object) -> Iterator[Child]:
    child = Child.start(Work(f"{__name__}:{function}", **more), *arguments)  # type: ignore[arg-type]
    try:
        yield child
    finally:
        child.end()


def echo(parent: Parent, *arguments: str) -> None:
    """Runs in the child: return the arguments, then one frame reversed."""
    parent.send(" ".join(arguments).encode())
    parent.send(next(parent.frames())[::-1])


def sleep(parent: Parent) -> None:
    """Runs in the child, longer than any test waits."""
    parent.send(b"asleep")
    time.sleep(3600.0)


def cut_off(parent: Parent) -> None:
    """Runs in the child: ends in the middle of a frame."""
    parent.send(b"whole")
    os.write(parent._output, pack(b"cut off")[:6])


def about_itself(parent: Parent) -> None:
    """Runs in the child: niceness, session, folder."""
    parent.send(f"{os.nice(0)} {os.getsid(0) == os.getpid()} {Path.cwd()}".encode())


@pytest.mark.parametrize("content", [b"", b"a", bytes(range(256)) * 1000])
def test_frames_read_as_they_were_packed(content: bytes) -> None:
    stream = pack(content) + pack(b"next")
    for size in (1, 3, len(stream)):
        left = [stream]

        def read(count: int, size: int = size, left: list[bytes] = left) -> bytes:
            part = left[0][: min(count, size)]
            left[0] = left[0][len(part) :]
            return part

        if size > 1 or len(stream) < 1000:
            assert list(read_frames(read)) == [content, b"next"]


def test_frames_go_both_ways() -> None:
    with started("echo", "two", "words") as child:
        child.send(b"abc")
        assert list(child.frames()) == [b"two words", b"cba"]
        assert child.wait(20.0) == 0
        with pytest.raises(BrokenPipeError):
            child.send(bytes(1 << 20))


def test_a_frame_that_an_end_cut_off_is_dropped() -> None:
    with started("cut_off") as child:
        assert list(child.frames()) == [b"whole"]


def test_each_deadline_starts_again() -> None:
    with started("sleep") as child:
        assert next(child.frames()) == b"asleep"
        child.allow(0.05)
        child.allow(600.0)
        assert child.wait(0.3) is None
        assert not child.late
        child.allow(0.05)
        assert list(child.frames()) == []
        assert child.late
        assert child.end() == -signal.SIGKILL


def test_with_grace_it_ends_by_its_lifeline() -> None:
    with started("sleep") as child:
        next(child.frames())
        assert child.end(20.0) == 1


def test_a_child_without_a_holder_ends() -> None:
    child = Child.start(Work(f"{__name__}:sleep"))
    next(child.frames())
    pid = child.pid
    del child
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_it_leads_a_session_at_its_level_in_its_folder(tmp_path: Path) -> None:
    """So Ctrl-C in a terminal reaches the parent alone."""
    with started("about_itself", niceness=7, folder=tmp_path) as child:
        assert next(child.frames()).decode() == f"{max(os.nice(0), 7)} True {tmp_path}"


def test_ctrl_c_does_not_end_it() -> None:
    with started("echo") as child:
        frames = child.frames()
        assert next(frames) == b""
        os.kill(child.pid, signal.SIGINT)
        child.send(b"abc")
        assert next(frames) == b"cba"


LIMITS = Limits(memory_bytes=1 << 30, processor_s=60, file_bytes=0, open_files=64)
GREEDY = {
    "memory": "bytearray(2 << 30)",
    "files written": "open('made', 'w').write('x' * 100_000)",
    "files open": "[open('there') for _ in range(100)]",
}


def names_left(parent: Parent) -> None:
    """Runs in the child: report which modules of some systems it has."""
    parent.send(f"{hasattr(os, 'nice')} {sys.modules.get('resource', 'absent')}".encode())


def greedy(parent: Parent, code: str) -> None:
    """Runs in the child."""
    held = eval(code)
    parent.send(f"had it: {type(held).__name__}".encode())


@pytest.mark.parametrize("code", GREEDY.values(), ids=GREEDY)
@pytest.mark.parametrize("limits", [LIMITS, None], ids=["limited", "free"])
def test_limits_stop_work_that_passes_without_them(tmp_path: Path, code: str, limits: Limits | None) -> None:
    (tmp_path / "there").touch()
    with started("greedy", code, limits=limits, folder=tmp_path, silent=True) as child:
        got = list(child.frames())
    assert got == ([] if limits else [f"had it: {type(eval_kind(code)).__name__}".encode()])


def eval_kind(code: str) -> object:
    """Return a value of the kind that a code names."""
    return bytearray() if "bytearray" in code else [] if code.startswith("[") else 1


def test_work_is_refused_where_no_process_can_start(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> None:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(subprocess, "Popen", refused)
    with pytest.raises(Unavailable, match="Resource temporarily unavailable"):
        Child.start(Work(f"{__name__}:sleep"))


def test_without_niceness_a_priority_class_takes_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """The flags are those of CreateProcess (process creation flags)."""
    assert [priority_class(n) for n in (0, 10, 19)] == [0, 0, 0]
    monkeypatch.setattr(child_module.subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0x4000, raising=False)
    monkeypatch.setattr(child_module.subprocess, "IDLE_PRIORITY_CLASS", 0x40, raising=False)
    assert [priority_class(n) for n in (0, 10, 19)] == [0, 0x4000, 0x40]


def test_a_child_works_where_the_system_has_neither_niceness_nor_limits(tmp_path: Path) -> None:
    """The child loses both before it starts its work."""
    text = "import os, sys\ndel os.nice\nsys.modules['resource'] = None\n"
    (tmp_path / "sitecustomize.py").write_text(text, encoding="utf-8")
    variables = {"PYTHONPATH": os.pathsep.join([str(tmp_path), *sys.path])}
    with started("names_left", limits=LIMITS, variables=variables) as child:
        assert list(child.frames()) == [b"False None"]
    with started("names_left", limits=LIMITS) as child:
        assert next(child.frames()).startswith(b"True <module 'resource'")


def test_two_threads_may_end_it_at_once() -> None:
    with started("sleep") as child:
        reader = threading.Thread(target=lambda: list(child.frames()))
        reader.start()
        threads = [threading.Thread(target=child.end) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in (*threads, reader):
            thread.join(20.0)
            assert not thread.is_alive()
