"""A finished guitar at the bench: read, judged while typing, kept in the workshop's record."""

from __future__ import annotations

import re

import pytest
from bench_page import new_commission, open_bench
from browser_fixtures import Console
from page_looks import look
from playwright.sync_api import Locator, Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

TABLE = "freq,|z|,phase\n100,6200,10\n1000,15000,60\n4000,120000,0\n9000,20000,-60\n"


def said(field: Locator) -> Locator:
    """Return what is said beside a field."""
    return field.locator("xpath=ancestor::tr").locator(".built-side")


def test_a_finished_guitar_is_read_and_kept(page: Page, shared_server: Running, console: Console) -> None:
    console.expected.append("409 (Conflict")  # a serial number that is taken
    commission = new_commission(page, shared_server.url, "Finished", starter="one_coil")
    open_bench(page, shared_server.url, commission)
    page.get_by_role("button", name="Built?").click()
    view = page.get_by_role("region", name="Built?")
    expect(view.get_by_text("Play from a headphone output only", exact=False)).to_be_visible()
    assert page.url.endswith(f"#/c/{commission}/built")
    plain = view.get_by_label("Meter, Position 1", exact=True)
    plain.press_sequentially("9,0")
    expect(said(plain)).to_contain_text("too low · 9 Ω")
    plain.fill(plain.get_attribute("placeholder") or "")
    expect(said(plain)).to_contain_text("within")
    down = view.get_by_label("Meter, Position 1, Volume at 0")
    down.fill("0")
    expect(said(down)).to_contain_text("As it should be here")
    turned = view.get_by_label("Meter, Position 1, Tone at 5")
    turned.fill("OL")
    expect(said(turned)).to_contain_text("Nothing conducts")
    expect(view.get_by_text("One reading outside, 3 of 5 read, by the meter alone.")).to_be_visible()
    view.get_by_text("Impedance at the jack, by the rig").click()
    row = view.locator("[data-step='1']")
    row.locator("input[type=file]").set_input_files(
        [{"name": "jack.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}]
    )
    expect(row.locator(".measure-tick")).to_have_text("✓")
    expect(row.locator(".built-side")).to_have_count(4)
    look(page, "#main", "built-read", (("desk", "light"), ("phone", "dark")), whole=True)

    page.reload()
    expect(plain).not_to_have_value("")
    expect(view.get_by_text(re.compile(r"outside, 7 of 25 read"))).to_be_visible()
    text = page.evaluate("import('/web/js/built/readings.js').then((one) => one.readingsText())")
    assert text.splitlines()[0] == "setting;what;value"
    assert "1 tone=5;meter;OL" in text
    view.get_by_label("Serial number").fill("26-014")
    view.get_by_label("Notes").fill("Nut slot 3 recut.")
    view.get_by_role("button", name="Keep this guitar").click()
    card = view.locator(".built-card")
    expect(card).to_contain_text("26-014")
    expect(plain).to_have_value("")
    plain.fill("7,1k")
    view.get_by_label("Serial number").fill("26 - 014")
    view.get_by_role("button", name="Keep this guitar").click()
    expect(view.locator(".built-keep .problem")).to_contain_text("which an instrument has already")
    card.get_by_role("button", name="Read again: 26-014").click()
    page.get_by_role("button", name="Read it again").click()
    expect(turned).to_have_value("OL")
    turned.fill("7,1k")
    expect(said(turned)).to_contain_text("within")
    view.get_by_role("button", name="Keep as its newer state").click()
    expect(plain).to_have_value("")
    plain.fill("7,1k")
    view.get_by_role("button", name="Throw these readings away").click()
    expect(plain).to_have_value("")
    view.get_by_role("button", name="Bring the readings back").click()
    expect(plain).to_have_value("7,1k")
    thrown = page.locator(".toast").filter(has_text="are thrown away")
    expect(thrown).to_have_count(0)
    view.get_by_role("button", name="Throw these readings away").click()
    expect(plain).to_have_value("")
    thrown.get_by_role("button", name="Close").click()
    look(page, "#main", "built-kept", (("phone", "light"),), whole=True)
    card.get_by_role("button", name="Look: 26-014").click()
    dialog = page.get_by_role("dialog", name="26-014")
    dialog.get_by_text(re.compile("26-014, kept .*outside")).click()
    expect(dialog.get_by_text("Nut slot 3 recut.")).to_have_count(2)
    dialog.get_by_role("button", name="Close").click()
    page.get_by_role("button", name="Built?").click()
    assert page.url.endswith(f"#/c/{commission}")

    page.goto(f"{shared_server.url}/#/built")
    page.get_by_role("searchbox").fill("26-014 finished")
    found = page.locator(".built-card")
    expect(found).to_have_count(1)
    expect(page.get_by_role("link", name="CSV, decimal comma")).to_have_attribute(
        "href", re.compile("26-014")
    )
    look(page, "#main", "built-record", (("desk", "dark"),), whole=True)
    with page.expect_download() as report:
        found.get_by_role("link", name="Report, A4: 26-014").click()
    assert report.value.suggested_filename == "report-26-014.pdf"
    found.get_by_role("button", name="Archive: 26-014").click()
    expect(found).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(found).to_have_count(1)
