"""A sketch beside the selector is charted on the page, and a jack's plugs are chosen in words."""

from __future__ import annotations

import pytest
from bench_page import asked
from browser_fixtures import Console
from playwright.sync_api import Page, expect
from server_process import Running
from tenor import TENOR

pytestmark = [pytest.mark.browser, pytest.mark.long]

TWO = (
    TENOR.replace(
        "  output: {kind: jack}",
        "  fat: {kind: sketch, positions: {thin: drain, fat: fat_cap}}\n"
        "  drain: {kind: resistor, resistance: 1 MΩ}\n"
        "  fat_cap: {kind: capacitor, capacitance: 2.2 nF}\n"
        "  second: {kind: jack}\n"
        "  output: {kind: jack, lugs: [ring]}",
    )
    .replace("[volume.2, output.tip]", "[volume.2, fat.hot, second.tip, output.tip]")
    .replace("tone_cap.b, output.sleeve]", "tone_cap.b, fat.cold, second.sleeve, output.sleeve]")
)


@pytest.fixture
def bench(page: Page, shared_server: Running, console: Console) -> Page:
    """Open the bench on a wiring with two sketches; the takes at hand are for six strings."""
    console.expected.append("422")
    made = asked(page, shared_server.url, "POST", "/commissions", {"title": "Two", "wiring_text": TWO})
    page.goto(f"{shared_server.url}/#/c/{made['id']}")
    page.locator(".stop").first.wait_for()
    return page


def test_the_second_sketch_becomes_a_toggle_and_the_first_stays(bench: Page) -> None:
    expect(bench.get_by_role("radio", name="mono plug")).to_be_checked()
    expect(bench.get_by_role("radio", name="no plug", exact=True)).to_be_checked()
    bench.get_by_role("button", name="Range").click()
    chart = bench.locator(".charting")
    chart.get_by_label("What is charted").select_option("fat")
    chart.get_by_label("Switch", exact=True).select_option("toggle_on_on")
    chart.get_by_role("button", name="Make the chart").click()
    expect(chart).to_contain_text("fewer are not possible")
    rows = chart.locator("table").first.locator("tbody tr")
    expect(rows.nth(0)).to_contain_text("thin")
    expect(rows.nth(1)).to_contain_text("fat_cap")
    chart.get_by_role("button", name="Save as a new wiring").click()
    expect(bench.get_by_text("Saved as a new wiring, which plays now.")).to_be_visible()
    toggle = bench.locator(".switches fieldset", has_text="Fat")
    expect(toggle.get_by_role("radio", name="position 1")).to_be_checked()
    expect(bench.locator(".stop")).to_have_count(3)
