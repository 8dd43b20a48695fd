"""From a wish to a signature: the customer turns the knobs, the workshop makes it a sound, it is signed."""

from __future__ import annotations

import re

import pytest
from browser_fixtures import Console
from customer_page import (
    READY_S,
    TAP_OUTPUT,
    Workshop,
    reload_until_kept,
    sound,
    tap_sound,
    until_heard,
    until_sent,
)
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import BrowserContext, Page, expect
from server_process import Running
from talk_case import said, wish

pytestmark = [pytest.mark.browser, pytest.mark.long]

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 800}
NEW = "Outer coils, turned to tone 0"
MADE_MS = 1000.0 * READY_S


def shown(page: Page, name: str, dark: bool, size: dict[str, int]) -> None:
    """Keep a picture of a page."""
    PICTURES.mkdir(exist_ok=True)
    page.set_viewport_size(size)  # type: ignore[arg-type]
    page.emulate_media(color_scheme="dark" if dark else "light", reduced_motion="reduce")
    page.screenshot(path=PICTURES / f"wishes_{name}_{'dark' if dark else 'light'}.png")


def test_a_wish_is_made_a_sound_and_signed_for(
    context: BrowserContext, console: Console, shared_server: Running
) -> None:
    console.expected.append("409 (Conflict)")
    context.add_init_script(TAP_OUTPUT)
    labels = ("Neck", "Outer coils")
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",), labels=labels).ready()
    page, bench = offered.open(context.new_page()), context.new_page()
    other = offered.open(context.new_page())  # another tab of the same phone
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]

    tap_sound(page, 2)
    row = sound(page, 2)
    row.get_by_role("button", name="Turn the knobs").click()
    row.get_by_role("slider", name="Tone").press("Home")
    row.get_by_role("button", name="Wish for these settings").click()
    until_sent(page)
    expect(row.get_by_role("button", name="Wished for")).to_be_visible()
    row.get_by_role("button", name="Done with the knobs").click()
    page.get_by_role("button", name="Choose and sign off").click()  # before the workshop has answered
    page.get_by_label("Your name").fill("R. Winter")
    page.get_by_role("button", name="Continue").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("wish for those settings instead")

    bench.set_viewport_size(DESK)  # type: ignore[arg-type]
    bench.goto(f"{offered.workshop.url}/#/c/{offered.commission}")
    bench.get_by_role("button", name="Propose to the customer").click()
    talk = bench.get_by_role("dialog").locator(".talk")
    talk.get_by_role("button", name="Make it a sound: “Outer coils: wishes").click()
    expect(talk).to_contain_text(f"It is sound 3, “{NEW}”.", timeout=MADE_MS)
    for size, name in ((DESK, "bench"), (PHONE, "bench_small")):
        bench.set_viewport_size(size)  # type: ignore[arg-type]
        talk.scroll_into_view_if_needed()
        shown(bench, name, False, size)
    shown(bench, "bench_small", True, PHONE)

    news = other.locator(".came")
    expect(news).to_contain_text(f"New: sound 3, “{NEW}”.")
    expect(sound(other, 3)).to_contain_text("New")
    tap_sound(other, 2)
    expect(sound(other, 2).locator(".sent li")).to_contain_text("You hear it as sound 3.")
    expect(sound(other, 2).get_by_role("button", name="Take back")).to_have_count(0)
    for dark in (False, True):
        news.scroll_into_view_if_needed()
        shown(other, "phone", dark, PHONE)
        shown(other, "desk", dark, DESK)
    assert find_violations(other) == []
    reload_until_kept(other, "New: sound 3")  # until it was chosen
    sound(other, 2).get_by_role("button", name="Listen to sound 3").click()
    expect(sound(other, 3)).to_have_class(re.compile("heard"))
    expect(news).to_have_text("")
    expect(sound(other, 3)).not_to_contain_text("New")
    other.close()

    dialog.get_by_role("checkbox").check()
    dialog.get_by_role("button", name="Sign off").click()
    expect(dialog).to_contain_text(
        f"Not signed: a new sound of this wiring came meanwhile: 3, “{NEW}”. Listen first, then sign."
    )
    shown(page, "listen_first", False, PHONE)
    assert offered.seen()["signoff"] is None
    dialog.get_by_role("button", name="Listen to sound 3").click()
    expect(dialog).to_have_count(0)
    expect(sound(page, 3)).to_have_class(re.compile("heard"))
    until_heard(page)

    sound(page, 3).locator(".favourite").click()
    until_sent(page)
    page.get_by_role("button", name="Compare two").click()
    page.get_by_label("Sound B").select_option("3")
    expect(page.get_by_role("group", name="Compare two")).to_contain_text(NEW)
    page.get_by_role("button", name="Done").click()
    sound(page, 3).get_by_role("button", name="Turn the knobs").click()
    tone = sound(page, 3).get_by_role("slider", name="Tone")
    expect(tone).to_have_attribute("aria-valuenow", "0")
    sound(page, 3).get_by_role("button", name="Done with the knobs").click()
    page.get_by_role("button", name="Pause").click()

    page.get_by_role("button", name="Choose and sign off").click()
    page.get_by_role("button", name="Continue").click()
    expect(dialog).to_contain_text(f"3 {NEW}")
    dialog.get_by_role("checkbox").check()
    dialog.get_by_role("button", name="Sign off").click()
    expect(page.locator("section.record")).to_contain_text("R. Winter")
    expect(bench.get_by_role("dialog")).to_contain_text("Signed by R. Winter")
    link = f"/api{offered.link}"
    record = offered.workshop.client.get(f"{link}/record").json()
    assert record["chosen"]["sounds"] == [1, 2, 3]
    assert offered.workshop.client.get(f"/api/proposals/{offered.id}/verify").json()["holds"] is True

    offered.workshop.client.post(f"{link}/operations", json=said(wish(1, tone=5.0)))
    expect(talk).to_contain_text("Signed: nothing changes any more. A new proposal can hold this.")
    expect(talk.get_by_role("button", name="Make it a sound")).to_have_count(0)
