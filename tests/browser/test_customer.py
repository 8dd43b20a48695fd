"""The customer's page in a real browser, on a phone over plain http, from link to signature."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from browser_fixtures import ARGUMENTS, Console, Held, until
from customer_page import (
    LABELS,
    LOUDNESS,
    READY_S,
    TAP_OUTPUT,
    Offered,
    Workshop,
    are_in_step,
    loudness,
    place,
    sound,
    starts_of,
    tap_sound,
    until_heard,
    until_moving,
    until_sent,
)
from hostile import KEPT
from page_sound import record, recording_context
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect
from server_client import KEY
from server_process import Running, started

pytestmark = pytest.mark.browser

NAME = "workshop.test"
PHONE = {"width": 390, "height": 844}
HOSTILE = KEPT["script"] + KEPT["attribute"]
NOTE, QUESTION = "Warmer, please?", "Could the tone knob be smaller?"
CLIPS = re.compile(r"\.(flac|mp3)$")
"""Requests for sounds: a line that is not fast gets the small files."""


@pytest.fixture(scope="module")
def on_the_network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Start a server that other machines can reach, without TLS."""
    server = started(tmp_path_factory.mktemp("network"), "demo", "--host", "0.0.0.0", "--key", KEY)
    try:
        yield server
    finally:
        server.stop()
        print(server.printed())


@pytest.fixture(scope="module")
def faraway(playwright: Playwright) -> Iterator[Browser]:
    """Start a browser that knows the server by another machine's name: no secure context."""
    rules = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
    browser = playwright.chromium.launch(
        executable_path=shutil.which("chromium"),
        args=[*(one for one in ARGUMENTS if "autoplay" not in one), rules],
    )
    yield browser
    browser.close()


@pytest.fixture
def phone(faraway: Browser, console: Console) -> Iterator[Page]:
    """Open a phone's page, where sound needs a tap."""
    console.expected.append("Cross-Origin-Opener-Policy header has been ignored")  # it needs TLS
    context = faraway.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    context.on("page", console.watch)
    context.set_default_timeout(20_000)
    context.add_init_script(TAP_OUTPUT)
    yield context.new_page()
    context.close()
    assert not console.unexpected()


@pytest.fixture
def offered(shared_server: Running) -> Offered:
    """Make a proposal with its clips on the shared server."""
    return Workshop.at(shared_server).propose(takes=("demo:e_slide",)).ready()


@pytest.fixture
def listener(context: BrowserContext, offered: Offered) -> Page:
    """Open that proposal at desktop size."""
    context.add_init_script(TAP_OUTPUT)
    return offered.open(context.new_page())


@pytest.fixture
def recorded(chromium: Browser, console: Console, offered: Offered) -> Iterator[Page]:
    """Open that proposal in a page that records what it plays."""
    with recording_context(chromium, console) as context:
        yield offered.open(context.new_page())


def test_from_the_link_to_the_signature_on_a_phone_over_plain_http(
    on_the_network: Running, phone: Page
) -> None:
    workshop = Workshop.at(on_the_network, KEY)
    offered = workshop.propose()
    address = f"http://{NAME}:{on_the_network.port}"
    page = offered.open(phone, address)
    assert page.evaluate("() => [isSecureContext, 'AudioWorkletNode' in window]")[0] is False
    expect(page.get_by_label("Sounds prepared")).to_be_visible()
    expect(page.get_by_label("Sounds prepared")).to_be_hidden(timeout=1000.0 * READY_S)

    listen(page)
    mark_and_write(page, offered)
    turn(page)
    compare(page)

    page.reload()
    page.locator(".sound").first.wait_for()
    kept_after_reload(page)

    sign(page, offered)
    page.reload()
    expect(page.get_by_role("heading", name="Signed off")).to_be_visible()
    expect(page.get_by_role("button", name="Choose and sign off")).to_be_hidden()
    listen_again(page)


def listen(page: Page) -> None:
    """One tap starts a sound; a tap on another goes on from the same place."""
    assert loudness(page) == 0.0
    page.get_by_role("button", name="Play").tap()
    until_heard(page)
    expect(sound(page, 1)).to_have_class(re.compile("heard"))
    until_moving(page)
    before = len(starts_of(page))
    sound(page, 2).locator(".pick").tap()
    expect(sound(page, 2)).to_have_class(re.compile("heard"))
    starts = starts_of(page)
    assert len(starts) > before
    assert are_in_step(starts), "the music began again"
    page.get_by_label("What is played").select_option("demo:staccato")
    expect(sound(page, 2)).to_have_class(re.compile("heard"))
    until_heard(page)
    page.get_by_role("button", name="Pause").tap()
    until_heard(page, heard=False)


