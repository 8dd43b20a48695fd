"""A real browser for tests: Debian's chromium, driven by playwright. A complaint on its console fails a test.

Fixtures: `page` (any page), `player` (the page's player at the shared server, driven by a script
of the tests), `console` (what was said; put parts of complaints that a test brings about on
purpose into its `expected`).
"""

from __future__ import annotations

import contextlib
import os
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from places import TESTS
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Error,
    Page,
    Playwright,
    Route,
    expect,
    sync_playwright,
)

PAGES = TESTS / "browser" / "pages"
ARGUMENTS = [
    "--autoplay-policy=no-user-gesture-required",
    "--mute-audio",
    "--disable-dev-shm-usage",
    "--no-sandbox",
]
COMPLAINTS = ("error", "warning")
WAIT_MS = 30_000
"""How long a test waits for a page. A busy machine is slow; only a wrong page needs all of it."""
expect.set_options(timeout=WAIT_MS)


@dataclass
class Console:
    """The messages of a page's console.

    Attributes
    ----------
    complaints : list of str
        Errors and warnings. Any at its end fails a test.
    expected : list of str
        Parts of complaints that a test causes on purpose.
    """

    complaints: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=list)

    def watch(self, page: Page) -> None:
        """Listen to a page."""
        page.on("console", self._said)
        page.on("pageerror", lambda error: self.complaints.append(f"uncaught: {error}"))

    def _said(self, message: ConsoleMessage) -> None:
        if message.type in COMPLAINTS:
            self.complaints.append(f"{message.type}: {message.text} ({message.location.get('url', '')})")

    def unexpected(self) -> list[str]:
        """Return the complaints that the test did not expect."""
        return [one for one in self.complaints if not any(part in one for part in self.expected)]


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as one:
        yield one


@pytest.fixture(scope="session")
def chromium(playwright: Playwright) -> Iterator[Browser]:
    """Share one browser in the whole run."""
    path = shutil.which("chromium")
    if path is None:
        needed = "chromium is missing from the path"
        if os.environ.get("CI") == "true":
            pytest.fail(f"{needed}; CI must install it")
        pytest.skip(needed)
    browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
    yield browser
    browser.close()


@pytest.fixture
def console() -> Console:
    """Collect the console messages of a test's pages."""
    return Console()


@pytest.fixture
def context(chromium: Browser, console: Console) -> Iterator[BrowserContext]:
    """Make a browser context without history; its console must be quiet at the end."""
    context = chromium.new_context()
    context.on("page", console.watch)
    context.set_default_timeout(WAIT_MS)
    yield context
    context.close()
    assert not console.unexpected(), "\n".join(console.unexpected())


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """Open a page of that context."""
    return context.new_page()


class Held:
    """Requests kept back until a test has looked at the page that waits for them.

    A state that ends by itself can be over before a busy machine looks at it.
    """

    def __init__(self, passing: int = 0) -> None:
        self.passing = passing
        self.routes: list[Route] = []
        self.released = False

    def keep(self, route: Route) -> None:
        """Let the first few through and keep the others: the handler of a page's route."""
        self.passing -= 1
        if self.released or self.passing >= 0:
            route.continue_()
        else:
            self.routes.append(route)

    def release(self) -> None:
        """Let every request through, those to come too."""
        self.released = True
        while self.routes:
            with contextlib.suppress(Error):  # the page gave this one up meanwhile
                self.routes.pop().continue_()


def open_player(page: Page, url: str) -> Page:
    """Open a server's address, with its own policy, and load the script that drives the player."""

    def answer(route: Route) -> None:
        file = PAGES / route.request.url.rpartition("/")[2]
        route.fulfill(body=file.read_text("utf-8"), content_type="text/javascript")

    page.route(f"{url}/tests/*.js", answer)
    page.goto(f"{url}/api/access")  # any document will do: only its origin counts
    page.add_script_tag(url=f"{url}/tests/player.js", type="module")
    until(page, "window.bench !== undefined")
    return page


def until(page: Page, expression: str, *, within_s: float = WAIT_MS / 1000) -> None:
    """Wait until an expression is true. Playwright's own wait needs eval, which the policy forbids."""
    begun = time.monotonic()
    while not page.evaluate(f"() => Boolean({expression})"):
        assert time.monotonic() - begun < within_s, f"not within {within_s:g} s: {expression}"
        page.wait_for_timeout(20)


@pytest.fixture
def player(page: Page, shared_server: Any) -> Page:
    """Open the player at the shared server, driven by the test."""
    return open_player(page, shared_server.url)


AXE = TESTS / "web" / "node_modules" / "axe-core" / "axe.min.js"


def axe_script() -> Path:
    """Return the accessibility checker's script. Where it is missing the test skips; in CI it fails."""
    if not AXE.exists():
        needed = "axe-core is missing: npm ci in tests/web"
        if os.environ.get("CI") == "true":
            pytest.fail(needed)
        pytest.skip(needed)
    return AXE
