"""The hum of a room on the bench: one button, by keyboard, kept over a flip, remembered, off at the start."""

from __future__ import annotations

from typing import Any

import pytest
from bench_page import asked, new_commission, open_bench, stop
from browser_fixtures import until
from playwright.sync_api import Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

ASKS = """
  globalThis.asks = [];
  const post = MessagePort.prototype.postMessage;
  MessagePort.prototype.postMessage = function (message, ...more) {
    if (message?.type === "ask" && message.frame) asks.push(message.hum ?? null);
    return post.call(this, message, ...more);
  };
"""


def last_hum(page: Page) -> Any:
    return page.evaluate("asks.at(-1) && {largest: Math.max(...asks.at(-1).wave), areas: asks.at(-1).areas}")


def test_hum_is_heard_in_a_room_and_stays_over_a_flip(page: Page, shared_server: Running) -> None:
    page.add_init_script(ASKS)
    commission = new_commission(page, shared_server.url)
    open_bench(page, shared_server.url, commission)
    button = page.get_by_role("button", name="Hear the hum", exact=True)
    expect(button).to_have_attribute("aria-pressed", "false")
    expect(page.get_by_label("Room of the hum")).to_be_hidden()
    button.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Pause", exact=True)).to_be_visible()
    expect(button).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_text("1 µT at 50 Hz and its odd harmonics, computed")).to_be_visible()
    until(page, "asks.at(-1)")
    stage = last_hum(page)
    room = page.get_by_label("Room of the hum")
    room.select_option(label="beside the amplifier's transformer")
    page.get_by_label("Mains frequency").select_option("60")
    until(page, "asks.at(-1).wave.length === 800")
    near = last_hum(page)
    assert near["largest"] / stage["largest"] == pytest.approx(3.6, rel=0.01), "3 µT, and 60 Hz to 50"
    assert near["areas"] == stage["areas"]
    assert min(near["areas"]) < 0.0 < max(near["areas"])
    before = page.evaluate("asks.length")
    stop(page, "5").locator("input").check(force=True)
    until(page, f"asks.length > {before}")
    assert last_hum(page) == near
    expect(page.get_by_text("3 µT at 60 Hz")).to_be_visible()
    until_saved(page, shared_server.url, commission, {"on": True, "room": "amplifier", "mains": 60})
    button.click()
    until(page, "asks.at(-1) === null")
    expect(room).to_be_hidden()
    expect(page.get_by_role("button", name="Pause", exact=True)).to_be_visible()
    page.reload()
    expect(button).to_have_attribute("aria-pressed", "false")
    button.click()
    expect(page.get_by_text("3 µT at 60 Hz")).to_be_visible()


def until_saved(page: Page, url: str, commission: str, wanted: dict[str, Any]) -> None:
    for _ in range(200):
        found = asked(page, url, "GET", f"/commissions/{commission}")["state"]
        if found and found.get("hum") == wanted:
            return
        page.wait_for_timeout(50)
    pytest.fail("the room is not saved")