def mark_and_write(page: Page, offered: Offered) -> None:
    for number in (2, 3):
        sound(page, number).get_by_role("button", name=re.compile("^Favourite")).tap()
        expect(sound(page, number).locator(".favourite")).to_have_attribute("aria-pressed", "true")
    for text in (NOTE, HOSTILE):
        if sound(page, 2).get_by_role("textbox").is_hidden():
            sound(page, 2).get_by_role("button", name="Write a note").tap()
        sound(page, 2).get_by_role("textbox").fill(text)
        sound(page, 2).get_by_role("button", name="Send to the workshop").tap()
        expect(sound(page, 2).locator(".sent li").filter(has_text=text)).to_be_visible()
    offered.until_seen(page, "favourites", [2, 3])
    until_sent(page)
    seen = offered.seen()
    assert [(one["number"], one["text"]) for one in seen["comments"]] == [(2, NOTE), (2, HOSTILE)]
    page.get_by_label("Ask the workshop").fill(QUESTION)  # not sent


def compare(page: Page) -> None:
    page.get_by_role("button", name="Compare two").tap()
    first = page.get_by_role("button", name="A Neck and bridge together")
    second = page.get_by_role("button", name="B Outer coils")  # the two favourites
    second.tap()
    until_heard(page)
    expect(second).to_have_attribute("aria-pressed", "true")
    expect(sound(page, 3)).to_have_class(re.compile("heard"))
    first.tap()
    expect(sound(page, 2)).to_have_class(re.compile("heard"))
    page.get_by_label("Sound B").select_option("5")
    expect(sound(page, 5)).to_have_class(re.compile("heard"))
    page.get_by_label("Switch automatically").check()
    expect(sound(page, 2)).to_have_class(re.compile("heard"))


def turn(page: Page) -> None:
    """A knob acts, though no secure page lets the browser run worklets."""
    sound(page, 2).locator(".pick").tap()
    sound(page, 2).get_by_role("button", name="Turn the knobs").tap()
    volume = sound(page, 2).get_by_role("slider", name="Volume")
    volume.wait_for()
    until_heard(page)
    volume.press("Home")
    expect(volume).to_have_attribute("aria-valuetext", "Volume fully down")
    until_heard(page, heard=False)
    volume.press("End")
    until_heard(page)
    sound(page, 2).get_by_role("button", name="Done with the knobs").tap()
    page.get_by_role("button", name="Pause").tap()


def kept_after_reload(page: Page) -> None:
    expect(sound(page, 2).locator(".favourite")).to_have_attribute("aria-pressed", "true")
    expect(sound(page, 3).locator(".favourite")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_text(HOSTILE)).to_be_visible()
    expect(page.get_by_label("Ask the workshop")).to_have_value(QUESTION)
    expect(page.get_by_role("button", name="B Bridge, whole")).to_be_visible()
    expect(page.get_by_label("What is played")).to_have_value("demo:staccato")


def sign(page: Page, offered: Offered) -> None:
    after = offered.seen()["after"]
    page.get_by_role("button", name="Choose and sign off").tap()
    dialog = page.get_by_role("dialog")
    expect(dialog.get_by_role("radio")).to_have_count(0)  # there is one wiring
    dialog.get_by_role("button", name="Continue").tap()
    expect(dialog.get_by_role("alert")).to_have_text("Type your name.")
    dialog.get_by_label("Your name").fill(HOSTILE[:120])
    dialog.get_by_role("button", name="Continue").tap()
    expect(dialog).to_contain_text("nobody can change the record afterwards")
    expect(dialog).to_contain_text("2 × pot, 500 kΩ, measured audio taper (volume, tone)")
    for label in LABELS:
        expect(dialog).to_contain_text(label)
    dialog.get_by_role("button", name="Sign off").tap()
    expect(dialog.get_by_role("alert")).to_have_text("Tick the box to confirm.")
    dialog.get_by_role("button", name="Back").tap()
    expect(dialog.get_by_label("Your name")).to_have_value(HOSTILE[:120])
    dialog.get_by_role("button", name="Continue").tap()
    dialog.get_by_role("checkbox").check()
    assert offered.seen()["signoff"] is None
    dialog.get_by_role("button", name="Sign off").tap()
    expect(page.get_by_role("heading", name="Signed off")).to_be_visible()
    expect(page.get_by_label("Your sign-off")).to_contain_text(HOSTILE[:120])
    news = offered.workshop.client.get(f"/api/proposals/{offered.id}/events", params={"after": after}).json()
    assert news["changed"] is True
    signed = offered.seen()["signoff"]
    assert (signed["label"], signed["name"]) == ("Your baritone", HOSTILE[:120])
    page.get_by_text("Keep a proof").tap()
    expect(page.locator(".print")).to_have_text(" ".join(re.findall(".{8}", signed["sha256"])))
    with page.expect_download() as download:
        page.get_by_role("link", name="Save the record").tap()
    assert json.loads(Path(download.value.path()).read_text())["name"] == HOSTILE[:120]


