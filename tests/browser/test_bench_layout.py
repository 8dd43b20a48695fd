"""Where things are on the bench at the sizes of real screens."""

from __future__ import annotations

import pytest
from bench_page import new_commission, open_bench, open_part
from playwright.sync_api import Page
from server_process import Running

pytestmark = pytest.mark.browser

Box = dict[str, float]

BROKEN_WORDS = """(where) => [...document.querySelectorAll(where)].flatMap((button) => {
  const walker = document.createTreeWalker(button, NodeFilter.SHOW_TEXT), broken = [];
  if (button.offsetParent === null || button.closest(".chip, .findings")) return [];
  for (let node = walker.nextNode(); node; node = walker.nextNode())
    for (const word of node.textContent.matchAll(/\\S+/g)) {
      const range = document.createRange();
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      const lines = new Set([...range.getClientRects()].map(({ top }) => Math.round(top)));
      if (lines.size > 1) broken.push(word[0]);
    }
  return broken;
})"""
"""Words that take more than one line; on buttons, names that a person wrote may."""
BUTTONS = "button, .button"


def boxes(page: Page, selector: str) -> list[Box]:
    found = [one.bounding_box() for one in page.locator(selector).all()]
    return [dict(one) for one in found if one]


def overlap(a: Box, b: Box) -> bool:
    return (
        a["x"] < b["x"] + b["width"]
        and b["x"] < a["x"] + a["width"]
        and a["y"] < b["y"] + b["height"]
        and b["y"] < a["y"] + a["height"]
    )


@pytest.mark.parametrize("size", [(1320, 860), (1024, 768), (360, 740)])
@pytest.mark.long
def test_a_toast_leaves_selector_and_knobs_free_and_no_word_of_a_button_is_broken(
    page: Page, shared_server: Running, size: tuple[int, int]
) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.get_by_role("button", name="Keep to compare").click()
    page.locator(".toast").hover()  # it stays while the pointer is on it
    page.evaluate("scrollTo(0, 0)")
    (toast,) = boxes(page, ".toast")
    controls = boxes(page, ".knob, .stop, .play")
    assert len(controls) > 7
    assert not any(overlap(toast, one) for one in controls)
    assert page.evaluate(BROKEN_WORDS, BUTTONS) == []
    page.goto(shared_server.url)
    page.locator(".card").first.wait_for()
    assert page.evaluate(BROKEN_WORDS, BUTTONS) == []


@pytest.mark.long
def test_the_selector_is_in_sight_beside_the_open_parts(page: Page, shared_server: Running) -> None:
    page.set_viewport_size({"width": 1024, "height": 768})
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    open_part(page, "volume")
    rows = boxes(page, ".stop")
    assert len(rows) == 6
    assert max(one["y"] + one["height"] for one in rows) <= 768


@pytest.mark.long
@pytest.mark.parametrize("width", [800, 900, 1024, 1280])
def test_no_word_of_a_position_is_broken_beside_the_open_parts(
    page: Page, shared_server: Running, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    open_part(page, "volume")
    assert page.evaluate(BROKEN_WORDS, ".stop") == []


DRAWN = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
"""Two frames on: what follows the size of the window has followed."""
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.mark.long
@pytest.mark.parametrize("view", ["Parts", "Range", "Build sheet"])
def test_no_view_scrolls_sideways_or_breaks_a_word_of_a_table(
    page: Page, shared_server: Running, view: str
) -> None:
    page.set_viewport_size({"width": 1024, "height": 768})
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.locator(".board-picture .wire").first.wait_for()
    widths = (360, 390, 820, 1024)
    wide = []
    for name in ("Bench", view):
        if name != "Bench":
            page.get_by_role("button", name=name, exact=True).click()
            page.locator(
                {"Parts": "#parts", "Range": ".wired-lugs", "Build sheet": ".build-sheet"}[name]
            ).first.wait_for()
        for width in widths:
            page.set_viewport_size({"width": width, "height": 844})
            page.evaluate(DRAWN)
            if page.evaluate(SIDEWAYS) > 0:
                wide.append((name, width, page.evaluate(SIDEWAYS)))
            (head,), (propose,) = boxes(page, ".top"), boxes(page, ".top .main")
            assert propose["x"] + propose["width"] <= width
            assert head["height"] <= 110  # two lines of buttons
            assert len({one["height"] for one in boxes(page, ".top .row > *")}) == 1
            assert page.evaluate(BROKEN_WORDS, ".scroller th, .scroller td") == []
    assert wide == []


@pytest.mark.long
def test_the_drawing_is_high_on_an_upright_tablet(page: Page, shared_server: Running) -> None:
    page.set_viewport_size({"width": 820, "height": 1180})
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.locator(".board-picture .wire").first.wait_for()
    (stage,) = boxes(page, ".board-stage")
    assert stage["height"] >= 380
