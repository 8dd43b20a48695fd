"""The build sheet on the bench: ticked off and remembered, printed, kept as PDF and as data."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_page import asked, new_commission, open_bench, open_part
from browser_fixtures import Held, until
from places import DEMO, PICTURES, TESTS
from playwright.sync_api import Page, expect
from server_process import Running
from sheet_text import joints_of, pages_of_pdf, soldered_joints, text_of_pdf, wires_in

from server.wirings.text import load_wiring

pytestmark = pytest.mark.browser

BARITONE, HARD = DEMO / "baritone.yaml", TESTS / "server" / "documents" / "three_humbuckers.yaml"


def open_sheet(page: Page, url: str, starter: str = "twelve") -> str:
    """Open the sheet of a new commission and return the commission's id."""
    commission = new_commission(page, url, "A sheet to solder from", starter)
    open_bench(page, url, commission)
    page.get_by_role("button", name="Build sheet").click()
    page.locator(".build-sheet").wait_for()
    return commission


def box(page: Page, words: str):
    """Return the box of the step that says some words."""
    return page.locator(".build-sheet label", has_text=words).first.get_by_role("checkbox")


@pytest.mark.long
def test_a_step_ticks_off_is_remembered_and_lost_when_its_wire_goes(
    page: Page, shared_server: Running
) -> None:
    open_sheet(page, shared_server.url)
    first = page.locator(".build-sheet .steps input").first
    first.focus()
    page.keyboard.press("Space")
    expect(page.locator(".sheet-head")).to_contain_text("1 of ")
    expect(page.locator(".build-sheet [aria-current=step] b")).to_have_text("2")
    with page.expect_response("**/ticks"):
        box(page, "volume 2 to output tip").check()
    expect(page.locator(".sheet-head")).to_contain_text("2 of ")
    page.reload()
    page.locator(".build-sheet").wait_for()
    expect(box(page, "volume 2 to output tip")).to_be_checked()
    expect(first).to_be_checked()
    # a wire that was soldered before the jack had another name
    version = page.evaluate("document.querySelector('.crumb select').value")
    wiring = asked(page, shared_server.url, "GET", f"/versions/{version}")["wiring_id"]
    old = {"step": "volume.2~jack.tip", "text": "volume 2 to jack tip", "done": True}
    asked(page, shared_server.url, "PUT", f"/wirings/{wiring}/ticks", old)
    page.reload()
    expect(page.locator(".sheet-said")).to_contain_text("1 thing that you did is no longer on the sheet")
    expect(page.locator(".sheet-said li")).to_contain_text("Unsolder: volume 2 to jack tip")
    page.get_by_role("button", name="Done").click()
    expect(page.locator(".sheet-said")).to_be_empty()


@pytest.mark.long
@pytest.mark.parametrize(
    ("path", "paper", "size"), [(BARITONE, "A4", (841.89, 595.28)), (HARD, "Letter", (792.0, 612.0))]
)
def test_the_printed_page_alone_rebuilds_the_network(
    page: Page, shared_server: Running, tmp_path: Path, path: Path, paper: str, size: tuple[float, float]
) -> None:
    """Sizes: ISO 216; ANSI Y14.1 A, in points."""
    page.emulate_media(color_scheme="dark")
    new = {"title": "To be printed", "wiring_text": path.read_text(encoding="utf-8")}
    made = asked(page, shared_server.url, "POST", "/commissions", new)
    page.goto(f"{shared_server.url}/#/c/{made['id']}")
    page.get_by_role("button", name="Build sheet").click()
    page.locator(".build-sheet").wait_for()
    page.get_by_role("radio", name=paper).check(force=True)
    expect(page.locator(".sheet-head")).to_contain_text(f"pages of {paper}")
    printed = tmp_path / "printed.pdf"
    content = page.pdf(path=printed, prefer_css_page_size=True)
    assert pages_of_pdf(content) <= 3
    wiring = load_wiring(path)
    assert joints_of(wires_in(text_of_pdf(printed), wiring)) == soldered_joints(wiring)
    assert f"/MediaBox [0 0 {size[0]:.2f}"[:18].encode() in content
    page.emulate_media(media="print", color_scheme="dark")
    ink = "getComputedStyle(document.querySelector('.build-sheet {}')).{}"
    assert page.evaluate(ink.format(".steps label", "color")) == "rgb(0, 0, 0)"
    assert page.evaluate(ink.format(".wire .outer", "stroke")) == "rgb(0, 0, 0)"
    assert not page.locator(".top").is_visible()


