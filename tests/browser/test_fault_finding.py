"""A guitar that does something odd: words, readings, the joint lit on the drawing."""

from __future__ import annotations

import re

import pytest
from bench_page import new_commission, open_bench
from browser_fixtures import Console, until
from page_looks import look
from playwright.sync_api import Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_an_odd_guitar_leads_to_its_joint(page: Page, shared_server: Running, console: Console) -> None:
    console.expected.append("422 (Unprocessable")  # a reading that is none
    url = shared_server.url
    commission = new_commission(page, url, "Odd", starter="two_singles")
    open_bench(page, url, commission)
    page.get_by_role("button", name="What could be wrong?").click()
    panel = page.get_by_role("region", name="What could be wrong?")
    expect(panel.get_by_text("Take the battery out", exact=False)).to_be_visible()
    expect(panel.get_by_role("button", name="Enter it")).to_be_visible(timeout=30_000)
    panel.get_by_role("checkbox", name="Position 2: thin").check()
    panel.get_by_role("checkbox", name="Position 1: fine").check()
    panel.get_by_role("checkbox", name="Position 3: fine").check()
    summary = panel.locator(".fault-answer > [role=status]")
    expect(summary).to_contain_text("By 3 readings")
    swapped = panel.get_by_role("button", name=re.compile("start and finish of .* are exchanged", re.I)).first
    swapped.hover()
    expect(page.locator("[data-lit$='.start']").first).to_be_visible()
    swapped.click()
    expect(swapped).to_have_attribute("aria-pressed", "true")
    panel.get_by_role("heading", name="What could be wrong?").hover()
    expect(page.locator("[data-lit$='.start']").first).to_be_visible()
    look(page, ".faults", "faults-heard")

    page.reload()
    until(page, "document.querySelector('.fault-lines li')")
    expect(panel.get_by_role("checkbox", name="Position 2: thin")).to_be_checked()
    panel.get_by_role("button", name="Throw these readings away").click()
    expect(panel.get_by_role("checkbox", name="Position 2: thin")).not_to_be_checked()
    panel.get_by_role("button", name="Enter it").click()
    field = page.locator(":focus")
    expect(field).to_have_attribute("aria-label", re.compile("^The meter: Position"))
    field.fill("eight")
    field.press("Enter")
    expect(panel.locator(".faults-row .problem").filter(has_text="Got 'eight'")).to_be_visible()
    field = panel.get_by_role("textbox", name="The meter: Position 1", exact=True)
    field.fill("open")
    field.press("Enter")
    panel.get_by_label("I have the rig too").check()
    panel.get_by_role("button", name="Bring recordings in “Built?”").click()
    built = page.get_by_role("region", name="Built?")
    expect(built.get_by_role("textbox").first).to_have_value("open")
    built.get_by_role("button", name="What could be wrong?").click()
    expect(panel.get_by_role("textbox", name="The meter: Position 1", exact=True)).to_have_value("open")
    panel.get_by_role("checkbox", name="Position 1: fine").focus()
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
    expect(page.get_by_role("button", name="What could be wrong?")).to_be_visible()
