"""A part of a page at the sizes of a desk and a phone, light and dark: axe-core, width, pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from browser_fixtures import until
from page_axe import find_violations
from places import PICTURES
from playwright.sync_api import Page

Look = tuple[Literal["desk", "phone"], Literal["light", "dark"]]
SIZES = {"desk": (1320, 860), "phone": (390, 844)}
EVERY: tuple[Look, ...] = (("desk", "light"), ("desk", "dark"), ("phone", "dark"), ("phone", "light"))
AT_REST = "!document.getAnimations().some((one) => one.playState === 'running')"
FITS = """(part) => document.documentElement.scrollWidth <= innerWidth
  && document.querySelector(part).scrollWidth <= document.querySelector(part).clientWidth"""


def look(
    page: Page, part: str, name: str, looks: Sequence[Look] = EVERY, *, whole: bool = False, at: str = ""
) -> None:
    """Look at a page several ways, and leave it as at a desk, light.

    Axe-core finds nothing serious in the part, neither it nor the page is wider than its place, and a
    picture of each look is left.

    Parameters
    ----------
    part : str
        Selector of what is looked at.
    name : str
        Of the pictures.
    whole : bool
        Whether the pictures show the whole page, not just what the screen shows of it.
    at : str
        Selector of what is brought into view first.
    """
    PICTURES.mkdir(exist_ok=True)
    seen: set[str] = set()
    for size, scheme in looks:
        show_as(page, size, scheme)
        if at:
            page.locator(at).scroll_into_view_if_needed()
        assert not find_violations(page, part, colours=size in seen), f"{name}, {size}, {scheme}"
        seen.add(size)
        assert page.evaluate(FITS, part), f"{name}, {size}: too wide"
        page.screenshot(path=PICTURES / f"{name}-{size}-{scheme}.png", full_page=whole)
    show_as(page, "desk", "light")


def show_as(page: Page, size: Literal["desk", "phone"], scheme: Literal["light", "dark"]) -> None:
    """Give a page a size and a scheme, and wait until nothing moves any more."""
    width, height = SIZES[size]
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": height})
    until(page, AT_REST)
