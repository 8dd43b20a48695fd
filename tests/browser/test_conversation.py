"""Both sides at once: two phones of one customer and the bench, each open all the while."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser_fixtures import Console, Held
from customer_page import Offered, Workshop, reload_until_kept, sound, until_sent
from places import PICTURES
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Route, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

QUESTION, ANSWER, NOTE = (
    "Can the tone knob be smaller?",
    "Yes, one of 15 mm.\nIt costs nothing more.",
    "This one!",
)
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def made(shared_server: Running) -> Offered:
    return Workshop.at(shared_server).propose(takes=("demo:e_slide",)).ready()


@pytest.fixture
def other_phone(chromium: Browser, console: Console) -> Iterator[Page]:
    """Open another phone of the customer: it shares nothing with the first."""
    context = chromium.new_context(viewport=PHONE)
    context.on("page", console.watch)
    yield context.new_page()
    context.close()


def heart(page: Page, number: int, *, marked: bool) -> None:
    expect(sound(page, number).locator(".favourite")).to_have_attribute("aria-pressed", str(marked).lower())


def open_talk(bench: Page, offered: Offered) -> Locator:
    """Open the proposals of a commission at the bench."""
    bench.goto(f"{offered.workshop.url}/#/c/{offered.commission}")
    bench.get_by_role("button", name="Propose to the customer").click()
    return bench.get_by_role("dialog").locator(".proposal").last


def test_two_phones_and_the_bench_talk(context: BrowserContext, other_phone: Page, made: Offered) -> None:
    first, second, bench = made.open(context.new_page()), made.open(other_phone), context.new_page()
    first.set_viewport_size(PHONE)
    sound(first, 2).locator(".favourite").click()
    sound(second, 3).locator(".favourite").click()
    for page in (first, second):  # neither undoes the other's, and each sees both
        heart(page, 2, marked=True)
        heart(page, 3, marked=True)
    expect(sound(first, 3)).to_contain_text("Marked on another phone or computer")
    expect(sound(first, 2)).not_to_contain_text("Marked on another")
    first.get_by_label("Ask the workshop").fill(QUESTION)
    first.get_by_role("button", name="Send to the workshop").last.click()
    until_sent(first)
    asked = first.locator(".whole .sent li")
    expect(first.locator(".sending-state")).to_contain_text("The workshop has not looked yet")
    expect(asked).to_have_attribute("data-state", "sent")
    expect(second.locator(".whole .sent li")).to_contain_text(QUESTION)

    bench.goto(f"{made.workshop.url}/#/")
    expect(bench.get_by_text("3 new from the customer")).to_be_visible()
    assert made.seen()["unread"] == 3, "the list is no look at what was said"
    talk = open_talk(bench, made)
    expect(talk.locator(".talk")).to_contain_text(QUESTION)
    talk.locator(".talk li").last.scroll_into_view_if_needed()
    expect(asked).to_contain_text("The workshop has seen it.")
    expect(first.locator(".sending-state")).to_contain_text("The workshop has seen it all.")

    talk.get_by_role("button", name=f"Answer “{QUESTION}”").click()
    words = talk.get_by_label(f"Your answer to “{QUESTION}”")
    words.fill("Yes, ")
    sound(second, 1).get_by_role("button", name="Write a note").click()  # shown at the bench while it types
    sound(second, 1).get_by_role("textbox").fill(NOTE)
    sound(second, 1).get_by_role("button", name="Send to the workshop").click()
    expect(talk.locator(".talk")).to_contain_text(NOTE)
    expect(words).to_be_focused()
    expect(words).to_have_value("Yes, ")
    words.fill(ANSWER)
    talk.get_by_role("button", name="Send the answer").click()
    for page in (first, second):
        expect(page.locator(".whole .reply .words")).to_have_text(ANSWER)
    PICTURES.mkdir(exist_ok=True)
    first.screenshot(path=PICTURES / "conversation_phone.png", full_page=True)
    bench.screenshot(path=PICTURES / "conversation_bench.png")
    first.reload()
    expect(first.locator(".whole .reply .words")).to_have_text(ANSWER)
    heart(first, 3, marked=True)
    sound(first, 3).locator(".favourite").click()  # on either phone a favourite is taken back
    heart(second, 3, marked=False)
    expect(sound(second, 1).locator(".sent li")).to_contain_text(NOTE)
    assert made.seen()["favourites"] == [2]


def test_what_is_said_offline_waits_and_goes_by_itself(
    context: BrowserContext, console: Console, shared_server: Running
) -> None:
    console.expected += ["ERR_INTERNET_DISCONNECTED", "ERR_FAILED"]
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",), labels=("Neck", "Both")).ready()
    page = offered.open(context.new_page())
    context.set_offline(True)
    sound(page, 2).locator(".favourite").click()
    page.get_by_label("Ask the workshop").fill(QUESTION)
    page.get_by_role("button", name="Send to the workshop").last.click()
    heart(page, 2, marked=True)
    expect(page.locator(".sending-state")).to_contain_text("2 things are kept here, not sent yet.")
    expect(page.locator(".whole .sent li")).to_contain_text("Kept here, not sent yet")
    assert offered.seen()["comments"] == []
    context.set_offline(False)
    until_sent(page)
    assert [one["text"] for one in offered.seen()["comments"]] == [QUESTION]
    assert offered.seen()["favourites"] == [2]


def test_what_was_not_sent_survives_the_page(
    context: BrowserContext, console: Console, shared_server: Running
) -> None:
    """The requests are held as on a line that never answers; the page is loaded again meanwhile."""
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",), labels=("Neck", "Both")).ready()
    page = offered.open(context.new_page())
    held = Held()
    page.route("**/operations", held.keep)
    sound(page, 1).locator(".favourite").click()
    page.get_by_label("Ask the workshop").fill(QUESTION)
    page.get_by_role("button", name="Send to the workshop").last.click()
    reload_until_kept(page, "2 things are kept here, not sent yet.")
    heart(page, 1, marked=True)
    assert offered.seen()["place"] == 0
    page.unroute_all(behavior="ignoreErrors")
    page.reload()
    until_sent(page)
    seen = offered.seen()
    assert (seen["favourites"], [one["text"] for one in seen["comments"]]) == ([1], [QUESTION])


def test_a_refusal_says_why_and_loses_nothing(
    context: BrowserContext, console: Console, shared_server: Running
) -> None:
    console.expected += ["409 (Conflict)", "410 (Gone)"]
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",), labels=("Neck", "Both")).ready()
    page = offered.open(context.new_page())

    def full(route: Route) -> None:
        refusal = {"problems": [{"where": "notes", "got": "300 already", "allowed": "", "hint": ""}]}
        route.fulfill(status=409, json=refusal)

    page.route("**/operations", full)
    page.get_by_label("Ask the workshop").fill(QUESTION)
    page.get_by_role("button", name="Send to the workshop").last.click()
    refused = page.locator(".refused li")
    expect(refused).to_contain_text(f"Your note “{QUESTION}” was not taken: there are as many notes")
    expect(page.locator(".whole .sent li")).to_contain_text("Not sent: there are as many notes")
    page.unroute_all()
    refused.get_by_role("button", name="Try again").click()
    until_sent(page)
    expect(refused).to_have_count(0)
    assert [one["text"] for one in offered.seen()["comments"]] == [QUESTION]

    page.route("**/operations", lambda route: route.abort())
    console.expected.append("ERR_FAILED")
    page.get_by_label("Ask the workshop").fill(NOTE)
    page.get_by_role("button", name="Send to the workshop").last.click()
    offered.workshop.client.post(f"/api/proposals/{offered.id}/revoke")
    expect(page.get_by_role("heading", name="This proposal is closed")).to_be_visible()
    expect(page.locator(".left-behind")).to_contain_text(NOTE)
