"""Engines: one process, a pool, Dask. Each gives the same bytes and redoes jobs of lost workers."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from listing_case import catalogue, content, run, run_noting

from dsp.errors import InputError
from server.listings.making.cluster import Cluster
from server.listings.making.engines import LOST, MOST_TRIES, Pool
from server.listings.making.jobs import Result
from server.processes.frames import pack

MORE = "formats: [flac, mp3, opus]\nloudness: -26 LUFS\npositions: [1, 5]\nclips:\n  - {name: open}\n" + (
    "  - {name: swell, positions: [1], sweeps: [{knob: tone, from: 0, to: 10}]}\n"
)


@pytest.fixture(scope="module")
def alone(tmp_path_factory) -> tuple[str, dict[str, str]]:
    """Make a catalogue with one process."""
    folder = tmp_path_factory.mktemp("alone")
    run(catalogue(folder, more=MORE))
    return MORE, content(folder / "out")


@contextmanager
def closing(engine) -> Iterator:
    try:
        yield engine
    finally:
        engine.close()


@pytest.mark.long
def test_a_pool_makes_the_same_bytes(alone, tmp_path):
    with closing(Pool(2)) as pool:
        run(catalogue(tmp_path, more=MORE), pool)
    assert content(tmp_path / "out") == alone[1]


@pytest.mark.long
def test_a_pools_lost_worker_is_replaced_and_its_jobs_redone(alone, tmp_path):
    lost: list[int] = []

    def note_event(event):
        if event["event"] == "progress" and not lost:
            lost.append(pool.processes()[0])
            os.kill(lost[0], signal.SIGKILL)

    with closing(Pool(2)) as pool:
        run(catalogue(tmp_path, more=MORE), pool, on_event=note_event)
    assert lost
    assert content(tmp_path / "out") == alone[1]


class Deadly:
    """A job that always kills its worker."""

    def run(self) -> Result:
        os.kill(os.getpid(), signal.SIGKILL)
        raise AssertionError("unreachable")


class HalfSaid(Deadly):
    """A job whose worker always dies in the middle of its answer: half a frame stays in the pipe."""

    def run(self) -> Result:
        for fd in Path("/proc/self/fd").iterdir():
            with contextlib.suppress(OSError):
                if stat.S_ISFIFO(fd.stat().st_mode):
                    os.write(int(fd.name), pack(bytes(1000))[:4] + b"half an answer")
        return super().run()


class Said:
    """A job that ends at once."""

    def run(self) -> Result:
        return Result({"said": True})


@pytest.mark.parametrize("deadly", [Deadly, HalfSaid])
def test_a_job_that_kills_its_workers_is_given_up(deadly):
    with closing(Pool(1)) as pool:
        pool.submit("deadly", deadly())
        pool.submit("said", Said())
        found, until = {}, time.monotonic() + 60
        while len(found) < 2 and time.monotonic() < until:
            found |= dict([one] if (one := pool.next(0.5)) else [])
    assert found == {"deadly": LOST, "said": Result({"said": True})}
    assert MOST_TRIES > 1


def test_a_pool_ends_at_once_in_the_middle_of_its_work():
    """It ends whatever its workers do, and with jobs waiting."""
    pool = Pool(2)
    for number in range(8):
        pool.submit(number, Sleeping())
    until = time.monotonic() + 60
    while len(workers := pool.processes()) < 2 and time.monotonic() < until:
        time.sleep(0.05)
    pool.close()
    assert len(workers) == 2
    assert not [pid for pid in workers if alive(pid)]
    assert pool.next(0.1) in (None, *((number, LOST) for number in range(8)))


class Sleeping:
    """A job that takes longer than any test waits."""

    def run(self) -> Result:
        time.sleep(3600)
        raise AssertionError("unreachable")


def test_workers_end_with_a_run_that_was_killed(tmp_path):
    """A killed run leaves no processes behind."""
    path = catalogue(tmp_path, instruments=6, more=MORE, tail_s=3)
    words = [sys.executable, "-c", "from server.cli import main; main()", "listing", str(path), "--jobs", "2"]
    going = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    until = time.monotonic() + 60
    while not (workers := children(going.pid)) and time.monotonic() < until:
        time.sleep(0.05)
    time.sleep(1.0)
    workers = children(going.pid)
    going.kill()
    going.wait()
    assert workers
    while any(alive(pid) for pid in workers) and time.monotonic() < until:
        time.sleep(0.05)
    assert not [pid for pid in workers if alive(pid)]


def children(pid: int) -> list[int]:
    found: list[int] = []
    for listed in Path(f"/proc/{pid}/task").glob("*/children"):
        with contextlib.suppress(OSError):  # a thread that has ended meanwhile
            found += [int(word) for word in listed.read_text().split()]
    return found


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


# --- Dask


@contextmanager
def started(*words: str) -> Iterator[subprocess.Popen[str]]:
    """Start a Dask program, and end it with the test."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": os.pathsep.join(sys.path)}
    process = subprocess.Popen(
        [sys.executable, "-m", *words], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait()


@pytest.fixture
def scheduler(tmp_path) -> Iterator[str]:
    """Start a scheduler on a free port of loopback, and return its address."""
    file = tmp_path / "scheduler.json"
    words = ("--host", "tcp://127.0.0.1:0", "--scheduler-file", str(file), "--no-dashboard")
    with started("distributed.cli.dask_scheduler", *words) as process:
        until = time.monotonic() + 60
        while not file.exists() and time.monotonic() < until:
            assert process.poll() is None
            time.sleep(0.05)
        address = None
        while address is None and time.monotonic() < until:
            try:
                address = json.loads(file.read_text())["address"]
            except json.JSONDecodeError:  # half written
                time.sleep(0.05)
        assert address is not None
        yield address


def worker(address: str, folder: Path):
    words = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(folder))
    return started("distributed.cli.dask_worker", address, *words)


