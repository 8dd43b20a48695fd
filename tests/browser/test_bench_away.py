"""The bench from another machine: it asks for the key, and without TLS explains its silence."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_page import knob
from browser_fixtures import ARGUMENTS, Console
from playwright.sync_api import Page, Playwright, expect
from server_client import KEY
from server_process import Running, started

pytestmark = pytest.mark.browser

NAME = "bench.test"


@pytest.fixture
def on_the_network(tmp_path: Path) -> Iterator[Running]:
    """Start a server that other machines can reach, without TLS."""
    server = started(tmp_path, "demo", "--host", "0.0.0.0", "--key", KEY)
    try:
        yield server
    finally:
        server.stop()
        print(server.printed())


@pytest.fixture
def faraway(playwright: Playwright, console: Console, on_the_network: Running) -> Iterator[Page]:
    """Open a page of a server on another machine: no secure context."""
    console.expected += ["Cross-Origin-Opener-Policy header has been ignored", "401"]
    rules = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
    browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=[*ARGUMENTS, rules])
    page = browser.new_page()
    console.watch(page)
    yield page
    browser.close()
    assert not console.unexpected()


@pytest.mark.long
def test_the_key_opens_the_bench_and_silence_is_explained(faraway: Page, on_the_network: Running) -> None:
    faraway.goto(f"http://{NAME}:{on_the_network.port}/")
    expect(faraway.get_by_role("heading", name="This bench needs its key")).to_be_visible()
    expect(faraway.get_by_text("This connection is not encrypted")).to_be_visible()
    faraway.get_by_label("Key").fill("not the key")
    faraway.get_by_role("button", name="Open the bench").click()
    expect(faraway.locator(".problem")).not_to_be_empty()
    faraway.get_by_label("Key").fill(KEY)
    faraway.get_by_role("button", name="Open the bench").click()
    answers: list[str | bytes] = []
    faraway.on("websocket", lambda socket: socket.on("framereceived", lambda got: answers.append(got)))
    faraway.locator(".card a").first.click()
    knob(faraway, "tone").wait_for()
    faraway.get_by_role("button", name="Play", exact=True).click()
    expect(faraway.get_by_text("Live sound needs a secure address")).to_be_visible()
    knob(faraway, "tone").focus()  # everything but the sound works
    before = len(answers)
    faraway.keyboard.press("PageDown")
    expect(knob(faraway, "tone")).to_have_attribute("aria-valuenow", "9")
    while len(answers) == before:
        faraway.wait_for_timeout(10)
    expect(faraway.get_by_text("Live sound needs a secure address")).to_be_visible()


@pytest.mark.long
def test_an_expired_key_is_asked_for_again(faraway: Page, on_the_network: Running) -> None:
    faraway.goto(f"http://{NAME}:{on_the_network.port}/")
    faraway.get_by_label("Key").fill(KEY)
    faraway.get_by_role("button", name="Open the bench").click()
    faraway.locator(".card").first.wait_for()
    faraway.context.clear_cookies()
    faraway.get_by_label("Search commissions").fill("baritone")
    expect(faraway.get_by_role("heading", name="This bench needs its key")).to_be_visible()
