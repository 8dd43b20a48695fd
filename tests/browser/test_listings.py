"""Listings from the page, as a user makes one: chosen, started, followed, cancelled, downloaded."""

from __future__ import annotations

import contextlib
import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_page import open_bench
from browser_fixtures import Console, Held, until
from listing_case import content
from listing_requests import Bench, serving
from page_axe import find_violations
from PIL import Image
from places import PICTURES
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

pytestmark = pytest.mark.browser

WIDTHS = {"phone": (360, 740), "desk": (1280, 800)}
COARSE_PX = 44
TOUCHED = "button, select, .button, .nav a, summary, .ticks label"
TOO_SMALL = """([selector, least]) => [...document.querySelectorAll(selector)]
    .filter(element => element.checkVisibility())
    .map(element => [element.textContent, element.getBoundingClientRect().height])
    .filter(([, height]) => height < least - 0.5).map(([name, height]) => `${name}: ${height}`)"""
ENDS_MS = 240_000
PHOTO = io.BytesIO()
Image.new("RGB", (64, 48), "teal").save(PHOTO, "PNG")
MATCHED = {"formats": [{"format": "flac"}], "loudness_lufs": -20, "settings": []}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    server = serving(tmp_path_factory.mktemp("listings"), instruments=3, takes=2)
    try:
        with contextlib.closing(Bench(server.start())) as bench:
            yield bench
    finally:
        server.stop()
        print(server.printed())


def fill_in(page: Page, title: str) -> None:
    """Fill in a listing of two instruments, one in two positions, with one further setting."""
    page.get_by_label("Name", exact=True).fill(title)
    rows = page.locator(".instrument").filter(has_text="Baritone")
    for place in (0, 2):
        rows.nth(place).get_by_role("checkbox").first.check()
    page.get_by_role("checkbox", name="Pluck 0").check()
    rows.first.get_by_text("All 6 positions").click()
    for position in ("2", "3", "4", "6"):
        rows.first.locator(f".places input[value='{position}']").uncheck()
    rows.first.get_by_text("For buyers: nothing yet").click()
    rows.first.get_by_label("Price").fill("1450 EUR")
    photo = {"name": "photo.png", "mimeType": "image/png", "buffer": PHOTO.getvalue()}
    rows.first.locator("input[type=file]").set_input_files(files=[photo])
    rows.first.get_by_role("button", name="Remove the picture").wait_for()
    rows.first.get_by_text("For buyers: picture, price").wait_for()
    page.get_by_role("button", name="Add a setting").click()
    page.get_by_label("Name of setting 2").fill("Warm")
    page.get_by_label("Knob or switch", exact=True).select_option("tone")
    page.get_by_label("Place of Tone").fill("3")


def planned(page: Page, words: str) -> None:
    """Wait until the plan shows a text."""
    page.get_by_role("status").filter(has_text=words).wait_for()


def job_of(page: Page, title: str) -> Locator:
    return page.get_by_role("article", name=title)


@pytest.mark.long
def test_a_listing_from_the_empty_page_to_the_zip(
    page: Page, context: BrowserContext, console: Console, bench: Bench
) -> None:
    console.expected += ["Content Security Policy", "Refused to connect", "Fetch API cannot load"]
    page.goto(bench.server.url)
    page.get_by_role("link", name="Listings").click()
    page.get_by_role("link", name="Make the first listing").click()
    expect(page.get_by_role("button", name="Start")).to_be_disabled()
    planned(page, "Choose at least one take.")
    fill_in(page, "Spring catalogue")
    planned(page, "2 instruments, 16 clips in 32 files,")
    later = Held(passing=1)  # the list as it is when the listing has begun; its news come when released
    page.route(re.compile(r"/api/listings\?"), later.keep)
    page.get_by_role("button", name="Start").click()
    job = job_of(page, "Spring catalogue")
    expect(job.get_by_role("progressbar")).to_have_attribute("aria-valuenow", re.compile(r"^\d+$"))
    job.get_by_text("of 2 instruments done").click()
    later.release()
    job.get_by_text("8 files", exact=True).wait_for()  # two positions, two settings, two formats
    job.get_by_role("link", name="Open in a new tab").wait_for(timeout=ENDS_MS)
    expect(job.get_by_text("2 instruments, 32 files")).to_be_visible()
    with page.expect_download() as downloading:
        job.get_by_role("link", name="Download as ZIP").click()
    assert downloading.value.suggested_filename == "Spring_catalogue.zip"
    folder = bench.folder(bench.client.get("/api/listings").json()[0]["id"])
    with zipfile.ZipFile(io.BytesIO(Path(downloading.value.path()).read_bytes())) as zipped:
        assert len(zipped.namelist()) == len(content(folder, own=False))
    with context.expect_page() as opening:
        job.get_by_role("link", name="Open in a new tab").click()
    listens(opening.value, context)