@pytest.mark.long
def test_two_workers_one_killed_midway_make_the_same_bytes(alone, scheduler, tmp_path):
    """A real scheduler and real workers on loopback, without access to the run's scratch files."""
    with (
        worker(scheduler, tmp_path / "a") as doomed,
        worker(scheduler, tmp_path / "b"),
        closing(Cluster(scheduler, 2)) as cluster,
    ):
        until = time.monotonic() + 60
        while cluster.width < 2 and time.monotonic() < until:
            time.sleep(0.05)
        assert cluster.width == 2

        def note_event(event):
            if event["event"] == "progress" and doomed.poll() is None:
                doomed.kill()

        report = run(catalogue(tmp_path, more=MORE), cluster, on_event=note_event)
        assert doomed.wait(timeout=30) != 0
    assert not report.failed
    assert content(tmp_path / "out") == alone[1]


@pytest.mark.long
def test_a_local_cluster_makes_the_same_bytes(alone, tmp_path):
    with closing(Cluster("local", 2)) as cluster:
        _, events = run_noting(catalogue(tmp_path, more=MORE), engine=cluster)
    assert content(tmp_path / "out") == alone[1]
    assert events[-1]["failed"] == 0


def test_an_address_without_a_scheduler_is_reported(monkeypatch):
    monkeypatch.setattr("server.listings.making.cluster.CONNECT_S", 1.0)
    with pytest.raises(InputError, match=r"--cluster: got 'tcp://127\.0\.0\.1:9'"):
        Cluster("tcp://127.0.0.1:9", 1)
    with pytest.raises(InputError, match="allowed: 'local', or the address of a scheduler"):
        Cluster("nonsense://", 1)


def test_a_missing_dask_is_reported_with_its_installation(monkeypatch):
    monkeypatch.setitem(sys.modules, "dask", None)
    with pytest.raises(InputError, match=r"presolder\[dask\]"):
        Cluster("local", 1)


def test_another_version_of_the_program_is_refused(tmp_path):
    """A worker with other code refuses."""
    from server.listings.making.jobs import run_job

    found = run_job(Deadly(), "another digest")  # type: ignore[arg-type]
    assert found.fatal
    assert "another version" in str(found.problems[0])
