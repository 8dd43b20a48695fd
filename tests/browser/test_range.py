"""The range view of the bench, used like a person: by pointer, by keys, on a phone."""

from __future__ import annotations

import json
import re
import time
from typing import Any

import numpy as np
import pytest
from bench_page import asked, new_commission, open_bench, stop
from browser_fixtures import WAIT_MS, Console, until
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import BrowserContext, FloatRect, Locator, Page, WebSocket, expect
from server_process import Running

pytestmark = pytest.mark.browser

FIRST = re.compile("^Find the (most useful set|widest range)$")
SIZES = {"phone": (360, 740), "tablet": (820, 1180), "desk": (1280, 800)}


class Wire:
    """The page's requests on the live connection, and the filters that come back."""

    def __init__(self, page: Page) -> None:
        self.sent: list[dict[str, Any]] = []
        self.frames: list[bytes] = []
        """Each begins with the number of its request."""
        page.on("websocket", self._watch)

    def _watch(self, socket: WebSocket) -> None:
        socket.on("framesent", lambda sent: self.sent.append(json.loads(sent)))
        socket.on("framereceived", lambda got: self.frames.append(got) if isinstance(got, bytes) else None)

    def answered(self) -> bool:
        """Whether the newest request has its filters; those of an earlier one may come late."""
        return any(np.frombuffer(frame, "<f8", 1)[0] == self.sent[-1]["id"] for frame in self.frames[-5:])

    def expression(self) -> str:
        """Return the sketch's sound in the newest request."""
        edits = self.sent[-1]["draft"]["edits"] if self.sent else []
        return next((str(one["value"]) for one in reversed(edits) if one["path"][2:3] == ["positions"]), "")


def open_range(page: Page, url: str, starter: str = "six_sounds") -> str:
    """Open the range view of a new commission, and return its id."""
    commission = new_commission(page, url, starter=starter)
    open_bench(page, url, commission)
    page.get_by_role("button", name="Range", exact=True).click()
    return commission


def find(page: Page, sounds: int = 572, wanted: str = "most useful") -> None:
    """Search, and wait for the set, its proof and the map."""
    page.get_by_role("radio", name=wanted).check(force=True)
    page.get_by_label("In phase at least").select_option("all")
    page.get_by_role("button", name=FIRST).click()
    page.locator(".sound").first.wait_for()
    page.get_by_text("Proved best").wait_for()
    page.locator(".sound-map [role=option]").nth(sounds - 1).wait_for()
    page.evaluate("() => scrollTo(0, 0)")  # the press on the button scrolled the map away


def place_of(dot: Locator) -> FloatRect:
    """Return where a dot is; the search may draw the map anew meanwhile."""
    box = "(dot) => { dot.scrollIntoView({block: 'center'}); return dot.getBoundingClientRect().toJSON(); }"
    for _ in range(50):
        found = dot.evaluate(box)  # in one step: between two, the dot may have been replaced
        if found["width"]:
            return found
        dot.page.wait_for_timeout(20)
    raise AssertionError(f"{dot} is never drawn")


def wait_for(page: Page, condition: Any, what: str) -> None:
    """Wait for a condition outside the page while the page's messages arrive."""
    until_s = time.monotonic() + WAIT_MS / 1000
    while not condition():
        assert time.monotonic() < until_s, what
        page.wait_for_timeout(10)


