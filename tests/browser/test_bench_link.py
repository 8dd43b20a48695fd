"""The bench's link for a customer: scanned from the screen, opened at the customers' own listener."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator

import pytest
import zxingcpp
from bench_page import new_commission, open_bench
from browser_fixtures import ARGUMENTS, Console
from nginx_process import free_port
from PIL import Image
from places import PICTURES
from playwright.sync_api import Browser, Locator, Page, Playwright, expect
from server_process import Running, started

pytestmark = [pytest.mark.browser, pytest.mark.long]

NAME = "sounds.test"


@pytest.fixture(scope="module")
def public_url() -> str:
    return f"http://{NAME}:{free_port()}"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, public_url: str) -> Iterator[Running]:
    """Start a server whose customers come by a name of their own."""
    port = public_url.rpartition(":")[2]
    folder = tmp_path_factory.mktemp("public")
    running = started(folder, "demo", "--public-url", public_url, "--public-port", port)
    try:
        yield running
    finally:
        running.stop()
        print(running.printed())


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    """Start a browser that finds the public name on this machine."""
    rules = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
    found = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=[*ARGUMENTS, rules])
    yield found
    found.close()


def link_made(page: Page) -> Locator:
    """Propose every position, and return the dialog that shows the link."""
    page.get_by_role("button", name="Propose to the customer").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Make the link").click()
    dialog.get_by_label("Link for the customer").wait_for()
    return dialog


def scanned(code: Locator) -> str:
    """Return what another program reads from the code on the screen."""
    picture = Image.open(io.BytesIO(code.screenshot())).convert("L")
    (found,) = zxingcpp.read_barcodes(picture)
    return found.text


@pytest.mark.parametrize(("size", "scheme"), [((390, 844), "dark"), ((1440, 900), "light")])
def test_the_code_on_the_screen_opens_the_customers_page(
    browser: Browser, console: Console, server: Running, public_url: str, size: tuple[int, int], scheme: str
) -> None:
    width, height = size
    page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)  # type: ignore[arg-type]
    console.watch(page)
    open_bench(page, server.url, new_commission(page, server.url))
    dialog = link_made(page)
    shown = dialog.get_by_label("Link for the customer").input_value()
    assert shown.startswith(f"{public_url}/p/")
    expect(dialog.get_by_text("It opens anywhere, as long as")).to_be_visible()
    code = dialog.get_by_role("img", name="The link as a QR code")
    code.scroll_into_view_if_needed()
    PICTURES.mkdir(exist_ok=True)
    page.screenshot(path=PICTURES / f"bench-link-{width}-{scheme}.png")
    title = dialog.get_by_label("Title the customer sees").input_value()
    link = scanned(code)
    assert link == shown
    console.expected += ["Cross-Origin-Opener-Policy header has been ignored"]
    phone = browser.new_page()
    console.watch(phone)
    phone.goto(link)
    expect(phone.get_by_role("heading", level=1)).to_have_text(title)
    assert not console.unexpected()


def test_a_link_for_this_machine_alone_has_a_warning_and_no_code(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    dialog = link_made(page)
    expect(dialog.get_by_text("This address opens on this computer alone")).to_be_visible()
    expect(dialog.get_by_role("img", name="The link as a QR code")).to_be_hidden()
