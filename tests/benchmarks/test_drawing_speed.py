"""How soon the drawing is there, and how long a frame of a drag takes by the page's own clock."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from bench_page import new_commission
from browser_fixtures import until
from playwright.sync_api import Page
from server_process import Running

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

SHOWN_S, FRAME_MS = 0.3, 16.0
"""The bars, on two quiet cores."""
SLACK = 0.25
STEPS = 30

SHOWN = """
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) {
    if (entry.name.endsWith("/draft/check") && !window.wiringAt) window.wiringAt = entry.responseEnd;
  }
}).observe({ type: "resource", buffered: true });
const timer = setInterval(() => {
  if (!document.querySelector(".board-picture .wire")) return;
  window.drawnAt = performance.now();
  clearInterval(timer);
}, 4);
"""
"""Note when the wiring has come and when its drawing stands."""

FRAMES = """
window.frames = [];
const request = window.requestAnimationFrame;
window.requestAnimationFrame = (act) => request((now) => {
  const begun = performance.now();
  act(now);
  window.frames.push(performance.now() - begun);
});
"""
"""Note what every frame's own work takes."""


@pytest.mark.parametrize("starter", ["baritone", "twelve"])
def test_the_drawing_is_shown_soon_after_the_wiring(
    page: Page, shared_server: Running, record: Callable[[str, str, str], None], starter: str
) -> None:
    commission = new_commission(page, shared_server.url, starter=starter)
    page.add_init_script(SHOWN)
    for caches in ("nowhere", "by the list's picture", "by the browser"):
        if caches == "by the list's picture":
            page.evaluate("localStorage.clear()")
            row = page.request.get(f"{shared_server.url}/api/commissions/{commission}").json()
            version = row["wirings"][0]["versions"][-1]["id"]
            assert page.request.get(f"{shared_server.url}/api/versions/{version}/picture").ok
        page.goto("about:blank")
        page.goto(f"{shared_server.url}/#/c/{commission}")
        until(page, "window.drawnAt && window.wiringAt")
        shown_s = max(0.0, page.evaluate("window.drawnAt - window.wiringAt") / 1000.0)
        record(
            f"{starter}: drawing after the wiring, layout kept {caches}",
            f"{shown_s:.2f} s",
            f"<= {SHOWN_S:g} s",
        )
        assert shown_s <= SHOWN_S / SLACK


def test_a_part_is_dragged_frame_by_frame(
    page: Page, shared_server: Running, record: Callable[[str, str, str], None]
) -> None:
    page.add_init_script(FRAMES)
    page.goto(f"{shared_server.url}/#/c/{new_commission(page, shared_server.url)}")
    jack = page.locator(".part.jack .casing").first
    jack.wait_for()
    page.wait_for_timeout(2000)
    box = jack.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + 4
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate("window.frames.length = 0")
    for step in range(STEPS):
        page.mouse.move(x - 4 * step, y + 6 * (step % 9))
        page.wait_for_timeout(30)
    frames = sorted(page.evaluate("window.frames"))
    page.mouse.up()
    median = frames[len(frames) // 2]
    record("a frame of a drag, median", f"{median:.1f} ms", f"<= {FRAME_MS:g} ms")
    assert median <= FRAME_MS / SLACK