@pytest.mark.long
def test_from_a_switch_to_a_map_to_a_wiring(page: Page, shared_server: Running) -> None:
    wire = Wire(page)
    commission = open_range(page, shared_server.url, "baritone")
    page.get_by_role("button", name="Replace it by a sketch").click()
    find(page)
    assert page.locator(".sound").count() == 5
    page.get_by_role("button", name="Play", exact=True).click()
    until(page, "document.querySelector('.play').getAttribute('aria-label') === 'Pause'")

    heard = []
    for k in (40, 250, 470):  # three dots by pointer, with others nearby
        dot = page.locator(".sound-map [role=option]").nth(k)
        box = place_of(dot)
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        name = page.locator(".sound-panel h3").inner_text()
        wait_for(page, lambda name=name: wire.expression() == name, f"{name} is asked for")
        wait_for(page, wire.answered, "filters come")
        expect(page.locator(".sound-map [aria-selected=true]")).to_have_count(1)
        heard.append((name, wire.frames[-1]))
    assert len({name for name, _ in heard}) == 3
    assert len({frame[8:] for _, frame in heard}) == 3, "another sound came with the same filters"

    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    by_keys = page.locator(".sound-panel h3").inner_text()
    assert by_keys != heard[-1][0]
    wait_for(page, lambda: wire.expression() == by_keys, "the neighbour is asked for")
    page.keyboard.press("Home")
    until(page, "document.activeElement.getAttribute('aria-label')?.includes('Position 1')")

    page.get_by_role("button", name="Keep to compare").last.click()
    page.get_by_text("Kept as B, to compare").wait_for()

    second = page.locator(".sound").nth(1)
    second.locator("input").check(force=True)
    wait_for(
        page, lambda: wire.expression() == second.get_attribute("data-sound"), "the set is flipped through"
    )

    page.get_by_role("button", name="Chart it").click()
    expect(page.locator(".chart-sheet")).to_be_visible()
    expect(page.locator(".charting")).to_contain_text("Proved: no chart has fewer poles, or")
    until(page, "document.querySelector('.chart-drawing img').naturalWidth > 300")
    page.get_by_role("button", name="Save as a new wiring").click()
    page.get_by_text("Saved as a new wiring").wait_for()
    until(page, "document.querySelectorAll('.stop').length === 5")
    wirings = asked(page, shared_server.url, "GET", f"/commissions/{commission}")["wirings"]
    assert len(wirings) == 2
    page.get_by_role("button", name="Go back").click()
    expect(page.locator(".sound")).to_have_count(5)


def number_of(page: Page, url: str, commission: str, expression: str) -> int:
    """Return the number of a sound's dot on the map."""
    version = asked(page, url, "GET", f"/commissions/{commission}")["wirings"][0]["versions"][0]["id"]
    body = {"draft": {"version": version, "edits": []}, "options": {"count": 2, "seconds": 1}}
    task = asked(page, url, "POST", "/range", body)
    while task["state"] == "running":
        task = asked(page, url, "GET", f"/searches/{task['id']}?after={task['after']}")
    points = asked(page, url, "GET", f"/searches/{task['id']}/map")["points"]
    return [point["expression"] for point in points].index(expression)


@pytest.mark.long
def test_a_label_and_the_order_go_with_the_sounds(page: Page, shared_server: Running) -> None:
    """From the sketch into the set, back into the sketch and into the chart."""
    commission = open_range(page, shared_server.url)
    k = number_of(page, shared_server.url, commission, "neck_a + neck_b")
    find(page, wanted="widest range")
    page.locator(".sound-map [role=option]").nth(k).dispatch_event("click")
    box = place_of(page.locator(".sound-map [role=option]").nth(k))
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    panel = page.locator(".sound-panel")
    expect(panel.locator("h3")).to_have_text("neck_a + neck_b")
    panel.get_by_role("button", name="Put in place of").click()
    named = page.locator(".sound", has_text="Neck in series")
    expect(named.locator("b")).to_have_text("Neck in series")
    expect(named.locator("small")).to_contain_text("neck_a + neck_b")
    at = int(named.locator(".number").inner_text())
    way, to = ("up", at - 1) if at > 1 else ("down", at + 1)
    mover = named.get_by_role("button", name=f"Move Neck in series {way}")
    mover.click()
    expect(named.locator(".number")).to_have_text(str(to))
    expect(mover).to_be_focused()
    named.locator("input").focus()
    page.keyboard.press("Alt+ArrowDown" if to < at else "Alt+ArrowUp")
    expect(named.locator(".number")).to_have_text(str(at))
    mover.click()
    sounds = page.locator(".sound").evaluate_all("all => all.map((one) => one.dataset.sound)")
    page.get_by_role("button", name="Use these positions").click()
    expect(page.locator(".stop")).to_have_count(5)
    expect(stop(page, str(to)).locator("b")).to_have_text("Neck in series")
    page.get_by_role("button", name="Chart it").click()
    rows = page.locator(".chart-sheet table").first.locator("tbody tr")
    expect(rows).to_have_count(5)
    assert [row.locator("td").nth(1).inner_text() for row in rows.all()] == sounds
    expect(rows.nth(to - 1).locator("td").first).to_have_text("Neck in series")


