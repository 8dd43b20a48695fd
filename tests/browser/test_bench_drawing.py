"""The drawing on the bench: it plays along, and works by mouse, finger and keys."""

from __future__ import annotations

import pytest
from bench_page import chosen, knob, new_commission, open_bench
from browser_fixtures import until
from places import PICTURES
from playwright.sync_api import FloatRect, Locator, Page, expect
from server_process import Running

pytestmark = pytest.mark.browser

WIRES = ".board-picture .wire"


@pytest.fixture
def bench(page: Page, shared_server: Running) -> Page:
    """Open the bench, with its drawing there."""
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.locator(WIRES).first.wait_for()
    return page


def words(page: Page) -> str:
    return str(page.locator(".board-words").text_content())


def coil(page: Page, name: str) -> str:
    return str(page.locator(f".board-picture .coil[data-drawn='{name}']").get_attribute("class"))


def test_the_drawing_and_the_selector_flip_one_another(bench: Page) -> None:
    page = bench
    assert coil(page, "neck_a") == "coil heard"
    page.locator("[data-step='selector']").first.click()
    until(page, "document.querySelector('.stop input:checked').value === '2'")
    page.locator(".stop[data-position='3'] input").check()
    until(page, "document.querySelector('.coil[data-drawn=neck_b]').classList.contains('shorted')")
    assert coil(page, "bridge_b") == "coil heard"
    page.locator(".board-picture").focus()
    page.keyboard.press("]")
    until(page, "document.querySelector('.stop input:checked').value === '4'")
    page.keyboard.press("ArrowRight")
    assert page.locator(".board-picture .cursor").get_attribute("hidden") is None
    assert "joint" in words(page) or "ground" in words(page)


def until_still(shape: Locator) -> FloatRect:
    """Return where a shape stands once it is drawn and stays there."""
    before = None
    while (now := shape.bounding_box()) is None or now != before:
        before = now
        shape.page.wait_for_timeout(200)
    return now


@pytest.mark.long
def test_a_pot_is_turned_on_the_drawing_and_its_needle_follows_the_strip(bench: Page) -> None:
    page = bench
    casing = page.locator(".board-picture .part.pot[data-drawn='volume'] .casing")
    casing.wait_for()
    box = until_still(casing)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 3
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 60, steps=4)
    page.mouse.up()
    expect(knob(page, "volume")).to_have_attribute("aria-valuenow", "7")
    needle = page.locator(".part.pot[data-drawn='volume'] .needle")
    assert needle.get_attribute("transform") == "rotate(48)"
    knob(page, "volume").focus()
    page.keyboard.press("Home")
    expect(needle).to_have_attribute("transform", "rotate(-120)")
    until(page, "document.querySelector('.coil[data-drawn=neck_a]').classList.contains('hangs')")


@pytest.mark.long
def test_a_wire_tells_its_positions_and_marks_its_joint(bench: Page) -> None:
    page = bench
    wire = page.locator("[data-wire='volume.2~output.tip'] .hit")
    wire.dispatch_event("pointermove", {"pointerType": "mouse", "pointerId": 7})
    until(page, "document.querySelector('.board-words').textContent.includes('used in every position')")
    assert page.locator(".lug.kin").count() == 2
    page.locator("[data-lug='neck_a.start'] .eye").click()
    assert words(page).startswith("neck_a start: joint")


@pytest.mark.long
def test_joints_grounds_sizes_and_text(bench: Page) -> None:
    page = bench
    board = page.locator(".board-picture")
    page.get_by_role("radio", name="Joints").check()
    until(page, "document.querySelector('.drawing.mode-joints')")
    stubs = page.locator(".wire.stub")
    assert stubs.count() == 8
    page.get_by_label("Every ground wire").check()
    until(page, "document.querySelector('.bus-wire')")
    assert stubs.count() == 0
    before = int(str(board.get_attribute("width")))
    page.get_by_role("button", name="Larger").click()
    assert int(str(board.get_attribute("width"))) > before
    page.get_by_role("button", name="Fit").click()
    assert int(str(board.get_attribute("width"))) == before
    page.get_by_text("Read and solder the drawing as text").click()
    expect(page.get_by_text("Tone cap: capacitor, 22 nF", exact=False)).to_be_visible()
    page.get_by_role("button", name="Tidy").click()
    until(page, "document.querySelector('.board-words').textContent.startsWith('Nothing to tidy')")


@pytest.mark.long
def test_keys_of_the_drawing_move_no_part_and_play_nothing(bench: Page) -> None:
    page = bench
    places = (
        "[...document.querySelectorAll('.board-picture .part > g')].map((g) => g.getAttribute('transform'))"
    )
    before = page.evaluate(places)
    page.locator(".board-picture").focus()
    for key in ("?", "w", "PageUp", "j", "g", "+", "0", "Escape"):
        page.keyboard.press(key)
    page.keyboard.press("g")
    until(page, "!document.querySelector('.bus-wire')")
    assert page.evaluate(places) == before
    assert chosen(page) == "1"


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [(1440, 900), (1024, 768), (390, 844)])
def test_the_drawing_fits_the_screen(
    page: Page, shared_server: Running, size: tuple[int, int], scheme: str
) -> None:
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.locator(WIRES).first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = (
        "[...document.querySelectorAll('.board-picture text')].map((t) => t.getBoundingClientRect().height)"
    )
    assert min(page.evaluate(small)) >= 7.0
    page.screenshot(path=PICTURES / f"drawing-{size[0]}-{scheme}.png", full_page=True)