def listen_again(page: Page) -> None:
    page.get_by_role("button", name="Play").tap()
    until_heard(page)


@pytest.mark.long
def test_everything_by_keyboard(listener: Page) -> None:
    page, press = listener, listener.keyboard.press
    page.get_by_role("radio", name="1 Neck, whole").focus()
    press("ArrowDown")
    expect(page.get_by_role("radio", name="2 Neck and bridge together")).to_be_checked()
    assert loudness(page) == 0.0, "arrow keys alone started a sound"
    press("Space")
    until_heard(page)
    press("ArrowDown")
    expect(sound(page, 3)).to_have_class(re.compile("heard"))
    press("Space")
    until_heard(page, heard=False)
    press("Tab")
    press("Space")
    expect(sound(page, 3).locator(".favourite")).to_have_attribute("aria-pressed", "true")
    press("Tab")
    expect(sound(page, 3).get_by_role("button", name="Turn the knobs")).to_be_focused()
    press("Tab")
    press("Enter")
    page.keyboard.type("a note with spaces")
    expect(sound(page, 3).get_by_role("textbox")).to_have_value("a note with spaces")
    press("Tab")
    press("Enter")
    expect(sound(page, 3).locator(".sent")).to_contain_text("a note with spaces")
    slider = page.get_by_label("Place in the music")
    slider.focus()
    press("End")
    assert place(page) == 100.0
    page.get_by_role("button", name="Choose and sign off").focus()
    press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()
    press("Escape")
    expect(page.get_by_role("dialog")).to_be_hidden()
    expect(page.get_by_role("button", name="Choose and sign off")).to_be_focused()


@pytest.mark.long
def test_equal_and_true_loudness(recorded: Page, offered: Offered) -> None:
    """Over whole rounds of the take, so that it does not matter when the page is looked at."""
    page, offer = recorded, offered.workshop.client.get(f"/api{offered.link}").json()
    clips = [item["clips"]["demo:e_slide"] for item in offer["items"]]
    seconds = offer["takes"][0]["seconds"]
    soft = min(range(len(clips)), key=lambda k: clips[k]["wired_gain_db"]) + 1
    tap_sound(page, soft)
    expect(sound(page, soft)).to_have_class(re.compile("heard"))
    equal = np.abs(record(page, seconds, after_s=1.0)).max()
    page.get_by_role("radio", name="True").check()
    expect(sound(page, soft)).to_have_class(re.compile("heard"))
    ratio = np.abs(record(page, seconds, after_s=0.5)).max() / equal
    expected = 10 ** (clips[soft - 1]["wired_gain_db"] / 20)
    assert expected < 0.8
    assert ratio == pytest.approx(expected, rel=0.01)


@pytest.mark.long
def test_a_level_slider_at_its_end_is_silent(listener: Page) -> None:
    listener.get_by_role("button", name="Play").click()
    until_heard(listener)
    listener.get_by_role("slider", name="Level").fill("0")
    until(listener, f"({LOUDNESS})() === 0")


def until_fetched(page: Page, offered: Offered) -> None:
    """Wait until the page has a file of every sound."""
    offer = offered.workshop.client.get(f"/api{offered.link}").json()
    clips = [item["clips"]["demo:e_slide"] for item in offer["items"]]
    files = [[clip[form] for form in ("flac", "mp3") if form in clip] for clip in clips]
    come = "performance.getEntriesByType('resource').map(({ name }) => new URL(name).pathname)"
    until(
        page,
        f"((come) => {json.dumps(files)}.every((one) => one.some((file) => come.includes(file))))({come})",
    )


