"""Every view of the bench by axe-core, light and dark, narrow and wide, with screenshots for review."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import pytest
from bench_page import new_commission, open_bench, open_part, stop
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import Page
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

SIZES = {"phone": (360, 740), "tablet": (820, 1180), "desk": (1320, 860)}
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
COARSE_PX = 44


def the_list(page: Page, url: str) -> None:
    page.goto(url)
    page.locator(".card").first.wait_for()


def nothing_found(page: Page, url: str) -> None:
    the_list(page, url)
    page.get_by_label("Search commissions").fill("nothing is called so")
    page.locator(".empty").wait_for()


def archived(page: Page, url: str) -> None:
    page.goto(f"{url}/#/archived")
    page.get_by_role("heading", name="Archived commissions", exact=True).wait_for()


def a_new_one(page: Page, url: str) -> None:
    the_list(page, url)
    page.get_by_role("button", name="New commission").click()
    page.get_by_role("radio").first.wait_for()


def fitting(page: Page, url: str) -> None:
    """Fit a starter with four coils, one of them chosen."""
    a_new_one(page, url)
    page.get_by_role("radio", name="Two humbuckers, three-position").check()
    page.get_by_label("Neck a", exact=True).select_option("double_hot_coil")
    page.get_by_role("button", name="Start", exact=True).scroll_into_view_if_needed()


def the_bench(page: Page, url: str) -> None:
    open_bench(page, url, new_commission(page, url))
    page.locator(".hill[d*=L]").first.wait_for(state="attached")


def two_knobs(page: Page, url: str) -> None:
    """Show the map over two knobs, and its table."""
    the_bench(page, url)
    page.get_by_text("Two knobs together").click()
    page.locator(".knob-map .contour[d*=M]").first.wait_for(state="attached")
    page.get_by_text("Read the map as a table").click()
    page.locator(".knob-map").scroll_into_view_if_needed()


def compared(page: Page, url: str) -> None:
    the_bench(page, url)
    page.get_by_role("button", name="Keep to compare").click()
    stop(page, "6").locator("input").check(force=True)
    page.get_by_role("button", name="Draw the sweep").last.click()
    page.get_by_text("Read the response as a table").click()
    page.get_by_role("button", name="Close").last.click()
    page.locator(".curve.slot-1").wait_for(state="attached")


def parts(page: Page, url: str) -> None:
    the_bench(page, url)
    open_part(page, "neck_a")
    page.get_by_label("Neck a resistance", exact=True).fill("no number")
    page.keyboard.press("Enter")
    page.locator(".problem:not(:empty)").first.wait_for()


def around(page: Page, url: str) -> None:
    """Show the surroundings of the parts: strings, labels, joints, couplings; one value refused."""
    open_bench(page, url, new_commission(page, url, starter="twelve"))
    for name in ("instrument", "labels", "soldering", "joints", "couplings"):
        open_part(page, name, "around")
    open_part(page, "selector")
    page.get_by_label("Joint 2", exact=True).fill("neck.start, nock.finish")
    page.keyboard.press("Enter")
    page.locator("[data-around=joints] .problem:not(:empty)").first.wait_for()
    page.locator("[data-around=instrument] summary").scroll_into_view_if_needed()


def proposing(page: Page, url: str) -> None:
    the_bench(page, url)
    page.get_by_role("button", name="Propose to the customer").click()
    page.get_by_role("dialog").wait_for()


def blind(page: Page, url: str) -> None:
    compared(page, url)
    page.get_by_role("button", name="Blind test").click()
    page.get_by_role("button", name="Start", exact=True).click()
    page.get_by_text("Trial 1 of 12").wait_for()


def blind_beginning(page: Page, url: str) -> None:
    """Show a test about to begin, and an earlier one."""
    blind(page, url)
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Close").click()
    page.get_by_role("button", name="Blind test").click()
    dialog.get_by_role("button", name="Give up").click()
    dialog.get_by_text("Earlier tests").click()


def blind_scored(page: Page, url: str) -> None:
    """Show a finished blind test."""
    blind(page, url)
    dialog = page.get_by_role("dialog")
    for trial in range(1, 13):
        dialog.get_by_text(f"Trial {trial} of 12").wait_for()
        dialog.locator(".said button:enabled").first.click()
    dialog.get_by_text("of 12 right").wait_for()


def bringing(page: Page, url: str) -> None:
    the_bench(page, url)
    page.get_by_label("Take", exact=True).select_option("+")


def bringing_through(page: Page, url: str) -> None:
    """Show the upload of a recording through a known wiring."""
    bringing(page, url)
    page.get_by_role("dialog").get_by_role("radio", name="a known wiring").check()
    page.get_by_label("Position", exact=True).wait_for()
    page.get_by_role("button", name="Bring it in").scroll_into_view_if_needed()


def keys(page: Page, url: str) -> None:
    the_list(page, url)
    the_bench(page, url)
    button = page.get_by_role("button", name="Keys")
    if button.is_visible():
        button.click(force=True)
    else:
        page.keyboard.press("?")


def the_sheet(page: Page, url: str) -> None:
    the_bench(page, url)
    page.get_by_role("button", name="Build sheet").click()
    page.locator(".build-sheet").wait_for()
    page.get_by_text("pages of").wait_for()


def toggles(page: Page, url: str) -> None:
    open_bench(page, url, new_commission(page, url, starter="twelve"))


ALL = (
    the_list,
    nothing_found,
    archived,
    a_new_one,
    fitting,
    the_bench,
    two_knobs,
    compared,
    parts,
    proposing,
    blind,
    bringing,
    bringing_through,
    keys,
    toggles,
    around,
    the_sheet,
    blind_beginning,
    blind_scored,
)
VIEWS: dict[str, Callable[[Page, str], None]] = {one.__name__: one for one in ALL}
TOUCHED = "button, select, [role=slider]:not(.grip), .stop, .choice label, .card > a"
TOO_SMALL = """([selector, least]) => [...document.querySelectorAll(selector)]
    .filter(element => element.checkVisibility())
    .map(element => [element.ariaLabel ?? element.textContent, element.getBoundingClientRect().height])
    .filter(([, height]) => height < least - 0.5).map(([name, height]) => `${name}: ${height}`)"""


def look(page: Page, view: str, size: str) -> None:
    """Take pictures of a page in both schemes, at a size; it is not wider than the screen."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    PICTURES.mkdir(exist_ok=True)
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # without fades
        page.screenshot(path=PICTURES / f"{view}-{size}-{scheme}.png")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, size


