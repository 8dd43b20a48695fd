"""A wiring is soldered on its drawing: by mouse, by finger, by keys, and as text."""

from __future__ import annotations

from typing import Any

import pytest
from bench_page import new_commission, open_bench
from board_page import (
    add_part,
    drawn_joints,
    lug_at,
    solder,
    tab_to,
    tap_lug,
    tap_wire,
    until_one_joint,
    walk_to,
)
from browser_fixtures import Console, until
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import Browser, Page, expect
from server_process import Running

pytestmark = pytest.mark.browser


def open_drawing(page: Page, url: str, starter: str) -> Page:
    """Open a starter's bench, its drawing there."""
    open_bench(page, url, new_commission(page, url, starter=starter))
    page.locator(".board-picture [data-lug]").first.wait_for()
    return page


@pytest.fixture
def blank(page: Page, shared_server: Running) -> Page:
    return open_drawing(page, shared_server.url, "blank")


def test_lugs_are_soldered_wires_taken_out_and_both_undone_by_one_key(blank: Page) -> None:
    page = blank
    before = drawn_joints(page)
    add_part(page, "Capacitor", "tone_cap")
    tap_lug(page, "tone_cap.a")
    expect(page.locator(".board-words")).to_contain_text("Now the lug to solder it to")
    page.mouse.move(*lug_at(page, "coil.start"))
    expect(page.locator(".board-picture .ghost")).to_be_visible()
    tap_lug(page, "coil.start")
    until_one_joint(page, "tone_cap.a", "coil.start")
    expect(page.locator(".board-deed")).to_contain_text("Soldered tone_cap.a to coil.start")
    solder(page, "tone_cap.b", "output.sleeve")
    wire = page.locator(".board-picture [data-wire*='tone_cap.a']").first.get_attribute("data-wire")
    tap_wire(page, str(wire))
    expect(page.locator(".board-words")).to_contain_text("used")
    page.locator(".board-acts").get_by_role("button", name="Unsolder").click()
    until(page, "document.querySelector(\".board-picture [data-lug='tone_cap.a'].free\")")
    expect(page.locator(".board-deed")).to_contain_text("tone_cap.a is loose now")
    page.locator(".board-deed").get_by_role("button", name="Undo").click()
    until_one_joint(page, "tone_cap.a", "coil.start")
    page.locator(".board-picture").focus()
    for _ in range(3):
        page.keyboard.press("Control+z")
    until(page, "!document.querySelector(\".board-picture [data-drawn='tone_cap']\")")
    assert drawn_joints(page) == before


CHART = [
    ["neck_a.finish", "neck_b.start"],
    ["neck_a.start", "volume.3"],
    ["neck_b.finish", "output.sleeve", "volume.1"],
    ["output.tip", "volume.2"],
]


