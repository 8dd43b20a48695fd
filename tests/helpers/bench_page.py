"""Open the bench on a test's own commission, and find things on it by name."""

from __future__ import annotations

from typing import Any

from browser_fixtures import until
from playwright.sync_api import Locator, Page

OURS = {"X-Presolder": "1"}


def asked(page: Page, url: str, method: str, path: str, body: object = None) -> Any:
    """Send a request and return the answer's JSON; the test fails on a refusal."""
    answer = page.request.fetch(f"{url}/api{path}", method=method, headers=OURS, data=body)
    assert answer.ok, f"{method} {path}: {answer.status} {answer.text()}"
    return answer.json() if answer.body() else None


def new_commission(page: Page, url: str, title: str = "Bench test", starter: str = "baritone") -> str:
    """Make a commission and return its id."""
    made = asked(page, url, "POST", "/commissions", {"title": title, "starter": starter})
    return str(made["id"])


def open_bench(page: Page, url: str, commission: str) -> Page:
    """Open the bench of a commission and wait until everything is loaded."""
    page.goto(f"{url}/#/c/{commission}")
    page.locator(".stop").first.wait_for()
    until(page, "document.querySelectorAll('.stop .coils').length > 0")
    until(page, "document.querySelector('.curve.heard')")
    return page


def stop(page: Page, position: str) -> Locator:
    """Return the row of a position."""
    return page.locator(f".stop[data-position='{position}']")


def knob(page: Page, name: str) -> Locator:
    """Return a knob's strip."""
    return page.locator(f"[data-knob='{name}']")


def chosen(page: Page) -> str:
    """Return the position that sounds."""
    return str(page.locator(".stop input:checked").get_attribute("value"))


def heard_curve(page: Page) -> str:
    """Return the path of the plotted response; each sound has its own."""
    return str(page.locator(".curve.heard").get_attribute("d"))


SETTLED = """() => new Promise((done) => {
  const curve = () => document.querySelector('.curve.heard')?.getAttribute('d');
  let before = curve(), same = 0;
  const look = () => {
    const now = curve(), moves = document.getAnimations().some((one) => one.playState === 'running');
    same = now === before && !moves ? same + 1 : 0;
    before = now;
    if (same < 10) requestAnimationFrame(look);
    else done(now);
  };
  requestAnimationFrame(look);
})"""


def settled_curve(page: Page) -> str:
    """Return the path of the plotted response once the drawer no longer narrows the plot.

    It counts the page's own frames: on a busy machine those come late too.
    """
    return str(page.evaluate(SETTLED))


def until_other_curve(page: Page, before: str) -> None:
    """Wait until the plot shows another sound."""
    until(page, f"document.querySelector('.curve.heard')?.getAttribute('d') !== {before!r}")


def open_part(page: Page, name: str, kind: str = "part") -> Locator:
    """Unfold a part in the drawer, or with `around` a section on what surrounds the parts."""
    drawer = page.locator("#parts")
    if not drawer.is_visible():
        page.get_by_role("button", name="Parts", exact=True).click()
    part = page.locator(f"[data-{kind}='{name}']")
    if part.get_attribute("open") is None:
        part.locator("summary").click()
    return part


def move_head_seen(page: Page) -> None:
    """Wait until the play head moves: the sound is running."""
    until(page, "document.querySelector('.play').getAttribute('aria-label') === 'Pause'")
    at = page.locator(".wave .head").get_attribute("x1")
    until(page, f"document.querySelector('.wave .head').getAttribute('x1') !== {at!r}")
