"""How quick the page's sound is: from a knob to the filters, from Play to sound, and the player's own speed.

Asserted is what only a real loss would miss; the figures are printed.
"""

from __future__ import annotations

import http.client
import json
import socket
import time
from base64 import b64encode
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from browser_fixtures import until
from playwright.sync_api import Page
from server_process import Running

from dsp.chain.ways import WAYS
from dsp.filters.bank import Bank, Deviation
from server.bench.hearing import frame_of

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

POSITIONS = ["1", "2", "3", "4", "5", "6"]
MOVES, PARTS = 500, 10
KNOB_MS = 12.0
"""The bar: from a knob's event to its filters in the player, 99 of 100."""
PLAY_S = 1.5
SLACK = 0.5


def percentiles(milliseconds: Any) -> tuple[float, float]:
    """Return the 50th and the 99th percentile."""
    middle, late = np.percentile(milliseconds, [50.0, 99.0])
    return float(middle), float(late)


def begin(page: Page) -> None:
    page.evaluate("() => bench.open('Baritone', 'demo:low_riff')")
    page.evaluate("() => bench.load()")
    page.evaluate("() => bench.ask({position: '1', knobs: {}, switches: {}})")
    until(page, "bench.seen.frames > 1 || bench.seen.frames === 1")


@pytest.mark.parametrize("way", ["direct", "clean", "driven"])
def test_from_a_knob_to_the_filters(player: Page, way: str, record: Callable[[str, str, str], None]) -> None:
    """In ten parts: other work on the machine disturbs only some of them."""
    begin(player)
    if way != "direct":
        player.evaluate("way => bench.hear(way)", way)
    player.evaluate("() => bench.engine.play()")
    until(player, "bench.seen.ticks.length > 5")
    options = {"positions": POSITIONS, "knobs": ["volume", "tone"], "everyMs": 45, "spread": 0.8}
    seed = 1 + PARTS * list(WAYS).index(way)  # no way finds the settings of another
    parts: list[list[float]] = []
    came: list[float] = []
    for part in range(PARTS):
        player.evaluate("() => { bench.seen.late = {}; bench.seen.asked = {}; bench.seen.came = {}; }")
        player.evaluate("([s, o]) => bench.play(s, o)", [2.6, {**options, "seed": seed + part}])
        player.wait_for_timeout(100)
        parts.append(player.evaluate("() => Object.values(bench.seen.late)"))
        came += player.evaluate("() => Object.values(bench.seen.came).filter(Number.isFinite)")
    every = [one for part in parts for one in part]
    calm = [
        one for part in sorted(parts, key=lambda part: float(np.mean(part)))[: PARTS // 2] for one in part
    ]
    middle, late = percentiles(every)
    calm_middle, calm_late = percentiles(calm)
    what, bar = f"{way}: knob event to filters in the player, {len(every)} moves", f"p99 <= {KNOB_MS:g} ms"
    record(what, f"p50 {middle:.1f} ms, p99 {late:.1f} ms", bar)
    page_middle, page_late = percentiles(came)
    record("of it until they are in the page", f"p50 {page_middle:.1f} ms, p99 {page_late:.1f} ms", "-")
    record("the same, the calmer half of them", f"p50 {calm_middle:.1f} ms, p99 {calm_late:.1f} ms", bar)
    record("gaps in the sound during them", str(player.evaluate("() => bench.engine.underruns")), "0")
    assert len(every) > 0.8 * MOVES
    assert calm_middle <= KNOB_MS / SLACK


def test_from_play_to_sound(player: Page, record: Callable[[str, str, str], None]) -> None:
    begin(player)
    begun = time.perf_counter()
    player.evaluate("() => bench.engine.play()")
    until(player, "bench.seen.ticks.length > 0")
    seconds = time.perf_counter() - begun
    output_ms = player.evaluate("() => bench.engine.stats().outputMs")
    figure = f"{seconds:.2f} s, {output_ms:.0f} ms of it or more in the device"
    record("Play to first sound, take at hand", figure, f"<= {PLAY_S:g} s")
    assert seconds <= PLAY_S / SLACK


def test_from_opening_to_sound(player: Page, record: Callable[[str, str, str], None]) -> None:
    begin(player)  # the take was played once before
    begun = time.perf_counter()
    begin(player)
    player.evaluate("() => bench.engine.play()")
    until(player, "bench.seen.ticks.length > 0")
    record("opening a wiring, stems fetched, to sound", f"{time.perf_counter() - begun:.2f} s", "-")


def a_bank(coils: int, sections: int, taps: int) -> Bank:
    """Return a stable bank of a given size."""
    rng = np.random.default_rng(2)
    radius, angle = rng.uniform(0.8, 0.98, sections), rng.uniform(0.1, 2.5, sections)
    poles = np.stack([-2.0 * radius * np.cos(angle), radius**2], axis=1)
    numerators = 1e-3 * rng.standard_normal((coils, sections, 2))
    return Bank(48_000.0, 12, poles, numerators, 1e-3 * rng.standard_normal((coils, taps)), Deviation())


def test_the_players_own_speed(player: Page, record: Callable[[str, str, str], None]) -> None:
    frame = b64encode(frame_of(1, a_bank(8, 6, 32), np.nan)).decode()
    run = {"coils": 8, "seconds": 40, "frame": frame}
    still = player.evaluate("run => bench.speed(run)", {**run, "everyBlocks": 0})
    moving = player.evaluate("run => bench.speed(run)", {**run, "everyBlocks": 8})
    figure = f"{still:.0f} x real time, {moving:.0f} x while knobs never rest"
    record("player, 8 coils x 6 sections x 32 taps", figure, "> 10 x")
    assert moving > 10.0 * SLACK


def test_the_endpoints(shared_server: Running, record: Callable[[str, str, str], None]) -> None:
    host = http.client.HTTPConnection(shared_server.url.removeprefix("http://"))
    host.connect()
    host.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # as browsers do

    def call(method: str, path: str, body: Any = None) -> bytes:
        headers = {"Content-Type": "application/json", "X-Presolder": "1"}
        host.request(method, path, None if body is None else json.dumps(body), headers)
        answer = host.getresponse()
        data = answer.read()
        assert answer.status == 200, data[:500]
        return data

    rows = json.loads(call("GET", "/api/commissions"))
    version = next(w["version"] for row in rows for w in row["wirings"] if "Baritone" in w["name"])
    stands = iter(np.linspace(0.0, 10.0, 2000))

    def draft(fresh: bool) -> dict[str, Any]:
        value = f"{22.0 + next(stands):.6f} nF"
        edit = {"path": ["parts", "tone_cap", "capacitance"], "value": value}
        return {"version": version, "edits": [edit] if fresh else []}

    setting = {"position": "2", "knobs": {"tone": 5.0}, "switches": {}}

    def post(path: str, fresh: bool = False, **more: Any) -> bytes:
        return call("POST", f"/api/draft/{path}", {"draft": draft(fresh), **more})

    def turned() -> dict[str, Any]:
        return {**setting, "knobs": {"tone": next(stands)}}

    stems = f"/api/stems?{urlencode({'version': version, 'take': 'demo:low_riff'})}"
    asked = {
        "check, an edit just made": lambda: post("check", fresh=True),
        "facts of six positions": lambda: post("facts", knobs={"tone": next(stands)}),
        "response": lambda: post("response", settings=[turned()]),
        "fan of 11": lambda: post("fan", setting=setting, knob="tone"),
        "filters, a new setting": lambda: post("filters", setting=turned()),
        "filters, an edit just made": lambda: post("filters", fresh=True, setting=setting),
        "stems, 12 s of 4 coils": lambda: call("GET", stems),
    }
    for what, work in asked.items():
        work()
        found = []
        for _ in range(25):
            begun = time.perf_counter()
            work()
            found.append(1000.0 * (time.perf_counter() - begun))
        record(f"request: {what}", f"median {np.median(found):.1f} ms, least {min(found):.1f} ms", "-")
        assert min(found) < 1000.0
    host.close()