@pytest.mark.long
def test_by_keys_alone_from_an_empty_page_to_a_soldered_chart(blank: Page) -> None:
    page = blank
    page.evaluate("document.activeElement?.blur()")
    tab_to(page, ".board-picture")
    for name in ("coil.start", "output.tip"):
        walk_to(page, name)
        page.keyboard.press("p")
        until(page, "document.activeElement.closest('.board-card')")
        tab_to(page, ".board-card .acts .row button:last-child")
        page.keyboard.press("Enter")
        until(page, f"!document.querySelector(\"[data-lug='{name}']\")")
    until(page, "document.activeElement?.getAttribute('class') === 'board-picture'")
    page.keyboard.press("ArrowRight")
    expect(page.locator(".board-words")).to_have_text("No lug here yet: add a part.")
    tab_to(page, "[aria-controls='board-tray']", back=True)
    page.keyboard.press("Enter")
    page.locator(".board-tray .tray button").first.wait_for()
    for number, lug in ((2, "neck_b.finish"), (8, "output.sleeve"), (3, "volume.2")):
        tab_to(page, f".board-tray .tray button:nth-child({number})", back=number == 3)
        page.keyboard.press("Enter")
        page.locator(f".board-picture [data-lug='{lug}']").wait_for()
    page.keyboard.press("Escape")  # the tray closes
    tab_to(page, ".board-picture")
    for first, second in (("neck_a.start", "volume.3"), ("neck_a.finish", "neck_b.start")):
        walk_to(page, first)
        page.keyboard.press("Enter")
        walk_to(page, second)
        expect(page.locator(".board-words")).to_contain_text("Enter solders it to")
        page.keyboard.press("Enter")
        until_one_joint(page, first, second)
    walk_to(page, "volume.3")
    page.keyboard.press("w")
    page.keyboard.press("Delete")
    until(page, "document.querySelector(\".board-picture [data-lug='volume.3'].free\")")
    page.keyboard.press("Control+z")
    until_one_joint(page, "neck_a.start", "volume.3")
    # the rest as text
    tab_to(page, ".board .numbers > summary")
    page.keyboard.press("Enter")
    for first, second in (("volume.2", "output.tip"), ("volume.1", "output.sleeve")):
        tab_to(page, ".board-text [data-at='new first']")
        page.keyboard.type(first)
        tab_to(page, ".board-text [data-at='new second']")
        page.keyboard.type(second)
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        until_one_joint(page, first, second)
    tab_to(page, ".board-text [data-at='add volume.1']", back=True)
    page.keyboard.type("neck_b.finish")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    until_one_joint(page, "neck_b.finish", "volume.1")
    assert drawn_joints(page) == CHART
    expect(page.locator(".board-text")).to_contain_text("Position 1: Neck a and Neck b sound.")


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_one_does_on_the_drawing_passes_the_accessibility_check(
    page: Page, shared_server: Running, scheme: Any
) -> None:
    page.emulate_media(color_scheme=scheme)
    open_drawing(page, shared_server.url, "two_humbuckers")
    add_part(page, "Capacitor", "cap")
    page.get_by_role("button", name="Close the part").click()
    page.locator(".board-picture .coil[data-drawn='neck_a'] .name").click()
    expect(page.locator(".board-card")).to_contain_text("coupling with neck b")
    page.locator(".board .numbers > summary").click()
    page.locator(".board-text table").first.wait_for()
    page.get_by_text("Before you solder from it").click()
    assert find_violations(page, mild=True) == []
    page.screenshot(path=PICTURES / f"soldering-{scheme}.png", full_page=True)


@pytest.mark.long
def test_a_finger_finds_lugs_wires_and_parts(
    chromium: Browser, shared_server: Running, console: Console
) -> None:
    context = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    context.on("page", console.watch)
    page = open_drawing(context.new_page(), shared_server.url, "blank")
    page.get_by_role("button", name="Fit").tap()
    x, y = lug_at(page, "output.tip")
    page.touchscreen.tap(x + 9, y - 9)
    expect(page.locator(".board-words")).to_contain_text("output tip")
    expect(page.locator(".board-picture .picked")).to_be_visible()
    page.touchscreen.tap(x + 9, y - 9)
    expect(page.locator(".board-words")).to_have_text("Put down.")
    x, y = lug_at(page, "output.tip")
    page.touchscreen.tap(x, y - 6)
    x, y = lug_at(page, "coil.finish")
    page.touchscreen.tap(x + 6, y + 6)
    expect(page.locator(".board-deed")).to_contain_text("Soldered output.tip to coil.finish")
    page.locator(".board-deed").get_by_role("button", name="Undo").tap()
    until(page, "document.querySelectorAll('.board-picture .wire').length > 1")
    page.locator(".board-picture [data-drawn='coil'] .name").last.tap()
    card = page.locator(".board-card")
    card.get_by_role("button", name="Swap leads").tap()
    expect(page.locator(".board-deed")).to_contain_text("Swapped the leads of coil")
    sizes = [one.bounding_box() for one in card.get_by_role("button").all() if one.is_visible()]
    assert min(box["height"] for box in sizes if box) >= 44
    page.screenshot(path=PICTURES / "soldering-phone.png", full_page=True)
    context.close()
