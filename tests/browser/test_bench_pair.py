"""Two knobs together on the bench: a map touched, typed on and heard; a detent catches a dragged knob."""

from __future__ import annotations

import json

import pytest
from bench_page import (
    heard_curve,
    knob,
    move_head_seen,
    new_commission,
    open_bench,
    open_part,
    stop,
    until_other_curve,
)
from browser_fixtures import Console, until
from playwright.sync_api import Locator, Page, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

FRAME = ".knob-map .frame"


@pytest.fixture
def bench(page: Page, shared_server: Running) -> Page:
    """Open the bench on the test's own commission."""
    return open_bench(page, shared_server.url, new_commission(page, shared_server.url))


def pad_of(page: Page) -> Locator:
    """Open the map and wait until it is drawn."""
    if page.locator(".pair").get_attribute("open") is None:
        page.get_by_text("Two knobs together").click()
    page.locator(".knob-map .contour[d*=M]").first.wait_for(state="attached")
    return page.get_by_role("slider", name="Volume and tone together")


def touch(page: Page, first: float, second: float) -> None:
    """Click the map where the knobs have these values."""
    page.evaluate("document.querySelector('.knob-map').scrollIntoView({block: 'center'})")
    page.locator(FRAME).scroll_into_view_if_needed()
    box = page.locator(FRAME).bounding_box()
    assert box
    page.mouse.click(
        box["x"] + box["width"] * first / 10, box["y"] + box["height"] * (1.0 - second / 10), delay=20
    )


def values(page: Page) -> tuple[float, float]:
    first, second = (knob(page, name).get_attribute("aria-valuenow") for name in ("volume", "tone"))
    return float(first or -1), float(second or -1)


SHADES = (
    "[...document.querySelectorAll('.knob-map svg > [class^=shade]')].map((one) => one.getAttribute('d'))"
)


def shades(page: Page) -> list[str | None]:
    found: list[str | None] = page.evaluate(SHADES)
    return found


def until_other_shades(page: Page, before: list[str | None]) -> None:
    """Wait until the map is shaded otherwise."""
    until(page, f"JSON.stringify({SHADES}) !== JSON.stringify({json.dumps(before)})")


def test_touching_the_map_turns_both_knobs_and_is_heard(
    page: Page, shared_server: Running, console: Console
) -> None:
    sent: list[str] = []
    page.on("websocket", lambda socket: socket.on("framesent", lambda frame: sent.append(str(frame))))
    bench = open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    pad, before = pad_of(bench), heard_curve(bench)
    expect(bench.locator(".pair")).to_contain_text("Tone travels widest with volume at 10")
    bench.locator(".play").click()
    move_head_seen(bench)
    sent.clear()
    touch(bench, 7.0, 4.0)
    until_other_curve(bench, before)
    first, second = values(bench)
    assert (first, second) == (pytest.approx(7.0, abs=0.1), pytest.approx(4.0, abs=0.1))
    expect(pad).to_have_attribute("aria-valuetext", bench.locator(".pair-place").inner_text())
    turned = json.loads(sent[0])["setting"]["knobs"]
    assert (turned["volume"], turned["tone"]) == (first, second), "one request for both knobs"
    expect(bench.locator(".pair-place")).to_contain_text("softer")
    assert not console.complaints


def test_arrows_move_it_and_the_shades_follow(bench: Page) -> None:
    pad = pad_of(bench)
    pad.focus()
    for _ in range(3):
        bench.keyboard.press("ArrowLeft")
    bench.keyboard.press("Shift+ArrowDown")
    bench.keyboard.press("ArrowDown")
    assert values(bench) == (9.7, 8.9)
    near = shades(bench)
    bench.keyboard.press("PageDown")
    assert values(bench) == (9.7, 7.9)
    until_other_shades(bench, near)
    bench.keyboard.press("Home")
    expect(bench.locator(".pair-place")).to_have_text("Volume 0.0, tone 0.0: silent.")
    bench.get_by_text("Read the map as a table").click()
    expect(bench.get_by_role("region", name="Table of the pair").locator("tbody tr")).to_have_count(10)


def test_it_follows_the_position_and_other_knobs_may_be_chosen(bench: Page) -> None:
    pad_of(bench)
    text = bench.locator(".pair [role=status]").first
    before = text.inner_text()
    stop(bench, "5").locator("input").check(force=True)
    expect(text).not_to_have_text(before)
    bench.get_by_label("Left to right").select_option("tone")
    expect(text).to_contain_text("with tone at")
    expect(bench.get_by_label("Bottom to top")).to_have_value("volume")
    bench.reload()
    expect(bench.get_by_role("slider", name="Tone and volume together")).to_be_visible()


def test_a_detent_catches_a_dragged_knob_and_keys_step_through_it(bench: Page) -> None:
    strip = knob(bench, "tone")

    def drag(value: float) -> None:
        strip.scroll_into_view_if_needed()
        box = strip.bounding_box()
        assert box
        bench.mouse.click(box["x"] + box["width"] * (10 + 28 * value) / 300, box["y"] + 10)

    drag(4.8)
    assert values(bench)[1] == pytest.approx(4.8, abs=0.11)
    assert values(bench)[1] != 5.0
    part = open_part(bench, "tone")
    part.get_by_label("Tone detent", exact=True).fill("3 %")
    bench.keyboard.press("Enter")
    until(bench, "!document.querySelector('[data-knob=tone] .click').hasAttribute('hidden')")
    bench.get_by_role("button", name="Parts", exact=True).click()
    drag(4.8)
    assert values(bench)[1] == 5.0
    expect(strip).to_have_attribute("aria-valuetext", "Tone 5.0 of 10, at the click")
    drag(4.5)
    assert values(bench)[1] == pytest.approx(4.5, abs=0.11)
    strip.focus()
    seen = []
    for _ in range(9):
        bench.keyboard.press("ArrowRight")
        seen.append(values(bench)[1])
    assert 5.0 in seen
    assert seen == sorted(set(seen)), "every key is a step"
    pad_of(bench)
    touch(bench, 9.0, 5.2)
    assert values(bench)[1] == 5.0
