"""The customer's page on a slow line: what was tapped comes first, and the knobs come with progress."""

from __future__ import annotations

import re
import time

import pytest
from browser_fixtures import Held
from customer_page import TAP_OUTPUT, Workshop, sound, tap_sound, until_heard
from playwright.sync_api import BrowserContext, Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

RATE, LATENCY_S = 400e3 / 8, 0.15
"""Bytes per second, and s."""
LINE = {"offline": False, "latency": 1e3 * LATENCY_S, "downloadThroughput": RATE, "uploadThroughput": RATE}
TAPPED_S, KNOBS_S = 3.0, 60.0


def on_the_line_s(files: list[int]) -> float:
    """Return how long files take on the line, one by one; no clock of this machine counts."""
    return sum(LATENCY_S + size / RATE for size in files)


def sizes(page: Page, ending: str) -> list[int]:
    script = """ending => performance.getEntriesByType("resource")
      .filter(({ name }) => new URL(name).pathname.match(ending)).map(({ transferSize }) => transferSize)"""
    found: list[int] = page.evaluate(script, ending)
    return found


def test_a_tapped_sound_and_the_knobs_come_over_a_slow_line(
    context: BrowserContext, shared_server: Running
) -> None:
    offered = Workshop.at(shared_server).propose(takes=("demo:staccato",)).ready()
    context.add_init_script(TAP_OUTPUT)
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("Network.enable")
    devtools.send("Network.emulateNetworkConditions", LINE)
    clip = offered.workshop.client.get(f"/api{offered.link}").json()["items"][4]["clips"]["demo:staccato"]
    last, knobs = Held(), Held()
    for part, held in ((clip["mp3"], last), ("/live/", knobs)):
        page.route(re.compile(re.escape(part)), held.keep)
    offered.open(page)
    tap_sound(page, 1)
    until_heard(page, within_s=60.0)
    tap_sound(page, 5)
    expect(sound(page, 5).locator(".state")).to_have_text("loading…")
    begun = time.monotonic()
    last.release()
    expect(sound(page, 5).locator(".state")).to_have_text("")
    print(f"file to sound {time.monotonic() - begun:.1f} s")
    assert not sizes(page, r"\.flac$"), "a slow line gets the small files"
    clips = sizes(page, r"\.mp3$")
    assert clips
    assert max(on_the_line_s([size]) for size in clips) <= TAPPED_S
    sound(page, 5).get_by_role("button", name="Turn the knobs").click()
    expect(sound(page, 5).locator(".turn")).to_contain_text("Loading the music for the knobs")
    begun = time.monotonic()
    knobs.release()
    sound(page, 5).get_by_role("slider").first.wait_for(timeout=120_000)
    print(f"knobs {time.monotonic() - begun:.1f} s")
    assert on_the_line_s(sizes(page, r"/live/")) <= KNOBS_S
