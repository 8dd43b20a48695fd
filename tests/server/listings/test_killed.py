"""Listings after kills of the server or its worker go on by themselves, to the same bytes."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from listing_case import content
from listing_requests import Bench, files_done, serving
from server_process import Running

from server.listings.queue import MOST_TRIES

KILLS = 12
GONE_S = 60.0
"""Within this time a killed server's children end and a started one's begin. What does not never would."""
WANTED = {"takes": ["file:pluck_0", "file:pluck_1"], "loudness_lufs": -26.0}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    server = serving(tmp_path, instruments=4, takes=2, tail_s=1.0)
    try:
        with contextlib.closing(Bench(server.start())) as bench:
            yield bench
    finally:
        server.stop()
        print(server.printed())


def started_by(pid: int) -> dict[int, str]:
    """Return the processes below one from proc(5), and their command lines."""
    parents: dict[int, int] = {}
    words: dict[int, str] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
                words[int(entry.name)] = (entry / "cmdline").read_text().replace("\0", " ")
            except OSError:
                continue
    found, edge = {}, [pid]
    while edge:
        above = edge.pop()
        below = [one for one, parent in parents.items() if parent == above]
        found |= {one: words[one] for one in below}
        edge += below
    return found


def worker_of(server: Running) -> int:
    """Return the process that makes listings."""
    assert server.process is not None
    end_s = time.monotonic() + GONE_S
    while True:
        found = [pid for pid, said in started_by(server.process.pid).items() if "listings.work" in said]
        if found:
            return found[0]
        assert time.monotonic() < end_s, "no worker"
        time.sleep(0.02)


def alive(pid: int) -> bool:
    """Return whether a process runs; a zombie does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def until_gone(pids: list[int]) -> None:
    end_s = time.monotonic() + GONE_S
    while left := [pid for pid in pids if alive(pid)]:
        assert time.monotonic() < end_s, f"still there: {left}"
        time.sleep(0.02)


@pytest.mark.long
def test_its_process_is_last_in_line_and_ends_with_a_killed_server(bench: Bench) -> None:
    server, job = bench.server, bench.start(**WANTED)
    bench.until(job, lambda one: files_done(one) > 0)
    assert server.process is not None
    below = started_by(server.process.pid)
    worker = worker_of(server)
    assert os.getpriority(os.PRIO_PROCESS, worker) == 19
    below_worker = list(started_by(worker))
    assert below_worker
    assert all(os.getpriority(os.PRIO_PROCESS, pid) == 19 for pid in below_worker if alive(pid))
    assert os.getpriority(os.PRIO_PROCESS, server.process.pid) == os.getpriority(os.PRIO_PROCESS, 0)
    server.kill()
    until_gone(list(below))
    server.start()
    job_now = bench.until(job, lambda one: one["state"] == "done")  # it goes on without a request
    assert sum(one["reused"] for one in job_now["instruments"]) > 0
    assert not list(bench.folder(job).rglob("*.part"))


@pytest.mark.long
def test_an_orderly_stop_interrupts_and_does_not_fail(bench: Bench) -> None:
    server, job = bench.server, bench.start(**WANTED)
    bench.until(job, lambda one: one["state"] == "running")
    worker = worker_of(server)
    server.stop()
    until_gone([worker])
    server.start()
    assert bench.ended(job)["state"] == "done"


@pytest.mark.long
def test_killed_again_and_again_it_ends_in_the_same_bytes(bench: Bench) -> None:
    server, rng = bench.server, random.Random(11)
    formats = [{"format": one} for one in ("wav", "flac", "ogg", "opus", "mp3")]
    wanted = {**WANTED, "wirings": [{"version": one} for one in bench.versions], "formats": formats}
    undisturbed = bench.start(**wanted)
    assert bench.ended(undisturbed)["state"] == "done"
    job, midway = bench.start(**wanted), 0
    for kill in range(KILLS):
        bench.until(job, lambda one: one["state"] in ("running", "done"))
        time.sleep(rng.uniform(0.2, 2.0))
        midway += bench.get(job)["state"] == "running"
        if kill % 3:
            server.kill()
        else:
            server.stop(signal.SIGTERM)
        server.start()
    assert bench.ended(job)["state"] == "done"
    assert midway > KILLS / 3
    assert content(bench.folder(job)) == content(bench.folder(undisturbed))


@pytest.mark.long
def test_a_listing_that_ends_its_worker_each_time_is_given_up(bench: Bench) -> None:
    server = bench.server
    job, next_one = bench.start(**WANTED), bench.start(title="Next", formats=[{"format": "wav"}])
    for _ in range(MOST_TRIES):
        bench.until(job, lambda one: one["state"] == "running" and files_done(one) == 0)
        os.kill(worker_of(server), signal.SIGKILL)
        bench.until(job, lambda one: one["state"] != "running")
    assert bench.ended(job)["state"] == "failed"
    assert "out of memory?" in bench.get(job)["report"]["problems"][0]
    assert bench.ended(next_one)["state"] == "done"