@pytest.mark.long
def test_everything_is_back_after_a_reload(page: Page, shared_server: Running) -> None:
    open_range(page, shared_server.url)
    find(page)
    before = page.locator(".sound").evaluate_all("all => all.map((one) => one.dataset.sound)")
    pinned = str(page.locator(".sound").nth(4).get_attribute("data-sound"))
    page.get_by_role("button", name=f"Pin: {pinned}", exact=True).click()
    page.get_by_label("Swap position 1 for a sound near it").focus()
    swap = page.get_by_label("Swap position 1 for a sound near it")
    other = str(swap.locator("option").nth(1).get_attribute("value"))
    swap.select_option(other)
    expect(page.locator(".own")).to_contain_text("Your own set")
    page.wait_for_timeout(700)  # the page sends its state after a moment
    page.reload()
    expect(page.locator(".own")).to_contain_text("Your own set")
    expect(page.locator(".sound").first).to_have_attribute("data-sound", other)
    page.get_by_role("button", name="Back to the best set").click()
    assert pinned in before
    expect(page.locator(f".sound[data-sound='{pinned}'] [aria-pressed=true]")).to_have_count(1)

    page.get_by_role("button", name="Use these positions").click()
    until(page, "document.querySelectorAll('.stop').length === 5")
    page.get_by_role("button", name="Undo", exact=True).first.click()
    until(page, "document.querySelectorAll('.stop').length === 6")


@pytest.mark.long
def test_an_impossible_option_is_reported_at_its_field(page: Page, shared_server: Running) -> None:
    open_range(page, shared_server.url)
    page.get_by_label("Hum-cancelling at least").select_option("all")
    page.get_by_label("Positions", exact=True).fill("12")
    page.get_by_label("Positions", exact=True).press("Enter")
    page.get_by_label("Softest, dB below the loudest").locator("xpath=ancestor::details/summary").click()
    page.get_by_label("Softest, dB below the loudest").fill("0")
    page.get_by_role("form", name="Rules of the set").get_by_role("button", name="Find").click()
    problem = page.locator(".ask:has(input[aria-invalid=true]) .problem")
    expect(problem).to_contain_text("allowed")
    expect(page.get_by_label("Positions", exact=True)).to_have_attribute("aria-invalid", "true")
    assert page.locator(".sound").count() == 0


@pytest.mark.long
def test_two_choices_on_one_map_and_what_each_condition_costs(page: Page, shared_server: Running) -> None:
    """The table fills by itself; a set of it is shown beside; widest is one tap away and remembered."""
    open_range(page, shared_server.url)
    find(page)
    assert page.get_by_role("radio", name="most useful").is_checked()
    useful = page.locator(".sound").evaluate_all("all => all.map((one) => one.dataset.sound)")
    costs = page.locator(".costs tbody tr")
    expect(costs.last).to_contain_text("all of these", timeout=60_000)
    assert costs.count() >= 5
    page.get_by_role("button", name="Show on the map: the set without all of these").click()
    expect(page.locator(".sound-map .compared")).to_have_count(5)
    page.get_by_role("radio", name="widest range").check(force=True)
    expect(page.locator(".sound-map [role=option]")).to_have_count(572)  # the map never goes
    first = f"document.querySelector('.sound')?.dataset.sound ?? {json.dumps(useful[0])}"
    until(page, f"({first}) !== {json.dumps(useful[0])}")
    expect(page.locator(".sound-map .compared")).to_have_count(0)
    page.wait_for_timeout(700)  # the page sends its state after a moment
    page.reload()
    expect(page.get_by_role("radio", name="widest range")).to_be_checked()
    page.get_by_role("radio", name="most useful").check(force=True)
    until(page, f"document.querySelector('.sound')?.dataset.sound === {json.dumps(useful[0])}")


def test_one_coil_has_no_range(page: Page, shared_server: Running) -> None:
    open_range(page, shared_server.url, "one_coil")
    page.get_by_role("heading", name="One coil makes one sound").wait_for()
    assert not page.get_by_role("button", name=FIRST).is_visible()


