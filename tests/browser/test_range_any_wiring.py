"""The lug chart of any wiring on the page: as soldered now, for another switch, for two; what it needs."""

from __future__ import annotations

import pytest
from bench_page import new_commission, open_bench
from places import PICTURES
from playwright.sync_api import Locator, Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]


def open_chart(page: Page, url: str, starter: str) -> Locator:
    """Open the range view of a new commission; return its chart's section."""
    open_bench(page, url, new_commission(page, url, starter=starter))
    page.get_by_role("button", name="Range", exact=True).click()
    return page.locator(".charting")


def test_a_wired_switch_is_shown_as_soldered_and_charted_for_another(
    page: Page, shared_server: Running
) -> None:
    chart = open_chart(page, shared_server.url, "three_singles")
    expect(chart.get_by_text("as it is soldered now: five-position blade, two poles")).to_be_visible()
    rows = chart.locator(".wired-switches tbody tr")
    expect(rows).to_have_count(5)
    expect(rows.nth(1)).to_contain_text("A0–A1–A2")
    expect(rows.nth(1)).to_contain_text("neck | middle")
    go = chart.get_by_role("button", name="Make the chart")
    chart.get_by_label("Switch", exact=True).select_option("toggle_3_selector")
    expect(chart.get_by_text("5 sounds need as many positions; this gives 3 positions")).to_be_visible()
    expect(go).to_be_disabled()
    chart.get_by_label("Switch", exact=True).select_option("rotary_5_two_pole")
    expect(chart.get_by_text("Wires the 5 sounds of the present switch on 5 positions.")).to_be_visible()
    page.screenshot(path=PICTURES / "chart-wired.png", full_page=True)
    go.click()
    expect(page.locator(".chart-sheet")).to_be_visible(timeout=30_000)
    expect(page.locator(".chart-sheet tbody tr")).to_have_count(5)
    expect(page.locator(".chart-sheet tbody tr").nth(4)).to_contain_text("bridge")


def test_two_switches_make_one_chart(page: Page, shared_server: Running) -> None:
    chart = open_chart(page, shared_server.url, "two_singles")
    chart.get_by_label("Switch", exact=True).select_option("toggle_on_on")
    expect(chart.get_by_role("button", name="Make the chart")).to_be_disabled()
    chart.get_by_label("And a second switch").select_option("push_pull")
    expect(chart.get_by_text("In order: 1 down, 1 up, 2 down, 2 up.")).to_be_visible()
    chart.get_by_label("Its shaft").select_option("tone")
    chart.get_by_role("button", name="Make the chart").click()
    expect(page.locator(".chart-sheet tbody tr").first).to_contain_text("1+down", timeout=30_000)
    page.get_by_role("button", name="Save as a new wiring").click()
    expect(page.get_by_text("Saved as a new wiring, which plays now.")).to_be_visible()
    expect(page.locator(".switches legend")).to_have_text(["Push pull"])


def test_a_wiring_that_cannot_be_charted_anew_says_why_beside_the_button(
    page: Page, shared_server: Running
) -> None:
    chart = open_chart(page, shared_server.url, "tenor")
    expect(chart.get_by_text("as it is soldered now")).to_be_visible()
    expect(chart.get_by_text("The sounds of this switch cannot be wired anew")).to_be_visible()
    expect(chart.get_by_role("button", name="Make the chart")).to_be_disabled()
