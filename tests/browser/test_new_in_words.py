"""A new instrument in words, said like a person: clicks counted to the five sounds; what cannot be; keys."""

from __future__ import annotations

import time

import pytest
from bench_page import asked
from browser_fixtures import Console
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import BrowserContext, Locator, Page, expect
from server_process import Running

from server.wirings.text import WiringText

pytestmark = pytest.mark.browser

FIVE = ["Neck", "Neck with middle", "Middle", "Middle with bridge, one coil", "Bridge, both coils"]
MOST_CLICKS = 15


class Hand:
    """A person's hand that counts what it presses; a choice in a list is two clicks."""

    def __init__(self) -> None:
        self.clicks = 0

    def click(self, what: Locator) -> None:
        self.clicks += 1
        what.click()

    def choose(self, what: Locator, value: str) -> None:
        self.clicks += 2
        what.select_option(value)


def saved_text(page: Page, url: str, number: int) -> str:
    """Return the text of a version of the open commission's wiring."""
    commission = asked(page, url, "GET", f"/commissions/{page.url.rpartition('/')[2]}")
    versions = commission["wirings"][0]["versions"]
    return str(asked(page, url, "GET", f"/versions/{versions[number]['id']}")["text"])


def labels(page: Page) -> list[str]:
    """Return the positions' names on the bench."""
    page.locator(".stop").first.wait_for(timeout=60_000)
    return page.locator(".stop .name b").all_inner_texts()


def test_a_common_layout_becomes_a_wired_switch(page: Page, shared_server: Running) -> None:
    page.goto(f"{shared_server.url}/#/new")
    page.get_by_role("radio", name="Two single coils Three-").check()
    page.get_by_label("Name", exact=True).fill("In words")
    page.get_by_role("button", name="Make it").click()
    assert labels(page) == ["Neck", "Neck with bridge", "Bridge"]
    wired = WiringText(saved_text(page, shared_server.url, 1), "saved").wiring()
    assert (wired.name, wired.sketch) == ("In words", None)


@pytest.mark.long
def test_from_nothing_to_five_sounds_in_a_few_clicks(page: Page, shared_server: Running) -> None:
    """A two-coil pickup and two single coils, said one by one; the time is printed, not judged."""
    hand, begun_s = Hand(), time.monotonic()
    page.goto(shared_server.url)
    hand.click(page.get_by_role("link", name="New instrument in words"))
    expect(page.get_by_role("checkbox", name="neck with middle", exact=False).first).to_be_checked()
    hand.click(page.get_by_role("radio", name="One single coil"))  # from the smallest, not the same layout
    hand.choose(page.get_by_label("Pickup at the neck"), "single")
    hand.choose(page.get_by_label("Pickup in the middle"), "single")
    hand.choose(page.get_by_label("Pickup at the bridge"), "humbucker")
    hand.choose(page.get_by_label("Switch", exact=True), "blade_5_four_pole")
    expect(page.locator(".worded-sound input:checked")).to_have_count(5)
    hand.click(page.get_by_role("button", name="Make it"))
    assert labels(page) == FIVE
    print(f"{hand.clicks} clicks, {time.monotonic() - begun_s:.0f} s on this machine")
    assert hand.clicks <= MOST_CLICKS
    sketch, wired = (WiringText(saved_text(page, shared_server.url, n), "saved").wiring() for n in (0, 1))
    assert sketch.sketch is not None
    assert wired.sketch is None
    assert len(wired.positions) == 5


@pytest.mark.long
def test_what_a_switch_cannot_make_is_said_with_what_would(page: Page, shared_server: Running) -> None:
    page.goto(f"{shared_server.url}/#/new")
    page.get_by_role("radio", name="Humbucker at the bridge").check()
    page.get_by_label("Switch", exact=True).select_option("blade_5_two_pole")
    page.get_by_role("button", name="Make it").click()
    expect(page.get_by_text("This switch cannot make these sounds")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("Positions 4 and 5 cannot be wired together on this switch.")).to_be_visible()
    page.get_by_role("button", name="Use this: five-position blade, four poles").click(timeout=60_000)
    assert labels(page) == FIVE


@pytest.mark.long
def test_ticks_follow_pickups_and_say_what_is_missing(
    page: Page, shared_server: Running, console: Console
) -> None:
    console.expected.append("422")
    page.goto(f"{shared_server.url}/#/new")
    page.get_by_role("radio", name="Two single coils Three-").check()
    ticked = page.locator(".worded-sound input:checked")
    expect(ticked).to_have_count(3)
    page.get_by_text("Other sounds of these pickups").click()
    page.get_by_role("checkbox", name="neck and bridge in series").check()
    expect(page.get_by_text("4 sounds for 3 positions")).to_be_visible()
    expect(page.get_by_role("button", name="Make it")).to_be_disabled()
    page.get_by_role("checkbox", name="neck with bridge", exact=False).first.uncheck()
    expect(page.get_by_role("button", name="Make it")).to_be_enabled()
    page.reload()
    expect(page.get_by_role("checkbox", name="neck and bridge in series")).to_be_checked()
    page.get_by_role("button", name="Back to the usual sounds").click()
    expect(page.get_by_role("checkbox", name="neck and bridge in series")).not_to_be_checked()
    for place in ("at the neck", "at the bridge"):
        page.get_by_label(f"Pickup {place}").select_option("none")
    expect(page.get_by_text("a pickup at one place at least")).to_be_visible()
    page.get_by_label("Pickup at the neck").select_option("single")
    page.get_by_label("Scale").fill("12 kg")
    page.get_by_label("Scale").press("Enter")
    expect(page.get_by_label("Scale")).to_have_attribute("aria-invalid", "true")


@pytest.mark.long
def test_sounds_left_to_range_open_there_for_the_switch(page: Page, shared_server: Running) -> None:
    page.goto(f"{shared_server.url}/#/new")
    page.get_by_role("radio", name="Two humbuckers, five-position blade").check()
    page.get_by_role("radio", name="Leave them to Range").check(force=True)
    page.get_by_role("button", name="Make the sketch and open Range").click()
    expect(page.get_by_role("heading", name="The range of these coils")).to_be_visible()
    switch = page.locator(".range select").filter(has_text="Five-position blade, four poles").first
    expect(switch).not_to_have_value("")


@pytest.mark.long
def test_by_keys_alone_at_every_width_without_a_slip_for_readers(
    context: BrowserContext, shared_server: Running
) -> None:
    page = context.new_page()
    page.goto(shared_server.url)
    page.get_by_role("link", name="New instrument in words").focus()
    page.keyboard.press("Enter")
    page.get_by_role("radio", name="Humbucker at the bridge").focus()
    for _ in range(6):
        page.keyboard.press("ArrowDown")
    expect(page.get_by_role("radio", name="Two single coils Three-")).to_be_checked()
    expect(page.locator(".worded-sound input:checked")).to_have_count(3)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        for name, size in (("phone", (390, 844)), ("desk", (1440, 900))):
            page.set_viewport_size({"width": size[0], "height": size[1]})
            page.screenshot(path=PICTURES / f"words-{name}-{scheme}.png", full_page=True)
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert wide <= size[0], f"{name}: {wide} px"
        assert find_violations(page, colours=scheme == "dark", mild=True) == []
    page.get_by_role("button", name="Make it").focus()
    page.keyboard.press("Enter")
    assert labels(page) == ["Neck", "Neck with bridge", "Bridge"]