@pytest.mark.long
def test_a_knob_is_made_more_even_and_undone(page: Page, shared_server: Running) -> None:
    open_range(page, shared_server.url)
    travel = page.locator(".travel")
    travel.get_by_label("Knob").select_option("tone")
    travel.get_by_label("Try values of").select_option("tone_cap")
    expect(travel.locator(".travel-bars rect")).to_have_count(20)
    travel.get_by_role("button", name="Try it: ", exact=False).nth(0).click()
    page.locator(".top").get_by_text("edited", exact=True).wait_for()
    page.get_by_role("button", name="Undo", exact=True).first.click()
    expect(page.locator(".top")).not_to_contain_text("edited")


@pytest.mark.long
def test_a_knob_leads_to_another_sound_and_it_is_undone(page: Page, shared_server: Running) -> None:
    open_range(page, shared_server.url)
    travel = page.locator(".travel")
    travel.get_by_label("Knob").select_option("tone")
    goal = page.get_by_role("region", name="Lead it to another sound")
    goal.get_by_label("From today's sound to").select_option("thin")
    goal.get_by_role("button", name="Find networks").click()
    expect(goal.get_by_role("status")).to_contain_text("all computed", timeout=60_000)
    way = goal.locator(".way").first
    expect(way.locator(".travel-bars .bar")).to_have_count(20)
    expect(way.get_by_role("img", name="Level along the knob")).to_have_count(1)
    way.get_by_role("button", name="Try it").click()
    page.locator(".top").get_by_text("edited", exact=True).wait_for()
    expect(goal.get_by_role("status")).to_contain_text("Find networks again")
    page.get_by_role("button", name="Undo", exact=True).first.click()
    expect(page.locator(".top")).not_to_contain_text("edited")


@pytest.mark.long
def test_the_travel_is_shown_when_it_is_asked_for_twice_at_once(page: Page, shared_server: Running) -> None:
    """Choosing a knob asks, and so does the button; whichever is answered last, an answer comes."""
    open_range(page, shared_server.url)
    travel = page.locator(".travel")
    for name in ("tone", "volume") * 2:
        travel.locator("select").first.select_option(name)
        travel.get_by_role("button", name="Show its travel").click()
        expect(travel.get_by_role("status")).to_contain_text(f"{name.capitalize()}: evenness")
        expect(travel.get_by_role("button", name="Stop")).to_be_hidden()


@pytest.mark.long
def test_every_wait_for_a_search_has_a_stop(page: Page, shared_server: Running) -> None:
    """Even before the server has answered that a search has begun."""
    page.add_init_script(
        "const plain = window.fetch; window.fetch = async (address, options) => {"
        " if (/travels$/.test(address)) await new Promise((done) => { window.letGo = done; });"
        " return plain(address, options); };"
    )
    open_range(page, shared_server.url)
    travel = page.locator(".travel")
    travel.get_by_role("button", name="Show its travel").click()
    travel.get_by_role("button", name="Stop").click()
    until(page, "window.letGo")
    page.evaluate("window.letGo()")
    expect(travel.get_by_role("button", name="Stop")).to_be_hidden()
    expect(travel.get_by_role("status")).not_to_have_text("Turning the knob…")


@pytest.mark.long
def test_the_chart_says_what_it_needs_pins_are_on_the_map_and_parts_are_not_lit(
    page: Page, shared_server: Running
) -> None:
    open_range(page, shared_server.url, "two_singles")
    page.get_by_role("button", name="Replace it by a sketch").click()
    make = page.get_by_role("button", name="Make the chart")
    expect(make).to_be_disabled()
    expect(make).to_have_accessible_description("Find a set of sounds first. The chart wires that set.")
    find(page, 6)
    expect(make).to_be_enabled()
    expect(page.locator(".sound-map .pin")).to_have_count(0)
    page.get_by_role("button", name="Pin: ").first.click()
    expect(page.locator(".sound-map .pin")).to_have_count(1)
    expect(page.locator(".sound-map [aria-label*='pinned']")).to_have_count(1)
    parts = page.get_by_role("button", name="Parts", exact=True)
    parts.click()
    expect(parts).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Range", exact=True).click()
    expect(parts).to_have_attribute("aria-pressed", "false")
    parts.click()  # back to the bench, the parts open
    expect(page.locator("#parts")).to_be_visible()


