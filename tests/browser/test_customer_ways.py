"""The customer's page through the chain: one control for all sounds, in place, and said in what is signed."""

from __future__ import annotations

import pytest
from customer_page import TAP_OUTPUT, Workshop, sound, tap_sound, until_heard, until_moving
from places import PICTURES
from playwright.sync_api import BrowserContext, Page, expect
from server_process import Running

pytestmark = pytest.mark.browser


def until_noted(page: Page, heard: str) -> None:
    """Wait until the page has noted what it plays; it keeps that for the signature."""
    page.wait_for_function("heard => JSON.stringify(localStorage).includes(heard)", arg=heard)


@pytest.mark.long
def test_all_sounds_are_heard_in_one_way_and_the_record_says_which(
    shared_server: Running, context: BrowserContext
) -> None:
    workshop = Workshop.at(shared_server)
    labels = ("Neck, whole", "Neck and bridge together")
    offered = workshop.propose(
        takes=("demo:e_slide",), labels=labels, ways=["clean", "direct", "driven"]
    ).ready()
    context.add_init_script(TAP_OUTPUT)
    page = offered.open(context.new_page())
    ways = page.get_by_role("radiogroup", name="How the sounds are heard")
    expect(ways.get_by_role("radio", name="Clean")).to_be_checked()
    expect(page.get_by_text("You hear every sound clean")).to_be_visible()
    tap_sound(page, 1)
    until_heard(page)
    until_noted(page, "1 clean")
    ways.get_by_role("radio", name="Driven").check(force=True)
    until_noted(page, "1 driven")
    until_heard(page)
    until_moving(page)
    expect(page.get_by_text("You hear every sound driven")).to_be_visible()
    tap_sound(page, 2)
    until_noted(page, "2 driven")
    box = sound(page, 2).locator(".turn")
    box.get_by_role("button", name="Turn the knobs").click()
    tone = box.get_by_role("slider", name="Tone")
    tone.wait_for()
    expect(box).not_to_have_attribute("data-applied", "0")
    applied = str(box.get_attribute("data-applied"))
    tone.focus()
    page.keyboard.press("Home")
    expect(box).not_to_have_attribute("data-applied", applied)  # the loop was bent with the knob turned
    PICTURES.mkdir(exist_ok=True)
    page.set_viewport_size({"width": 390, "height": 844})
    page.emulate_media(color_scheme="dark")
    page.screenshot(path=PICTURES / "customer-ways-phone-dark.png", full_page=True)
    page.emulate_media(color_scheme="light")
    page.reload()
    expect(ways.get_by_role("radio", name="Driven")).to_be_checked()
    page.get_by_role("button", name="Choose and sign off").click()
    page.get_by_label("Your name").fill("R. Winter")
    page.get_by_role("button", name="Continue").click()
    page.get_by_role("checkbox", name="I have listened").check()
    page.get_by_role("button", name="Sign off", exact=True).click()
    page.get_by_text("R. Winter").first.wait_for()
    record = page.evaluate(
        "fetch(location.pathname.replace('/p/', '/api/p/') + '/record').then(r => r.json())"
    )
    assert record["ways"] == ["clean", "direct", "driven"]
    assert record["heard"] == {"1": ["clean", "driven"], "2": ["driven"]}
