"""The farthest two of ten guitars, from the bench's form to the customer's ears."""

from __future__ import annotations

import pytest
from customer_page import TAP_OUTPUT, Workshop, sound, tap_sound, until_heard
from places import PICTURES
from playwright.sync_api import BrowserContext, expect
from server_process import Running

pytestmark = pytest.mark.browser

FETCHED = """either => performance.getEntriesByType("resource").some(
  one => either.some(name => one.name.includes(name)))"""
LOOKS = (("phone", (390, 844), "light"), ("desktop-dark", (1280, 900), "dark"))


@pytest.mark.long
def test_the_customer_hears_two_ends_beside_a_sound_and_signs_for_the_wiring(
    shared_server: Running, context: BrowserContext
) -> None:
    workshop = Workshop.at(shared_server)
    client = workshop.client
    commission = client.post("/api/commissions", json={"title": "Twelve", "starter": "baritone"}).json()["id"]
    wiring = client.get(f"/api/commissions/{commission}").json()["wirings"][0]
    version = wiring["versions"][0]["id"]
    items = [{"version": version, "position": one} for one in ("1", "6")]
    body = {"title": "Your baritone", "items": items, "takes": ["demo:e_slide"],
            "wirings": [{"version": version, "farthest": "cables"}]}  # fmt: skip
    made = client.post(f"/api/commissions/{commission}/proposals", json=body).json()
    context.add_init_script(TAP_OUTPUT)
    page = context.new_page()
    page.goto(f"{workshop.url}{made['link']}")
    guitars = page.get_by_role("radiogroup", name="Which guitar you hear")
    guitars.wait_for(timeout=60_000.0)  # it comes by itself, once it is rendered
    two = client.get(f"/api/p/{made['link'].rpartition('/')[2]}").json()["heard"]["direct"]["farthest"]["1"]
    files = [[clip[ending].rpartition("/")[2] for ending in ("mp3", "flac")] for clip in two["demo:e_slide"]]
    expect(guitars.get_by_role("radio", name="As drawn")).to_be_checked()
    tap_sound(page, 1)
    until_heard(page)
    for name, either in zip(("One", "The other"), files, strict=True):
        guitars.get_by_role("radio", name=name).check(force=True)
        page.wait_for_function(FETCHED, arg=either)
    until_heard(page)
    expect(page.get_by_text("At sound 1 they differ by")).to_be_visible()
    expect(page.get_by_text("of what differs is the cable")).to_be_visible()
    PICTURES.mkdir(exist_ok=True)
    for name, size, scheme in LOOKS:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.screenshot(path=PICTURES / f"customer-farthest-{name}.png", full_page=True)
    expect(guitars.get_by_role("radio", name="The other")).to_be_checked()
    tap_sound(page, 1)
    expect(guitars.get_by_role("radio", name="As drawn")).to_be_checked()
    guitars.get_by_role("radio", name="One").check(force=True)
    tap_sound(page, 2)
    expect(guitars.get_by_role("radio", name="As drawn")).to_be_checked()
    guitars.get_by_role("radio", name="One").check(force=True)
    sound(page, 2).get_by_role("button", name="Turn the knobs").click()
    expect(guitars.get_by_role("radio", name="As drawn")).to_be_checked()
    page.get_by_role("button", name="Choose and sign off").click()
    expect(page.get_by_role("dialog").get_by_text("The other")).to_have_count(0)