@pytest.mark.long
def test_pdf_and_data_are_saved_and_an_unsaved_edit_is_on_the_sheet(
    page: Page, shared_server: Running, tmp_path: Path
) -> None:
    open_sheet(page, shared_server.url, "baritone")
    with page.expect_download() as saving:
        page.get_by_role("button", name="PDF").click()
    saving.value.save_as(tmp_path / "sheet.pdf")
    wiring = load_wiring(DEMO / "baritone.yaml")
    assert joints_of(wires_in(text_of_pdf(tmp_path / "sheet.pdf"), wiring)) == soldered_joints(wiring)
    with page.expect_download() as saving:
        page.get_by_role("button", name="Data").click()
    saving.value.save_as(tmp_path / "sheet.json")
    record = json.loads((tmp_path / "sheet.json").read_text(encoding="utf-8"))
    assert joints_of((wire["from"], wire["to"]) for wire in record["wires"]) == soldered_joints(wiring)
    box(page, "tone_cap a to").check()
    page.get_by_role("button", name="Build sheet").click()
    open_part(page, "tone_cap")
    value = page.get_by_role("textbox", name="Tone cap capacitance")
    value.fill("47 nF")
    value.press("Enter")
    page.get_by_role("button", name="Build sheet").click()
    expect(page.locator(".sheet-head")).to_contain_text("with 1 unsaved edit")
    expect(page.locator(".sheet-said")).to_contain_text("1 step changed and lost its tick")
    expect(box(page, "tone_cap a to")).not_to_be_checked()
    PICTURES.mkdir(exist_ok=True)
    page.screenshot(path=PICTURES / "sheet-changed.png", full_page=True)


@pytest.mark.long
def test_a_tick_that_is_not_kept_is_taken_back_and_told(page: Page, shared_server: Running, console) -> None:
    console.expected += ["Failed to load resource", "net::ERR_FAILED"]
    open_sheet(page, shared_server.url)
    page.route("**/ticks", lambda route: route.abort())
    first = page.locator(".build-sheet .steps input").first
    first.click()
    page.get_by_text("is not kept").wait_for()
    expect(first).not_to_be_checked()
    page.unroute("**/ticks")
    first.click()
    until(page, "document.querySelector('.build-sheet .steps input').checked")
    page.get_by_role("button", name="Begin anew").click()
    expect(first).not_to_be_checked()
    page.get_by_role("button", name="Undo", exact=True).last.click()
    expect(first).to_be_checked()


@pytest.mark.long
def test_a_sketch_has_no_sheet_and_shows_the_way_to_one(page: Page, shared_server: Running) -> None:
    url = shared_server.url
    text = (DEMO / "baritone_sketch.yaml").read_text(encoding="utf-8")
    made = asked(page, url, "POST", "/commissions", {"title": "To be charted", "wiring_text": text})
    page.goto(f"{url}/#/c/{made['id']}")
    page.get_by_role("button", name="Build sheet").click()
    page.get_by_text("selector: still a sketch").wait_for()
    page.get_by_role("button", name="To the chart").click()
    page.locator(".range").first.wait_for()


@pytest.mark.long
def test_a_sheet_that_is_not_there_yet_says_so_in_its_frame(page: Page, shared_server: Running) -> None:
    held = Held()
    page.route("**/api/draft/sheet", held.keep)
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, "Slow", "twelve"))
    page.get_by_role("button", name="Build sheet").click()
    frame = page.locator(".sheet-paper")
    expect(frame.get_by_role("progressbar", name="The sheet is being drawn")).to_be_visible()
    expect(frame).to_have_attribute("aria-busy", "true")
    expect(page.locator(".sheet-head").get_by_role("status").first).to_have_text("The sheet is being drawn…")
    held.release()
    page.locator(".build-sheet").wait_for()
    expect(frame.get_by_role("progressbar")).to_have_count(0)
