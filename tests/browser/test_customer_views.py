"""The customer's page in every state: axe-core, sizes for a finger, width, screenshots."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Literal

import pytest
from browser_fixtures import Console, axe_script
from customer_page import Offered, Workshop, sound, tap_sound
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import BrowserContext, Page, expect
from server_process import Running
from talk_case import favourite, note, said

pytestmark = [pytest.mark.browser, pytest.mark.long]

SERIOUS = ("serious", "critical")
SIZES = {"small": (360, 740), "phone": (390, 844), "tablet": (1024, 768), "desk": (1440, 900)}
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
FINGER_PX = 44
UNKNOWN = "/p/nothing"
PAGE_HEIGHT = "document.documentElement.scrollHeight"


@pytest.fixture(scope="module")
def offered(shared_server: Running) -> Offered:
    return Workshop.at(shared_server).propose().ready()


@pytest.fixture(scope="module")
def signed(shared_server: Running) -> Offered:
    """Make a proposal with favourites, notes and a signature."""
    import datetime

    one = Workshop.at(shared_server).propose(takes=("demo:e_slide",)).ready()
    client, link = one.workshop.client, f"/api{one.link}"
    notes = note("This is the one.\nWith a smaller knob, if you can.", 3), note("When will it be ready?")
    body = said(favourite(1), favourite(3), *notes)
    client.post(f"{link}/operations", json=body).raise_for_status()
    today = datetime.datetime.now(datetime.UTC).date().isoformat()
    body = {"wiring": 1, "name": "R. Winter", "date": today, "confirm": True}
    client.post(f"{link}/signoff", json=body).raise_for_status()
    return one


def at_rest(page: Page, offered: Offered, signed: Offered) -> None:
    offered.open(page)


def playing(page: Page, offered: Offered, signed: Offered) -> None:
    offered.open(page)
    tap_sound(page, 3)
    expect(sound(page, 3)).to_have_class(re.compile("heard"))
    sound(page, 3).get_by_role("button", name="Write a note").click()
    sound(page, 3).locator(".favourite").click()


def comparing(page: Page, offered: Offered, signed: Offered) -> None:
    offered.open(page)
    page.get_by_role("button", name="Compare two").click()
    page.get_by_role("button", name=re.compile("^B ")).click()


def choosing(page: Page, offered: Offered, signed: Offered) -> None:
    offered.open(page)
    page.get_by_role("button", name="Choose and sign off").click()
    page.get_by_role("dialog").get_by_role("button", name="Continue").click()
    expect(page.get_by_role("dialog").get_by_role("alert")).to_have_text("Type your name.")


def confirming(page: Page, offered: Offered, signed: Offered) -> None:
    offered.open(page)
    page.get_by_role("button", name="Choose and sign off").click()
    page.get_by_label("Your name").fill("R. Winter")
    page.get_by_role("button", name="Continue").click()


def after_signing(page: Page, offered: Offered, signed: Offered) -> None:
    signed.open(page)
    page.get_by_text("Keep a proof").click()


def closed(page: Page, offered: Offered, signed: Offered) -> None:
    page.goto(f"{offered.workshop.url}{UNKNOWN}")
    page.get_by_role("heading").wait_for()


VIEWS: dict[str, Callable[[Page, Offered, Offered], None]] = {
    "rest": at_rest,
    "playing": playing,
    "comparing": comparing,
    "choosing": choosing,
    "confirming": confirming,
    "signed": after_signing,
    "closed": closed,
}


def opened(context: BrowserContext, size: str, scheme: Any) -> Page:
    page = context.new_page()
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    return page


TOO_SMALL = """least => [...document.querySelectorAll("button, select, textarea, a[href], summary, .pick, "
  + ".choosable, .swap, .meant, .choice label, input[type=range], input[type=text], input[type=date]")]
  .filter(one => one.checkVisibility())
  .map(one => ({ what: one.className || one.textContent || one.type, box: one.getBoundingClientRect() }))
  .filter(({ box }) => box.width && (box.height < least || box.width < least))
  .map(({ what, box }) => `${what}: ${box.width} x ${box.height}`)"""


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("size", SIZES)
def test_everything_fits_and_is_large_enough_for_a_finger(
    context: BrowserContext, console: Console, offered: Offered, signed: Offered, view: str, size: str
) -> None:
    """In both schemes, as the device changes between them; on a phone axe-core looks too."""
    console.expected += ["404 (Not Found)"]
    context.add_init_script(path=axe_script())
    page = opened(context, size, "light")
    VIEWS[view](page, offered, signed)
    PICTURES.mkdir(exist_ok=True)
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme)
        wide = page.evaluate("() => document.documentElement.scrollWidth")
        assert wide <= SIZES[size][0], "the page is wider than the screen"
        assert page.evaluate(TOO_SMALL, FINGER_PX - 0.5) == []
        page.screenshot(path=PICTURES / f"customer-{view}-{size}-{scheme}.png")
    if size == "phone":
        nothing_serious(page)


def nothing_serious(page: Page) -> None:
    """Axe-core finds nothing in either scheme."""
    # A bar that stays on the screen covers part of what is scrolled below it, wherever that is: not here.
    width, height = SIZES["phone"]
    page.set_viewport_size({"width": width, "height": max(height, page.evaluate(PAGE_HEIGHT))})
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme)
        assert find_violations(page, colours=scheme == "dark") == [], scheme


def test_long_names_do_not_break_the_page(context: BrowserContext, offered: Offered) -> None:
    long = (
        "W" * 120,
        "An outer coil of the neck pickup beside an inner coil of the bridge pickup, leads turned round",
    )
    other = offered.workshop.propose(labels=long, title="M" * 150, takes=("demo:e_slide",)).ready()
    page = opened(context, "small", "light")
    other.open(page)
    page.get_by_role("button", name="Compare two").click()
    assert page.evaluate("() => document.documentElement.scrollWidth") <= SIZES["small"][0]
    page.screenshot(path=PICTURES / "customer-long-small-light.png")
