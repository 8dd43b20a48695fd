"""A killed server leaves no child, whatever its children do."""

from __future__ import annotations

import contextlib
import io
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import httpx2 as httpx
import numpy as np
import pytest
import soundfile
from server_process import Running, started

GONE_S = 60.0
WORKS = {
    "server.processes.helper": "helper",
    "server.searches.process": "search",
    "server.proposals.work": "clips",
    "server.listings.work": "listings",
    "server.takes.examine": "examination",
}
"""Work of children, by the module in their command lines."""


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Running]:
    """Start a server with an empty cache, so that its work takes a while."""
    server = started(tmp_path, PRESOLDER_CACHE=str(tmp_path / "cache"))
    try:
        yield server
    finally:
        server.stop()
        print(server.printed())


def children(pid: int) -> dict[int, str]:
    """Return the work of the processes below one, from proc(5)."""
    parents, words = {}, {}
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            words[int(entry.name)] = (entry / "cmdline").read_text(errors="replace").replace("\0", " ")
        except OSError:
            continue
    found: dict[int, str] = {}
    edge = [pid]
    while edge:
        above = edge.pop()
        below = [one for one, parent in parents.items() if parent == above]
        edge += below
        found |= {one: next((w for m, w in WORKS.items() if m in words[one]), words[one]) for one in below}
    return found


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def noise(seconds: float) -> bytes:
    """Return a recording that takes a while to examine."""
    samples = np.random.default_rng(1).integers(-8000, 8000, round(seconds * 48_000), dtype=np.int16)
    file = io.BytesIO()
    soundfile.write(file, samples, 48_000, format="FLAC")
    return file.getvalue()


def search(http: httpx.Client, wiring: Mapping[str, Any], commission: str) -> None:
    options = {"count": 5, "seconds": 60}
    body = {"draft": {"version": wiring["sketch"]}, "options": options}
    assert http.post("/api/range", json=body).status_code == 202


def clips(http: httpx.Client, wiring: Mapping[str, Any], commission: str) -> None:
    items = [{"version": wiring["rotary"], "position": one} for one in "123456"]
    body = {"title": "One", "items": items, "takes": ["demo:open_chords"]}
    assert http.post(f"/api/commissions/{commission}/proposals", json=body).status_code == 201


def listings(http: httpx.Client, wiring: Mapping[str, Any], commission: str) -> None:
    body = {"title": "One", "wirings": [{"version": wiring["rotary"]}], "takes": ["demo:open_chords"]}
    answer = http.post("/api/listings", json=body)
    assert answer.status_code == 201, answer.text


def helper(http: httpx.Client, wiring: Mapping[str, Any], commission: str) -> None:
    """Play a score for the live page; the answer comes after it."""
    asked = {"version": wiring["rotary"], "take": "demo:open_chords"}
    with contextlib.suppress(httpx.HTTPError):
        http.get("/api/stems", params=asked)


def examination(http: httpx.Client, wiring: Mapping[str, Any], commission: str) -> None:
    with contextlib.suppress(httpx.HTTPError):
        http.post("/api/takes", params={"name": "Noise"}, content=noise(300.0))


@pytest.mark.parametrize("start", [helper, search, clips, listings, examination])
def test_a_killed_server_leaves_no_child(
    server: Running, start: Callable[[httpx.Client, Mapping[str, Any], str], None]
) -> None:
    assert server.process is not None
    with httpx.Client(base_url=server.url, headers={"X-Presolder": "1"}, timeout=30.0) as http:
        row = http.get("/api/commissions", params={"search": "Baritone"}).json()[0]
        wiring = {"rotary": row["wirings"][0]["version"], "sketch": row["wirings"][1]["version"]}

        def ask() -> None:
            with contextlib.suppress(httpx.TransportError):  # killed before it answered
                start(http, wiring, row["id"])

        asking = threading.Thread(target=ask)
        asking.start()
        end_s = time.monotonic() + GONE_S
        while start.__name__ not in (below := children(server.process.pid)).values():
            assert time.monotonic() < end_s, f"no {start.__name__}: {below}"
            time.sleep(0.02)
        server.kill()
        asking.join(GONE_S)
        assert not asking.is_alive()
    end_s = time.monotonic() + GONE_S
    while left := {pid: work for pid, work in below.items() if alive(pid)}:
        assert time.monotonic() < end_s, f"still there: {left}"
        time.sleep(0.02)
    assert "Traceback" not in server.printed()
