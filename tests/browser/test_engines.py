"""One walk from the first sound to the workshop's record, in three engines: behind a link and in a file."""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from browser_fixtures import Console
from customer_page import TAP_OUTPUT, Offered, Workshop
from engines import ChromiumHand, Hand, opened, tap, until, write
from places import PICTURES
from playwright.sync_api import BrowserContext, Page
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

ENGINES = ("chromium", "firefox", "webkit")
TAKE = "demo:e_slide"
NOTE = "Wärmer, please?"
NAME = "R. Winter"
LOUDEST = """(() => {
  const found = new Float32Array(window.heard.fftSize);
  window.heard.getFloatTimeDomainData(found);
  return Math.max(...found.map(Math.abs));
})()"""
AUDIBLE = 1e-4
SMALL = ((844, 390), (360, 640))
USUAL = (1024, 730)


@dataclass
class Walk:
    """A customer at a page that is a file or a link's."""

    hand: Hand
    url: str
    offered: Offered
    is_file: bool

    def open(self) -> None:
        """Open the page and listen to what it sends to the loudspeaker and complains of."""
        self.hand.go(self.url)
        until(self.hand, "document.querySelectorAll('.sound').length === 5")
        self.hand.run(f"(() => {{ {TAP_OUTPUT} {COMPLAINTS} }})()")

    def is_heard(self, heard: bool = True) -> None:
        """Wait until the page sounds, or until it is silent."""
        until(self.hand, f"{LOUDEST} {'>' if heard else '<='} {AUDIBLE}")

    def sounds(self, number: int) -> None:
        """Wait until a sound plays and no other."""
        until(self.hand, f"{sound(number)}.classList.contains('heard')")
        self.is_heard()

    def place(self) -> float:
        """Return the position in the music, 0 to 100."""
        return float(self.hand.run("document.querySelector('.wave input').value"))


COMPLAINTS = """
window.complaints = [];
for (const kind of ["error", "unhandledrejection", "securitypolicyviolation"])
  addEventListener(kind, (event) => window.complaints.push(
    `${kind}: ${event.message ?? event.reason ?? event.violatedDirective}`));
"""


def sound(number: int) -> str:
    """The row of a sound, in JavaScript."""
    return f"document.querySelectorAll('.sound')[{number - 1}]"


def row(number: int, css: str) -> str:
    """A selector inside the row of a sound."""
    return f"li:nth-child({number}) > .sound {css}"


def play(walk: Walk) -> None:
    assert not walk.hand.run("window.taps.length")
    tap(walk.hand, "button.play")
    walk.sounds(1)
    until(walk.hand, "document.querySelectorAll('.wave .bars')[0].getAttribute('d').length > 400")


def flip(walk: Walk) -> None:
    before = walk.place()
    tap(walk.hand, row(2, ".pick"))
    walk.sounds(2)
    until(walk.hand, f"Math.abs(document.querySelector('.wave input').value - {before}) > 0.1")
    picture = "document.querySelector('.built-picture')"
    until(walk.hand, f"{picture}.complete && {picture}.naturalWidth > 0")


def compare(walk: Walk) -> None:
    tap(walk.hand, ".ends button", "Compare two")
    for side, number in ((1, 1), (0, 2)):
        tap(walk.hand, f".side:nth-child({side + 1}) .hear")
        walk.sounds(number)
        until(walk.hand, f"document.querySelectorAll('.hear')[{side}].ariaPressed === 'true'")
    tap(walk.hand, ".ends button", "Done")


def turn(walk: Walk) -> None:
    tap(walk.hand, row(2, ".turn > button"), "Turn the knobs")
    volume = row(2, "[role=slider][aria-label=Volume]")
    until(walk.hand, f"document.querySelector({json.dumps(volume)}) !== null")
    walk.is_heard()
    write(walk.hand, volume, "Home")
    walk.is_heard(False)
    write(walk.hand, volume, "End")
    walk.is_heard()
    if walk.is_file:
        tap(walk.hand, row(2, ".turn > button"), "Wish for these settings")
        until(walk.hand, "document.querySelector('.wishes li') !== null")
    tap(walk.hand, row(2, ".turn > button"), "Done with the knobs")
    walk.sounds(2)


def note(walk: Walk) -> None:
    tap(walk.hand, row(3, ".favourite"))
    until(walk.hand, f"{sound(3)}.querySelector('.favourite').ariaPressed === 'true'")
    write(walk.hand, ".whole textarea", NOTE)
    tap(walk.hand, ".whole button[type=submit]")
    until(walk.hand, f"document.querySelector('.whole .sent').textContent.includes({json.dumps(NOTE)})")
    if not walk.is_file:
        until(walk.hand, "document.querySelector('.sending-state').textContent.includes('Sent.')")
    tap(walk.hand, "button.play", "Pause")
    walk.is_heard(False)


def is_kept(walk: Walk) -> None:
    """Load the page again until it has what was done; a browser's store may come after the page."""
    kept = (
        f"{sound(3)}.querySelector('.favourite').ariaPressed === 'true'"
        f" && document.querySelector('.whole').textContent.includes({json.dumps(NOTE)})"
    )
    for _ in range(5):
        walk.open()
        if walk.hand.run(kept):
            return
        time.sleep(0.5)
    raise AssertionError(f"{walk.hand.name}: not kept")


