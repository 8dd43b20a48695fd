"""Live knobs on the customer's page: they act at once, in place, where the browser allows."""

from __future__ import annotations

from typing import Any

import pytest
from browser_fixtures import Console, axe_script
from customer_page import TAP_OUTPUT, Offered, Workshop, loudness, place, sound, tap_sound, until_heard
from places import PICTURES
from playwright.sync_api import BrowserContext, Locator, Page, expect
from server_process import Running

pytestmark = pytest.mark.browser

SIZES = {"small": (360, 740), "tablet": (1024, 768)}
SERIOUS = ("serious", "critical")
SLOW = {"offline": False, "latency": 400, "downloadThroughput": 1.5e6 / 8, "uploadThroughput": 1.5e6 / 8}
"""A poor mobile connection: 400 ms, 1.5 Mbit/s."""
TREBLE_DB = """() => {
  const live = window.taps.at(-1), found = new Float32Array(live.frequencyBinCount);
  live.smoothingTimeConstant = 0;
  live.getFloatFrequencyData(found);
  const hz = 48000 / 2 / found.length;
  const power = (from, to) => found.slice(Math.round(from / hz), Math.round(to / hz))
    .reduce((sum, db) => sum + 10 ** (db / 10), 1e-20);
  return 10 * Math.log10(power(2500, 6000) / power(80, 800));
}"""


@pytest.fixture(scope="module")
def offered(shared_server: Running) -> Offered:
    return Workshop.at(shared_server).propose(takes=("demo:e_slide", "demo:staccato")).ready()


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
    """Return the treble of the take's loud stretch re its low end, dB."""
    to_place(page, 5)
    page.wait_for_timeout(400)
    found = []
    for _ in range(8):
        page.wait_for_timeout(50)
        found.append(float(page.evaluate(TREBLE_DB)))
    return sum(found) / len(found)


@pytest.mark.long
def test_the_tone_knob_acts_at_the_same_place(listener: Page, offered: Offered) -> None:
    page = listener
    assert page.evaluate("isSecureContext")
    tap_sound(page, 1)
    until_heard(page)
    before = place(page)
    box = begin(page)
    until_heard(page)
    assert page.get_by_role("button", name="Pause").is_visible()
    assert place(page) != before
    tone = box.get_by_role("slider", name="Tone")
    expect(tone).to_have_attribute("aria-valuenow", "10")
    bright, applied = treble_db(page), int(box.get_attribute("data-applied") or 0)
    tone.focus()
    page.keyboard.press("Home")
    expect(tone).to_have_attribute("aria-valuetext", "Tone fully down")
    expect(box).not_to_have_attribute("data-applied", str(applied))
    page.wait_for_timeout(600)
    assert treble_db(page) < bright - 6.0, "the tone knob has no effect"
    box.get_by_role("button", name="Knobs as offered").click()
    expect(tone).to_have_attribute("aria-valuenow", "10")
    expect(box).to_contain_text("you sign for the sound as offered")


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
    page.get_by_role("button", name="Pause").click()
    stood = place(page)
    assert 40.0 < stood < 90.0, "the music began again"
    begin(page)
    page.wait_for_timeout(300)
    assert place(page) > stood


@pytest.mark.long
def test_live_is_as_loud_as_the_clip(listener: Page) -> None:
    page = listener

    def measured() -> float:
        page.wait_for_timeout(700)
        found = [0.0]
        for _ in range(50):  # a whole pass of the loop
            found.append(loudness(page))
            page.wait_for_timeout(90)
        return max(found)

    for loud in ("Equal", "True"):
        page.get_by_role("radio", name=loud).check()
        tap_sound(page, 3)
        until_heard(page)
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
    expect(page.get_by_role("dialog")).to_contain_text("It does not include knobs you turned on this page")


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
    context.add_init_script(path=axe_script())
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
    found: dict[str, Any] = page.evaluate("() => window.axe.run(document)")
    assert [one["id"] for one in found["violations"] if one["impact"] in SERIOUS] == []
    PICTURES.mkdir(exist_ok=True)
    box.scroll_into_view_if_needed()
    page.screenshot(path=PICTURES / f"customer-knobs-{size}-{scheme}.png")


@pytest.mark.long
def test_a_slow_connection_is_waited_for(context: BrowserContext, offered: Offered) -> None:
    context.add_init_script(TAP_OUTPUT)
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("Network.enable")
    devtools.send("Network.emulateNetworkConditions", SLOW)
    page.goto(f"{offered.workshop.url}{offered.link}", wait_until="commit")
    expect(page.get_by_role("status").first).to_have_text("Loading your sounds…")
    expect(page.locator(".sound").first).to_be_visible(timeout=60_000)
    tap_sound(page, 1)
    expect(sound(page, 1).locator(".state")).to_have_text("loading…")
    until_heard(page, within_s=60.0)
    expect(sound(page, 1).locator(".state")).to_have_text("")
    sound(page, 1).get_by_role("button", name="Turn the knobs").click()
    expect(sound(page, 1).locator(".turn")).to_contain_text("Loading the music for the knobs")
    assert loudness(page) > 0.0, "the clip stopped meanwhile"
    expect(sound(page, 1).get_by_role("slider").first).to_be_visible(timeout=90_000)
    expect(page.locator(".trouble")).to_be_hidden()
