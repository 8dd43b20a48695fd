"""The drawing on the bench: it plays along, and works by mouse, finger and keys."""

from __future__ import annotations

import re

import pytest
from bench_page import chosen, knob, new_commission, open_bench
from board_page import walk_to
from browser_fixtures import Held, until
from places import PICTURES
from playwright.sync_api import FloatRect, Locator, Page, Route, expect
from server_process import Running

pytestmark = pytest.mark.browser

WIRES = ".board-picture .wire"


@pytest.fixture
def bench(page: Page, shared_server: Running) -> Page:
    """Open the bench, with its drawing there."""
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.locator(WIRES).first.wait_for()
    return page


def coil(page: Page, name: str) -> Locator:
    return page.locator(f".board-picture .coil[data-drawn='{name}']")


def test_the_drawing_and_the_selector_flip_one_another(bench: Page) -> None:
    page = bench
    expect(coil(page, "neck_a")).to_have_class("coil heard")
    page.locator("[data-step='selector']").first.click()
    until(page, "document.querySelector('.stop input:checked').value === '2'")
    page.locator(".stop[data-position='3'] input").check()
    until(page, "document.querySelector('.coil[data-drawn=neck_b]').classList.contains('shorted')")
    expect(coil(page, "bridge_b")).to_have_class("coil heard")
    page.locator(".board-picture").focus()
    page.keyboard.press("]")
    until(page, "document.querySelector('.stop input:checked').value === '4'")
    page.keyboard.press("ArrowRight")
    expect(page.locator(".board-picture .cursor:not([hidden])")).to_have_count(1)
    expect(page.locator(".board-words")).to_have_text(re.compile("joint|ground"))


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
    expect(needle).to_have_attribute("transform", "rotate(48)")
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
    expect(page.locator(".lug.kin")).to_have_count(2)
    page.locator("[data-lug='neck_a.start'] .eye").click()
    expect(page.locator(".board-words")).to_have_text(re.compile("^neck_a start: joint"))


@pytest.mark.long
def test_joints_grounds_sizes_and_text(bench: Page) -> None:
    page = bench
    board = page.locator(".board-picture")
    page.get_by_role("radio", name="Joints").check()
    until(page, "document.querySelector('.drawing.mode-joints')")
    stubs = page.locator(".wire.stub")
    expect(stubs).to_have_count(8)
    page.get_by_label("Every ground wire").check()
    until(page, "document.querySelector('.bus-wire')")
    expect(stubs).to_have_count(0)
    before = int(str(board.get_attribute("width")))
    page.get_by_role("button", name="Larger").click()
    until(page, f"Number(document.querySelector('.board-picture').getAttribute('width')) > {before}")
    page.get_by_role("button", name="Fit").click()
    expect(board).to_have_attribute("width", str(before))
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


def place_of(page: Page, name: str) -> str:
    return str(page.locator(f".part[data-drawn='{name}'] > g").first.get_attribute("transform"))


def middle(page: Page, selector: str) -> tuple[float, float]:
    box = until_still(page.locator(selector).first)
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Page, at: tuple[float, float], by: tuple[float, float]) -> None:
    page.mouse.move(*at)
    page.mouse.down()
    page.mouse.move(at[0] + by[0] / 2, at[1] + by[1] / 2, steps=3)
    page.mouse.move(at[0] + by[0], at[1] + by[1], steps=3)
    page.mouse.up()


@pytest.mark.long
def test_parts_are_dragged_and_undo_takes_it_back(bench: Page) -> None:
    page = bench
    words = "document.querySelector('.board-words').textContent"
    x, y = middle(page, ".part.jack .casing")
    jack, before, volume = "output", place_of(page, "output"), place_of(page, "volume")
    drag(page, (x, y), (30, 60))
    until(page, f"{words} === 'Moved output.'")
    moved = place_of(page, jack)
    assert moved != before
    assert place_of(page, "volume") == volume
    assert page.locator(".board-note").is_hidden()
    page.locator(".board-picture").focus()
    page.keyboard.press("Control+z")
    until(page, f"document.querySelector('.part.jack > g').getAttribute('transform') === {before!r}")
    # by its handle, a pot is moved; by its body it is turned
    x, y = middle(page, ".part.pot[data-drawn='volume'] .casing")
    page.mouse.click(x, y - 6)
    page.locator(".chosen-part .grip").wait_for()
    drag(page, middle(page, ".chosen-part .grip-disc"), (40, -50))
    until(page, f"{words} === 'Moved volume.'")
    assert place_of(page, "volume") != volume


