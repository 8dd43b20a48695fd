"""How much a listing in the background slows the page's requests, as a ratio in one run."""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from listing_requests import Bench, serving

pytestmark = [pytest.mark.benchmark, pytest.mark.long]

ROUNDS, ASKED = 3, 250
PACE_S = 0.01
"""A dragged knob sends requests about as often."""
SLOWER = 2.0
"""The bar: the median while a listing runs, against the median without."""
SLACK = 0.5


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    server = serving(tmp_path, instruments=40, takes=1, tail_s=4.0)
    try:
        with contextlib.closing(Bench(server.start())) as bench:
            yield bench
    finally:
        server.stop()


class Knob:
    """A turning knob: a new setting's filters each time."""

    def __init__(self, bench: Bench) -> None:
        self._address, self._version = bench.server.url.removeprefix("http://"), bench.versions[0]
        self._stands = iter(np.linspace(0.0, 10.0, 10_000))

    def turned(self) -> list[float]:
        """Return the milliseconds until the filters arrive, repeated at a hand's pace."""
        with contextlib.closing(http.client.HTTPConnection(self._address, timeout=30)) as host:
            host.connect()
            host.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # as browsers do
            return [self._once(host) for _ in range(ASKED)]

    def _once(self, host: http.client.HTTPConnection) -> float:
        time.sleep(PACE_S)
        setting = {"position": "2", "knobs": {"tone": next(self._stands)}, "switches": {}}
        body = json.dumps({"draft": {"version": self._version, "edits": []}, "setting": setting})
        headers = {"Content-Type": "application/json", "X-Presolder": "1"}
        begun = time.perf_counter()
        host.request("POST", "/api/draft/filters", body, headers)
        answer = host.getresponse()
        content = answer.read()
        assert answer.status == 200, content[:300]
        return 1000.0 * (time.perf_counter() - begun)


def test_the_live_page_beside_a_listing(bench: Bench, record: Callable[[str, str, str], None]) -> None:
    """Alternate between quiet and a listing, so that other work on the machine affects both."""
    alone: list[float] = []
    beside: list[float] = []
    rates: list[float] = []
    knob = Knob(bench)
    knob.turned()
    for _ in range(ROUNDS):
        alone += knob.turned()
        job = bench.start(wirings=[{"version": one} for one in bench.versions])
        bench.until(job, lambda one: bool(one["progress"]))
        beside += knob.turned()
        found: dict[str, Any] = bench.get(job)
        assert found["state"] == "running", "the listing ended too early to compare"
        rates.append(found["progress"]["times_real_time"])
        bench.post(job, "cancel")
        bench.ended(job)
    quiet, busy = (np.percentile(one, [50.0, 99.0]) for one in (alone, beside))
    ratio = busy[0] / quiet[0]
    figure = f"p50 {busy[0]:.1f} ms against {quiet[0]:.1f}, p99 {busy[1]:.1f} against {quiet[1]:.1f}"
    record(
        "filters of a turned knob, a listing running behind",
        f"{ratio:.2f} x: {figure}",
        f"p50 <= {SLOWER:g} x",
    )
    record("the listing meanwhile", f"{np.mean(rates):.0f} x real time", "-")
    assert ratio <= SLOWER / SLACK