def listens(listing: Page, context: BrowserContext) -> None:
    """Check that the served pages play, and can neither read nor request anything else of the server."""
    listing.locator("a.card").first.click()
    assert listing.locator(".sale b").inner_text() == "1,450 EUR"
    until(listing, "document.querySelector('.picture').naturalWidth === 64")
    listing.get_by_role("button", name="Play").click()
    listing.get_by_text("Playing: ").wait_for()
    assert listing.evaluate("self.origin") == "null"
    assert listing.evaluate(
        "() => { try { return document.cookie; } catch (error) { return error.name; } }"
    ) == ("SecurityError")
    assert context.cookies() == []
    asked = "() => fetch('/api/commissions').then(() => 'answered', () => 'refused')"
    assert listing.evaluate(asked) == "refused"


@pytest.mark.long
def test_a_listing_is_cancelled_resumed_and_archived_by_keyboard(page: Page, bench: Bench) -> None:
    title = "Long one"
    formats = [{"format": one} for one in ("wav", "flac", "ogg", "opus", "mp3")]
    job_id = bench.start(
        title=title, wirings=[{"version": one} for one in bench.versions], formats=formats,
        takes=["file:pluck_0", "file:pluck_1"],
    )  # fmt: skip
    page.goto(f"{bench.server.url}/#/listings")
    job = job_of(page, title)
    until(page, "Number(document.querySelector('[role=progressbar]')?.ariaValueNow) > 0", within_s=60)
    job.get_by_role("button", name="Cancel").press("Enter")
    job.get_by_text("cancelled", exact=True).wait_for()
    assert bench.get(job_id)["state"] == "cancelled"
    until(page, f"document.activeElement.textContent === {title!r}")  # the focus stays near the button
    job.get_by_role("button", name="Continue").press("Enter")
    job.get_by_role("button", name="Cancel").wait_for()
    job.get_by_role("button", name="Cancel").press("Enter")
    job.get_by_text("cancelled", exact=True).wait_for()
    job.get_by_role("button", name="Archive").click()
    job.wait_for(state="detached")
    page.get_by_role("button", name="Undo").click()
    job.get_by_role("button", name="Archive").click()
    page.get_by_role("link", name="Show archived").click()
    job.get_by_role("button", name="Restore").click()
    page.get_by_text("No archived listings").wait_for()


@pytest.mark.long
def test_the_form_remembers_its_entries(page: Page, bench: Bench) -> None:
    page.goto(f"{bench.server.url}/#/listings/new")
    fill_in(page, "Kept")
    planned(page, "16 clips")
    page.reload()
    planned(page, "16 clips")
    expect(page.get_by_label("Name", exact=True)).to_have_value("Kept")
    expect(page.get_by_label("Place of Tone")).to_have_value("3")
    expect(page.get_by_text("2 of 6 positions")).to_be_visible()
    page.get_by_label("Place of Tone").fill("11")
    planned(page, "Warm: Tone goes from 0 to 10.")
    expect(page.get_by_role("button", name="Start")).to_be_disabled()


@pytest.mark.long
def test_from_the_bench_with_its_own_commission(page: Page, bench: Bench) -> None:
    commission = bench.client.post(
        "/api/commissions", json={"title": "Only this", "starter": "twelve"}
    ).json()
    open_bench(page, bench.server.url, commission["id"])
    page.get_by_role("link", name="Listing", exact=True).click()
    page.get_by_label("Name", exact=True).wait_for()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Only this")
    chosen = page.locator(".instrument > label input:checked")
    until(page, "document.querySelectorAll('.instrument > label input:checked').length === 1")
    assert "Only this" in (chosen.locator("xpath=..").text_content() or "")


