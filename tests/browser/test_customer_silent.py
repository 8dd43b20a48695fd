"""A customer's browser that cannot play says so."""

from __future__ import annotations

import pytest
from customer_page import Offered, Workshop
from playwright.sync_api import BrowserContext, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

WITHOUT = "delete window.AudioContext; delete window.OfflineAudioContext;"
STANDS = "Object.defineProperty(AudioContext.prototype, 'currentTime', { get: () => 0, configurable: true });"


@pytest.fixture(scope="module")
def offered(shared_server: Running) -> Offered:
    return Workshop.at(shared_server).propose(takes=("demo:e_slide",)).ready()


def test_a_browser_without_web_audio_is_sent_to_another(context: BrowserContext, offered: Offered) -> None:
    context.add_init_script(WITHOUT)
    page = offered.open(context.new_page())
    expect(page.locator(".trouble")).to_contain_text("This browser cannot play sounds")
    page.get_by_role("button", name="Close").click()
    page.get_by_role("button", name="Play").click()
    expect(page.locator(".trouble")).to_contain_text("Open the page in another browser")
    expect(page.get_by_role("button", name="Play")).to_be_visible()  # nothing pretends to play


def test_sound_that_never_starts_is_told_until_it_does(context: BrowserContext, offered: Offered) -> None:
    context.add_init_script(STANDS)
    page = offered.open(context.new_page())
    page.get_by_role("button", name="Play").click()
    expect(page.locator(".trouble")).to_contain_text("No sound starts on this device")
    page.evaluate("() => { delete AudioContext.prototype.currentTime; }")
    expect(page.locator(".trouble")).to_be_hidden()