def everything(page: Page, url: str) -> None:
    """Show a set, the map of two coils, a chosen sound, a chart and the travel."""
    open_range(page, url, "two_singles")
    page.get_by_role("button", name="Replace it by a sketch").click()
    find(page, 6)
    page.locator(".sound-map [role=option][tabindex='0']").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Chart it").click()
    page.locator(".chart-sheet, .reason h3").first.wait_for()
    page.get_by_role("button", name="Show its travel").click()
    page.locator(".travel-bars").wait_for()
    page.get_by_role("button", name="Find networks").click()
    page.locator(".way, .goal [role=status]:not(:empty)").first.wait_for()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.long
def test_axe_finds_nothing_serious(context: BrowserContext, shared_server: Running, scheme: Any) -> None:
    page = context.new_page()
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    page.set_viewport_size({"width": 1320, "height": 860})
    everything(page, shared_server.url)
    assert find_violations(page) == []
    page.evaluate("document.querySelector('.asking label[for]').removeAttribute('for')")
    assert find_violations(page) != [], "axe missed a fault made on purpose"


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES)
def test_it_fits_every_screen(page: Page, shared_server: Running, size: str) -> None:
    width, height = SIZES[size]
    page.emulate_media(reduced_motion="reduce")
    page.set_viewport_size({"width": width, "height": height})
    everything(page, shared_server.url)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
        PICTURES.mkdir(exist_ok=True)
        page.screenshot(path=PICTURES / f"range-{size}-{scheme}.png", full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


@pytest.mark.long
def test_a_search_does_not_delay_the_live_page(page: Page, shared_server: Running) -> None:
    """Knobs respond during a search of many sounds: the search gives way."""
    wire = Wire(page)
    open_range(page, shared_server.url)
    page.get_by_label("Positions", exact=True).fill("9")
    page.get_by_role("radio", name="widest range").check(force=True)
    page.get_by_role("button", name=FIRST).click()
    page.locator(".sound").first.wait_for()
    page.get_by_role("button", name="Range", exact=True).click()
    stop(page, "2").locator("input").check(force=True)
    knob = page.locator("[data-knob=tone]")
    knob.focus()
    waits = []
    for _ in range(20):
        got = len(wire.frames)
        begun = time.monotonic()
        page.keyboard.press("ArrowLeft")
        wait_for(page, lambda got=got: len(wire.frames) > got, "filters come")
        waits.append(time.monotonic() - begun)
    print(f"knob to filters while a search runs: median {1000 * sorted(waits)[10]:.0f} ms")
    assert sorted(waits)[10] < 1.0


@pytest.mark.long
def test_a_search_goes_on_after_the_server_was_killed(
    page: Page, running_server: Running, console: Console
) -> None:
    console.expected += ["ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "ERR_EMPTY_RESPONSE"]
    console.expected += ["404 (Not Found)", "WebSocket connection", "ERR_CONNECTION_RESET"]
    console.expected += ["500 (Internal Server Error)"]  # a request that the end of the server cut off
    open_range(page, running_server.url)
    page.get_by_role("button", name=FIRST).click()
    page.locator(".sound").first.wait_for()
    running_server.kill()
    page.wait_for_timeout(500)
    running_server.start()
    expect(page.locator(".range-asking")).to_contain_text("Done in", timeout=40_000)
    assert page.locator(".sound").count() == 5


@pytest.mark.long
def test_a_switch_too_small_is_reported_and_its_own_best_set_found(
    page: Page, shared_server: Running
) -> None:
    open_range(page, shared_server.url)
    find(page)
    page.get_by_label("Switch", exact=True).select_option("blade_5_two_pole")
    page.get_by_role("button", name="Make the chart").click()
    expect(page.locator(".reason")).to_contain_text("cannot be wired", timeout=40_000)
    page.get_by_role("button", name="Find the best set that this switch can make").click()
    expect(page.get_by_label("For", exact=True)).to_have_value("blade_5_two_pole")
    expect(page.locator(".range-asking")).to_contain_text("Proved best", timeout=60_000)
    expect(page.locator(".range-asking")).to_contain_text("on this switch")