# --- How it looks


def made_up(state: str, **other: Any) -> dict[str, Any]:
    """Return a listing in a state that is hard to reach."""
    names = ["Baritone, two humbuckers, six-way rotary", "<b>Twelve</b>-string with toggles"]
    rows = [
        {"number": k + 1, "name": name, "state": "done", "files": 12, "files_done": 12, "reused": 4,
         "problems": [], "warnings": ["the line: pitch clear in 75 % of the sounding time"]}
        for k, name in enumerate(names)
    ]  # fmt: skip
    whole = {
        "id": f"id-{state}", "title": f"A listing that is {state}", "clips": 24, "seconds": 290.0,
        "state": state, "created": "2026-03-02T10:00:00.000Z", "archived": None, "cancelling": False,
        "ahead": 0,
        "options": MATCHED, "progress": {}, "report": {}, "takes": ["Open chords"], "instruments": rows,
        "page": None, "started": None, "ended": None,
    }  # fmt: skip
    if state not in ("done", "failed"):
        rows[1] |= {"state": "running" if state == "running" else "waiting", "files_done": 1, "warnings": []}
    return whole | other


def every_state() -> list[dict[str, Any]]:
    running = {"share": 0.62, "times_real_time": 23.4, "remaining_s": 4000.0}
    lost = {
        "state": "failed",
        "files_done": 0,
        "problems": ["parts: got no coil; allowed: a coil"],
        "warnings": [],
    }
    some = made_up(
        "done",
        page="/listings/pages/x/y/index.html",
        report={"summary": "1 instrument, 12 files", "failed": 1},
    )
    some["instruments"][1] |= lost
    return [
        made_up("running", progress=running),
        made_up("queued", ahead=1),
        some,
        made_up("failed", report={"problems": ["the disk is full: a disk with more room"]}),
        made_up("cancelled", progress={"share": 0.3}),
        made_up("interrupted"),
    ]


def show_states(page: Page, url: str) -> None:
    """Show every state at once."""
    page.route(re.compile(r"/api/listings\?"), lambda route: route.fulfill(json=every_state()))
    page.goto(f"{url}/#/listings")
    page.locator(".job").nth(5).wait_for()
    page.locator("summary").nth(2).click()
    page.locator(".rows .bad").first.wait_for()


def show_form(page: Page, url: str) -> None:
    page.goto(f"{url}/#/listings/new")
    fill_in(page, "Spring catalogue")
    page.get_by_label("What Tone does").select_option("sweep")
    page.get_by_label("End of Tone").fill("10")
    planned(page, "16 clips")


SHOWN = {"states": show_states, "form": show_form}


@pytest.mark.parametrize("view", SHOWN)
@pytest.mark.long
def test_axe_finds_nothing_serious_and_no_view_is_too_wide(
    context: BrowserContext, bench: Bench, view: str
) -> None:
    page = context.new_page()
    page.emulate_media(reduced_motion="reduce")
    SHOWN[view](page, bench.server.url)
    PICTURES.mkdir(exist_ok=True)
    for scheme in ("light", "dark"):
        for size, (width, height) in WIDTHS.items():
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=PICTURES / f"listings-{view}-{size}-{scheme}.png", full_page=True)
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert find_violations(page, colours=scheme == "dark") == []
    assert page.evaluate("document.querySelectorAll('b:not(h1 *)').length") == 0 or view == "form"


@pytest.mark.long
def test_targets_for_a_finger_are_large_enough(chromium: Browser, bench: Bench) -> None:
    context = chromium.new_context(has_touch=True, is_mobile=True, viewport={"width": 360, "height": 740})
    try:
        page = context.new_page()
        for show in SHOWN.values():
            show(page, bench.server.url)
            small = page.evaluate(TOO_SMALL, [TOUCHED, COARSE_PX])
            assert small == []
    finally:
        context.close()