@pytest.mark.parametrize("view", VIEWS)
def test_a_view_fits_a_wide_screen_and_axe_finds_nothing_serious(
    page: Page, shared_server: Running, view: str
) -> None:
    """Opened at a desk, then as on a tablet; both schemes, as the device changes between them."""
    page.emulate_media(color_scheme="light", reduced_motion="reduce")
    width, height = SIZES["desk"]
    page.set_viewport_size({"width": width, "height": height})
    VIEWS[view](page, shared_server.url)
    for size in ("desk", "tablet"):
        look(page, view, size)
    page.set_viewport_size({"width": width, "height": 9000})  # no panel that scrolls cuts through a control
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme)
        assert find_violations(page, colours=scheme == "dark") == [], scheme


def test_axe_would_find_a_fault(page: Page, shared_server: Running) -> None:
    the_list(page, shared_server.url)
    page.evaluate("document.querySelector('input').removeAttribute('aria-label')")
    page.evaluate("document.querySelector('input').removeAttribute('placeholder')")
    assert [one for one in find_violations(page) if " label: " in one]
    page.evaluate("Object.assign(document.querySelector('h1').style, { color: '#222', background: '#333' })")
    assert [one for one in find_violations(page, colours=True) if " color-contrast: " in one]


@pytest.mark.parametrize("view", [one for one in VIEWS if one != "keys"])  # a phone shows no button for keys
def test_a_view_opened_on_a_phone_is_not_wider_than_its_screen(
    page: Page, shared_server: Running, view: str
) -> None:
    width, height = SIZES["phone"]
    page.emulate_media(reduced_motion="reduce")
    page.set_viewport_size({"width": width, "height": height})
    VIEWS[view](page, shared_server.url)
    look(page, view, "phone")


@pytest.mark.parametrize("view", ["the_list", "the_bench", "parts", "around", "the_sheet"])
def test_targets_for_a_finger_are_large_enough(chromium: Any, shared_server: Running, view: str) -> None:
    context = chromium.new_context(has_touch=True, is_mobile=True, viewport={"width": 360, "height": 740})
    try:
        page = context.new_page()
        VIEWS[view](page, shared_server.url)
        small = page.evaluate(TOO_SMALL, [TOUCHED, COARSE_PX])
        assert small == []
    finally:
        context.close()