def sign(walk: Walk) -> None:
    tap(walk.hand, ".ends .sign")
    write(walk.hand, "dialog input[type=text]", NAME)
    tap(walk.hand, "dialog button[type=submit]")
    tap(walk.hand, "dialog .meant")
    tap(walk.hand, "dialog button[type=submit]")
    until(walk.hand, f"document.querySelector('section.record').textContent.includes({json.dumps(NAME)})")


def answer(walk: Walk) -> None:
    """A file's answer goes by hand; a link's is there."""
    bench = walk.offered.workshop.client
    if walk.is_file:
        assert walk.offered.seen()["signoff"] is None
        tap(walk.hand, ".ways button", "Copy")
        text = until(walk.hand, "document.querySelector('.sending textarea').value")
        taken = bench.post("/api/answers", json={"text": text})
        assert taken.status_code == 201, taken.text
        (answer,) = bench.get(f"/api/commissions/{walk.offered.commission}/answers").json()
        assert NOTE in [one["text"] for one in answer["notes"]]
        assert [one["number"] for one in answer["wishes"]] == [2]
    seen = walk.offered.seen()
    assert (seen["signoff"]["label"], seen["signoff"]["name"]) == ("Your baritone", NAME)
    if not walk.is_file:
        assert seen["favourites"] == [3]
        assert [one["text"] for one in seen["comments"]] == [NOTE]
    assert bench.get(f"/api/proposals/{walk.offered.id}/verify").json() == {"holds": True, "problems": []}


def receipt(walk: Walk) -> None:
    """A link's page gives a receipt to print; what a file's customer signed is a receipt once it is sent."""
    if walk.is_file:
        return
    assert walk.hand.run("window.complaints") == []
    walk.hand.go(walk.hand.run("document.querySelector('.record a.main').href"))
    until(walk.hand, f"document.querySelector('main').textContent.includes({json.dumps(NAME)})")
    until(walk.hand, "document.querySelector('img').naturalWidth > 0")
    walk.hand.picture(PICTURES / f"engine-{walk.hand.name}-receipt.png")
    walk.open()


def fits(walk: Walk) -> None:
    """A small phone and one on its side show two sounds at once, free of what lies over the page."""
    for width, height in SMALL:
        walk.hand.resize(width, height)
        walk.hand.run("scrollTo(0, 0)")
        until(
            walk.hand,
            """(() => {
              const second = document.querySelectorAll(".sound")[1],
                { x, y } = second.querySelector("b").getBoundingClientRect();
              return second.contains(document.elementFromPoint(x + 4, y + 4))
                && document.documentElement.scrollWidth <= innerWidth;
            })()""",
        )
        walk.hand.picture(PICTURES / f"engine-{walk.hand.name}-{width}x{height}.png")
    walk.hand.resize(*USUAL)


STEPS = (fits, play, flip, compare, turn, note, is_kept, sign, answer, receipt)


def take(walk: Walk) -> None:
    """Take every step that the page has; what goes wrong is seen in a picture."""
    PICTURES.mkdir(exist_ok=True)
    walk.open()
    for step in STEPS:
        try:
            step(walk)
        except BaseException as error:
            walk.hand.picture(PICTURES / f"engine-{walk.hand.name}-{step.__name__}.png")
            error.add_note(f"{walk.hand.name} at the step {step.__name__}")
            raise
    assert walk.hand.run("window.complaints") == []
    asked = walk.hand.run("performance.getEntriesByType('resource').map((one) => one.name)")
    if walk.is_file:
        assert not [one for one in asked if one.startswith("http")]


@pytest.fixture
def chromium_page(context: BrowserContext, console: Console) -> Page:
    return context.new_page()


@pytest.fixture(params=ENGINES)
def hand_of(request: pytest.FixtureRequest) -> Any:
    """Return what starts a browser for a test; Chromium is the one of the other tests."""
    if request.param == "chromium":
        page: Page = request.getfixturevalue("chromium_page")
        return lambda offline: _chromium(page, offline)
    return lambda offline: opened(request.param, offline=offline)


@contextlib.contextmanager
def _chromium(page: Page, offline: bool) -> Iterator[Hand]:
    page.context.set_offline(offline)
    yield ChromiumHand(page)


@pytest.mark.parametrize("form", ["link", "file"])
def test_a_customer_listens_marks_writes_and_signs(
    hand_of: Any, form: str, shared_server: Running, tmp_path: Path
) -> None:
    is_file = form == "file"
    mine = Workshop.at(shared_server).propose(takes=(TAKE,)).ready()
    url = f"{shared_server.url}{mine.link}"
    if is_file:
        file = tmp_path / "sounds.html"
        saved = mine.workshop.client.post(f"/api/proposals/{mine.id}/bundle/file")
        file.write_bytes(saved.raise_for_status().content)
        url = file.as_uri()
    with hand_of(is_file) as hand:
        take(Walk(hand, url, mine, is_file))
