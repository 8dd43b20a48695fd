"""Live knobs on the customer's page: they act at once, in place, where the browser allows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from browser_fixtures import Console, Held
from customer_page import (
    TAP_OUTPUT,
    Offered,
    Workshop,
    place,
    sound,
    starts_of,
    tap_sound,
    until_heard,
    until_moving,
)
from page_axe import find_violations
from page_sound import RATE_HZ, record, recording_context
from places import PICTURES
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect
from server_process import Running

pytestmark = pytest.mark.browser

SIZES = {"small": (360, 740), "tablet": (1024, 768)}
SERIOUS = ("serious", "critical")
NEAR_S = 0.1
"""Both players start a little ahead of now, each by its own clock."""
TAKE_S = 4.4
"""A round of the shortest take (4.33 s): what is measured over it does not depend on when it starts."""


@pytest.fixture(scope="module")
def offered(shared_server: Running) -> Offered:
    return Workshop.at(shared_server).propose(takes=("demo:e_slide", "demo:staccato")).ready()


@pytest.fixture
def recorded(chromium: Browser, console: Console, offered: Offered) -> Iterator[Page]:
    """Open the proposal in a page that records what it plays."""
    with recording_context(chromium, console) as context:
        yield offered.open(context.new_page())


@pytest.fixture
def listener(context: BrowserContext, offered: Offered) -> Page:
    context.add_init_script(TAP_OUTPUT)
    return offered.open(context.new_page())


def begin(page: Page, number: int = 1) -> Locator:
    """Open the knobs of a sound and return their box."""
    radio = page.get_by_role("radio", name=f"{number} ")
    radio.evaluate("radio => radio.scrollIntoView({ block: 'center' })")  # not below the dock
    radio.check(force=True)
    sound(page, number).get_by_role("button", name="Turn the knobs").click()
    sound(page, number).get_by_role("slider").first.wait_for()
    return sound(page, number).locator(".turn")


def to_place(page: Page, percent: float) -> None:
    """Drag the position in the music."""
    page.get_by_label("Place in the music").evaluate(
        "(slider, at) => { slider.value = at; slider.dispatchEvent(new Event('input')); }", str(percent)
    )


def treble_db(page: Page) -> float:
    """Return the treble of a round of the take re its low end, dB."""
    power = np.abs(np.fft.rfft(record(page, TAKE_S, after_s=0.5))) ** 2
    hz = np.fft.rfftfreq(round(TAKE_S * RATE_HZ), 1.0 / RATE_HZ)
    treble, low = (power[(hz >= first) & (hz < last)].sum() for first, last in ((2500, 6000), (80, 800)))
    return float(10.0 * np.log10(treble / low))


@pytest.mark.long
def test_the_tone_knob_acts_while_the_music_goes_on(recorded: Page) -> None:
    page = recorded
    assert page.evaluate("isSecureContext")
    tap_sound(page, 1)
    until_moving(page)
    box = begin(page)
    assert page.get_by_role("button", name="Pause").is_visible()
    until_moving(page)
    tone = box.get_by_role("slider", name="Tone")
    expect(tone).to_have_attribute("aria-valuenow", "10")
    bright, applied = treble_db(page), int(box.get_attribute("data-applied") or 0)
    tone.focus()
    page.keyboard.press("Home")
    expect(tone).to_have_attribute("aria-valuetext", "Tone fully down")
    expect(box).not_to_have_attribute("data-applied", str(applied))
    assert treble_db(page) < bright - 6.0, "the tone knob has no effect"
    box.get_by_role("button", name="Knobs as offered").click()
    expect(tone).to_have_attribute("aria-valuenow", "10")
    expect(box).to_contain_text("you sign for the sound as offered")


def share(start: dict[str, float]) -> float:
    """Return the place at which a sound has started, as a share of the take."""
    return start["offset"] / start["seconds"]


@pytest.mark.long
def test_the_place_is_kept_both_ways(listener: Page) -> None:
    page = listener
    page.get_by_label("What is played").select_option("demo:staccato")
    box = begin(page)
    until_heard(page)
    page.get_by_role("button", name="Pause").click()
    until_heard(page, heard=False)
    to_place(page, 40)
    box.get_by_role("button", name="Done with the knobs").click()
    assert place(page) == pytest.approx(40.0, abs=0.5)
    page.get_by_role("button", name="Play").click()
    until_heard(page)
    assert share(starts_of(page)[-1]) == pytest.approx(0.4, abs=0.005), "the music began again"
    until_moving(page)
    page.get_by_role("button", name="Pause").click()
    stood, before = place(page), len(starts_of(page))
    begin(page)
    clip, live = starts_of(page)[before:]  # and nothing that was turned before
    assert share(clip) == pytest.approx(stood / 100.0, abs=0.005)
    went_on_s = (live["offset"] - clip["offset"] + NEAR_S) % clip["seconds"]
    assert went_on_s < (live["ms"] - clip["ms"]) / 1000.0 + 2.0 * NEAR_S, "the music began again"


@pytest.mark.long
def test_live_is_as_loud_as_the_clip(recorded: Page) -> None:
    page = recorded

    def measured() -> float:
        return float(np.abs(record(page, TAKE_S, after_s=1.0)).max())

    for loud in ("Equal", "True"):
        page.get_by_role("radio", name=loud).check()
        tap_sound(page, 3)
        expect(sound(page, 3)).to_have_class(re.compile("heard"))
        clip = measured()
        box = begin(page, 3)
        assert measured() == pytest.approx(clip, rel=0.1), loud
        box.get_by_role("button", name="Done with the knobs").click()


@pytest.mark.long
def test_another_sound_ends_it_and_the_knobs_are_remembered(listener: Page) -> None:
    page = listener
    box = begin(page)
    box.get_by_role("slider", name="Volume").focus()
    page.keyboard.press("PageDown")
    tap_sound(page, 2)
    until_heard(page)
    expect(sound(page, 2).get_by_role("button", name="Turn the knobs")).to_be_visible()
    expect(box).to_be_hidden()
    page.reload()
    page.locator(".sound").first.wait_for()
    box = begin(page)
    expect(box.get_by_role("slider", name="Volume")).to_have_attribute("aria-valuenow", "9")
    page.get_by_role("button", name="Choose and sign off").click()
    page.get_by_label("Your name").fill("R. Winter")
    page.get_by_role("button", name="Continue").click()
    expect(page.get_by_role("dialog")).to_contain_text("They do not include knobs you turned on this page")


@pytest.mark.long
def test_a_link_that_expires_meanwhile_lets_the_knobs_turn(
    context: BrowserContext, console: Console, offered: Offered
) -> None:
    console.expected += ["410 (Gone)"]
    other = offered.workshop.propose(takes=("demo:e_slide",), labels=("One",)).ready()
    page = other.open(context.new_page())
    box = begin(page)
    offered.workshop.client.post(f"/api/proposals/{other.id}/revoke").raise_for_status()
    applied = box.get_attribute("data-applied")
    box.get_by_role("slider", name="Tone").press("Home")
    expect(box).not_to_have_attribute("data-applied", str(applied))
    expect(page.locator(".trouble")).to_be_hidden()
    sound(page, 1).get_by_role("button", name="Done with the knobs").click()
    sound(page, 1).get_by_role("button", name="Turn the knobs").click()
    expect(page.locator(".trouble")).to_contain_text("The knobs do not work: this proposal is closed.")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.long
def test_it_fits_and_axe_finds_nothing(
    context: BrowserContext, offered: Offered, size: str, scheme: Any
) -> None:
    page = context.new_page()
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    offered.open(page)
    box = begin(page, 2)
    box.get_by_role("slider", name="Tone").press("PageDown")
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    heights = [one.bounding_box() for one in box.get_by_role("slider").all()]
    assert all(one and one["height"] >= 44 and one["width"] >= 200 for one in heights)
    assert find_violations(page) == []
    PICTURES.mkdir(exist_ok=True)
    box.scroll_into_view_if_needed()
    page.screenshot(path=PICTURES / f"customer-knobs-{size}-{scheme}.png")


@pytest.mark.long
def test_a_slow_connection_is_waited_for(context: BrowserContext, offered: Offered) -> None:
    """Every request is held until the page has been looked at: a slower connection there is not."""
    context.add_init_script(TAP_OUTPUT)
    page = context.new_page()
    offer, clips, knobs = Held(), Held(), Held()
    for pattern, held in ((r"/api/p/[^/]+$", offer), (r"\.(mp3|flac)$", clips), (r"/live/", knobs)):
        page.route(re.compile(pattern), held.keep)
    page.goto(f"{offered.workshop.url}{offered.link}")
    expect(page.get_by_role("status").first).to_have_text("Loading your sounds…")
    offer.release()
    tap_sound(page, 1)
    expect(sound(page, 1).locator(".state")).to_have_text("loading…")
    clips.release()
    until_heard(page)
    expect(sound(page, 1).locator(".state")).to_have_text("")
    sound(page, 1).get_by_role("button", name="Turn the knobs").click()
    expect(sound(page, 1).locator(".turn")).to_contain_text("Loading the music for the knobs")
    until_moving(page)
    until_heard(page)
    knobs.release()
    expect(sound(page, 1).get_by_role("slider").first).to_be_visible()
    expect(page.locator(".trouble")).to_be_hidden()