@pytest.mark.long
def test_a_wheel_turns_the_chosen_pot(bench: Page) -> None:
    page = bench
    x, y = middle(page, ".part.pot[data-drawn='volume'] .casing")
    page.mouse.click(x, y - 6)
    page.mouse.wheel(0, 100)
    expect(knob(page, "volume")).to_have_attribute("aria-valuenow", "9.5")


@pytest.mark.long
def test_a_finger_pans_until_it_has_chosen_a_part(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.locator(WIRES).first.wait_for()
    x, y = middle(page, ".part.jack .casing")
    before = place_of(page, "output")
    touch = """([x, y, kind, far]) => {
      const at = document.elementFromPoint(x, y);
      const picture = document.querySelector('.board-picture');
      const pointer = {pointerId: 5, pointerType: 'touch', isPrimary: true, bubbles: true};
      picture.setPointerCapture = () => {};
      const send = (type, dx) => (type === 'pointerdown' ? at : picture).dispatchEvent(
        new PointerEvent(type, {...pointer, clientX: x + dx, clientY: y + dx}));
      send('pointerdown', 0);
      if (kind === 'drag') for (const share of [0.3, 0.6, 1]) send('pointermove', far * share);
      (kind === 'drag' ? picture : at).dispatchEvent(new PointerEvent('pointerup', {
        ...pointer, clientX: x + (kind === 'drag' ? far : 0), clientY: y + (kind === 'drag' ? far : 0)}));
    }"""
    page.evaluate(touch, [x + 12, y, "drag", 50])
    page.wait_for_timeout(300)
    assert place_of(page, "output") == before
    page.evaluate(touch, [x + 12, y, "tap", 0])
    page.locator(".chosen-part .grip").wait_for()
    page.evaluate(touch, [x + 12, y, "drag", 50])
    until(page, "document.querySelector('.board-words').textContent === 'Moved output.'")
    assert place_of(page, "output") != before


def said(page: Page, text: str) -> None:
    """Wait until the drawing's line says a text."""
    expect(page.locator(".board-words")).to_have_text(text)


def restored(page: Page, name: str, place: str) -> None:
    """Undo, and wait until a part stands where it stood."""
    page.keyboard.press("Control+z")
    until(page, f"document.querySelector(\".part[data-drawn='{name}'] > g\").outerHTML === {place!r}")


def look_of(page: Page, name: str) -> str:
    return str(page.locator(f".part[data-drawn='{name}'] > g").first.evaluate("(g) => g.outerHTML"))


@pytest.mark.long
def test_keys_move_turn_and_tidy_and_undo_takes_each_back(bench: Page) -> None:
    page = bench
    board = page.locator(".board-picture")
    board.focus()
    walk_to(page, "output.tip")
    before = place_of(page, "output")
    late = Held()
    page.route("**/drawing", late.keep)
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowDown")
    moved = place_of(page, "output")
    assert moved != before
    said(page, "Moved output.")
    page.keyboard.press("Shift+ArrowDown")
    assert place_of(page, "output") != moved
    page.keyboard.press("Control+z")  # before it is an edit, and before the last one's drawing is there
    said(page, "output is back.")
    until(page, f"document.querySelector('.part.jack > g').getAttribute('transform') === {moved!r}")
    late.release()
    # the part's card has the focus, and the keys still mean the part
    page.keyboard.press("p")
    expect(page.locator(".board-card h2")).to_be_focused()
    assert place_of(page, "output") == moved
    page.keyboard.press("Shift+ArrowRight")
    assert place_of(page, "output") != moved
    said(page, "Moved output.")
    page.keyboard.press("Control+z")
    until(page, f"document.querySelector('.part.jack > g').getAttribute('transform') === {moved!r}")
    # tidy lays all out anew
    board.focus()
    page.keyboard.press("t")
    until(page, f"document.querySelector('.part.jack > g').getAttribute('transform') === {before!r}")
    page.keyboard.press("Control+z")
    until(page, f"document.querySelector('.part.jack > g').getAttribute('transform') === {moved!r}")
    page.keyboard.press("Control+z")
    until(page, f"document.querySelector('.part.jack > g').getAttribute('transform') === {before!r}")
    # a part is turned by R, and by its button
    walk_to(page, "tone_cap.a")
    straight = look_of(page, "tone_cap")
    page.keyboard.press("r")
    said(page, "Turned tone_cap.")
    assert look_of(page, "tone_cap") != straight
    restored(page, "tone_cap", straight)
    page.keyboard.press("p")
    page.locator(".board-card").get_by_role("button", name="Turn").click()
    said(page, "Turned tone_cap.")
    assert look_of(page, "tone_cap") != straight
    restored(page, "tone_cap", straight)


@pytest.mark.long
def test_an_answer_that_comes_late_moves_no_part_back(bench: Page) -> None:
    page = bench
    page.locator(".board-picture").focus()
    walk_to(page, "output.tip")
    late: list[Route] = []

    def keep_first(route: Route) -> None:
        if late:
            route.continue_()
        else:
            late.append(route)

    page.route("**/api/draft/drawing", keep_first)
    page.keyboard.press("]")
    while not late:
        page.wait_for_timeout(20)
    before = place_of(page, "output")
    page.keyboard.press("Shift+ArrowDown")
    moved = place_of(page, "output")
    assert moved != before
    with page.expect_response("**/api/draft/drawing"):
        late[0].continue_()
    said(page, "Moved output.")
    until_still(page.locator(".part.jack .casing"))
    assert place_of(page, "output") == moved


def until_width(page: Page, width: int) -> None:
    """Wait until the drawing is so wide."""
    expect(page.locator(".board-picture")).to_have_attribute("width", str(width))


def picture_width(page: Page) -> int:
    return int(str(page.locator(".board-picture").get_attribute("width")))


@pytest.mark.long
def test_wheel_keys_and_two_fingers_zoom(bench: Page) -> None:
    page = bench
    x, y = middle(page, ".board-frame")
    whole = picture_width(page)
    page.mouse.move(x, y)
    page.mouse.wheel(0, -200)
    page.wait_for_timeout(200)
    assert picture_width(page) == whole  # the page scrolls: nobody works on the drawing
    page.evaluate("scrollTo(0, 0)")
    page.keyboard.down("Control")
    page.mouse.wheel(0, -200)
    page.keyboard.up("Control")
    until(page, f"Number(document.querySelector('.board-picture').getAttribute('width')) > {whole}")
    page.locator(".board-picture").focus()
    page.keyboard.press("0")
    until_width(page, whole)
    page.mouse.wheel(0, -200)
    until(page, f"Number(document.querySelector('.board-picture').getAttribute('width')) > {whole}")
    page.keyboard.press("0")
    until_width(page, whole)
    page.keyboard.press("+")
    until(page, f"Number(document.querySelector('.board-picture').getAttribute('width')) > {whole}")
    larger = picture_width(page)
    page.keyboard.press("-")
    until_width(page, whole)
    # the wheel goes on zooming while the chosen part's card has the focus
    page.keyboard.press("ArrowRight")
    page.keyboard.press("p")
    expect(page.locator(".board-card h2")).to_be_focused()
    page.keyboard.press("+")
    until_width(page, larger)
    page.keyboard.press("0")
    page.mouse.wheel(0, -200)
    until(page, f"Number(document.querySelector('.board-picture').getAttribute('width')) > {whole}")
    page.keyboard.press("0")
    fingers = page.context.new_cdp_session(page)
    fingers.send("Emulation.setTouchEmulationEnabled", {"enabled": True, "maxTouchPoints": 2})
    for kind, apart in (("touchStart", 40), ("touchMove", 60), ("touchMove", 90), ("touchEnd", 0)):
        points = [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}] if apart else []
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    until(page, f"Number(document.querySelector('.board-picture').getAttribute('width')) > {1.8 * whole}")