@pytest.mark.long
def test_the_server_goes_and_comes_back(
    running_server: Running, context: BrowserContext, console: Console
) -> None:
    console.expected += ["ERR_CONNECTION_REFUSED"]
    offered = Workshop.at(running_server).propose(takes=("demo:e_slide",)).ready()
    page = offered.open(context.new_page())
    tap_sound(page, 1)
    until_fetched(page, offered)
    page.get_by_label("Ask the workshop").fill(QUESTION)
    running_server.stop()
    page.get_by_role("button", name="Send to the workshop").last.click()
    expect(page.locator(".whole .sent li")).to_contain_text("Kept here, not sent yet")
    sound(page, 2).locator(".favourite").click()
    expect(sound(page, 2).locator(".favourite")).to_have_attribute("aria-pressed", "true")
    expect(page.locator(".sending-state")).to_contain_text("2 things are kept here, not sent yet.")
    tap_sound(page, 3)
    expect(sound(page, 3)).to_have_class(re.compile("heard"))  # the music goes on without the server
    running_server.start()
    until_sent(page)  # by itself
    expect(page.locator(".whole .sent li")).to_have_attribute("data-state", "sent")
    assert offered.seen()["favourites"] == [2]
    assert [one["text"] for one in offered.seen()["comments"]] == [QUESTION]


@pytest.mark.long
def test_a_browser_that_cannot_read_flac_plays_the_mp3(context: BrowserContext, offered: Offered) -> None:
    context.add_init_script(TAP_OUTPUT)
    page = context.new_page()
    page.route("**/*.flac", lambda route: route.fulfill(body=b"no sound", content_type="audio/flac"))
    offered.open(page)
    page.get_by_role("button", name="Play").click()
    until_heard(page)


@pytest.mark.long
def test_a_slow_network_says_so_and_keeps_playing(context: BrowserContext, offered: Offered) -> None:
    context.add_init_script(TAP_OUTPUT)
    page, held = context.new_page(), Held(passing=1)
    page.route(CLIPS, held.keep)
    offered.open(page)
    page.get_by_role("button", name="Play").click()
    until_heard(page)
    tap_sound(page, 4)
    expect(sound(page, 4).get_by_role("status")).to_have_text("loading…")
    until_moving(page)
    until_heard(page)
    expect(sound(page, 4)).not_to_have_class(re.compile("heard"))
    held.release()
    expect(sound(page, 4)).to_have_class(re.compile("heard"))


@pytest.mark.parametrize("ending", ["nowhere", "revoked"])
@pytest.mark.long
def test_closed_links_explain_themselves(page: Page, console: Console, offered: Offered, ending: str) -> None:
    console.expected += ["404 (Not Found)", "410 (Gone)"]
    if ending == "nowhere":
        page.goto(f"{offered.workshop.url}/p/nothing")
        expect(page.get_by_role("heading")).to_have_text("This link does not work")
    else:
        offered.workshop.client.post(f"/api/proposals/{offered.id}/revoke")
        page.goto(f"{offered.workshop.url}{offered.link}")
        expect(page.get_by_role("heading")).to_have_text("This proposal is closed")
        expect(page.get_by_text("Ask the workshop for a new link")).to_be_visible()


@pytest.mark.long
def test_two_pages_at_once_sign_only_once(
    context: BrowserContext, console: Console, offered: Offered
) -> None:
    console.expected += ["409 (Conflict)"]
    first, second = (offered.open(context.new_page()) for _ in range(2))
    for page, name in ((first, "A. First"), (second, "B. Second")):
        page.get_by_role("button", name="Choose and sign off").click()
        page.get_by_label("Your name").fill(name)
        page.get_by_role("button", name="Continue").click()
        page.get_by_role("dialog").get_by_role("checkbox").check()
    first.get_by_role("dialog").get_by_role("button", name="Sign off").click()
    expect(first.get_by_role("heading", name="Signed off")).to_be_visible()
    second.get_by_role("dialog").get_by_role("button", name="Sign off").click()
    expect(second.get_by_role("dialog").get_by_role("alert")).to_contain_text("A. First")
    second.keyboard.press("Escape")
    expect(second.get_by_label("Your sign-off")).to_contain_text("A. First")
    assert offered.seen()["signoff"]["name"] == "A. First"


@pytest.mark.long
def test_no_token_reaches_the_log(tmp_path: Path) -> None:
    server = started(tmp_path, "demo", "--verbose")
    try:
        offered = Workshop.at(server).propose(takes=("demo:e_slide",))
        offered.workshop.client.get(f"/api{offered.link}").raise_for_status()
        offered.workshop.client.get(f"{offered.link}/nothing")
    finally:
        server.stop()
    token = offered.link.rpartition("/")[2]
    assert "/api/proposals" in server.printed() or "/proposals" in server.printed()
    assert token not in server.printed()
