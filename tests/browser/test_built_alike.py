"""Ten instruments by tolerance on the page: bands, limits, the farthest two beside each other."""

from __future__ import annotations

import re

import pytest
from bench_page import new_commission, open_bench
from browser_fixtures import Console, until
from page_looks import look
from playwright.sync_api import Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_ten_instruments_are_seen_limited_and_heard(
    page: Page, shared_server: Running, console: Console
) -> None:
    url = shared_server.url
    commission = new_commission(page, url, "Alike", starter="two_singles")
    open_bench(page, url, commission)
    page.get_by_role("button", name="Built ten times").click()
    dialog = page.get_by_role("dialog", name="Built ten times")
    expect(dialog.get_by_text("Built 10 times, the farthest two differ by", exact=False)).to_be_visible()
    expect(dialog.locator(".spread-shares li").first).to_contain_text("The player's cable")
    expect(dialog.get_by_role("img", name=re.compile("Position 1: resonance .* kHz to .*"))).to_be_visible()
    dialog.get_by_label("What to limit").select_option("level")
    dialog.get_by_label("At most, dB").fill("40")
    dialog.get_by_role("button", name="Add").click()
    expect(dialog.get_by_text("All of them: 200 of 200", exact=False)).to_be_visible()
    dialog.get_by_label("What to limit").select_option("resonance")
    dialog.get_by_label("From", exact=True).fill("50 Hz")
    dialog.get_by_label("To", exact=True).fill("100 Hz")
    dialog.get_by_label("To", exact=True).press("Enter")
    expect(dialog.get_by_text("All of them: 0 of 200", exact=False)).to_be_visible()
    expect(dialog.locator(".limits li")).to_have_count(2)
    look(page, "dialog", "alike-limits")
    dialog.get_by_role("button", name="Remove: resonance of 1 between 50 Hz and 100 Hz").click()
    expect(dialog.get_by_text("All of them: 200 of 200", exact=False)).to_be_visible()
    dialog.get_by_role("button", name="Hear the farthest two").click()
    expect(dialog).to_have_count(0)
    expect(page.locator(".chips .chip")).to_have_count(3)
    expect(page.locator(".chip.heard")).to_contain_text("B ")
    until(page, "document.querySelectorAll('.curve').length >= 3")
