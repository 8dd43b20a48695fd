"""The whole way of an answer: a file without a network, its sealed text, and the bench."""

from __future__ import annotations

from pathlib import Path

import pytest
from customer_page import TAP_OUTPUT, reload_until_kept, sound, tap_sound, until_heard
from playwright.sync_api import BrowserContext, Page, expect
from proposal_case import Made, made

pytestmark = [pytest.mark.browser, pytest.mark.long]
NOTE = "Wärmer, please?"


@pytest.fixture(scope="module")
def proposal(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("answered")).render()


def open_file(context: BrowserContext, one: Made, folder: Path) -> Page:
    """Save the proposal and open its file without a network."""
    file = folder / "sounds.html"
    file.write_bytes(one.client.post(f"/api/proposals/{one.id}/bundle/file").content)
    context.set_offline(True)
    context.add_init_script(TAP_OUTPUT)
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = context.new_page()
    page.goto(file.as_uri())
    page.locator(".sound").first.wait_for()
    return page


def sign(page: Page, name: str) -> None:
    page.get_by_role("button", name="Choose and sign off").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Your name").fill(name)
    dialog.get_by_role("button", name="Continue").click()
    expect(dialog.get_by_text("Nothing is sent by itself")).to_be_visible()
    dialog.get_by_role("checkbox").check()
    dialog.get_by_role("button", name="Sign off").click()
    expect(page.get_by_role("heading", name="Signed in your answer")).to_be_visible()


def saved_text(page: Page) -> str:
    """Return the answer as the page saves it."""
    with page.expect_download() as coming:
        page.get_by_role("button", name="Save", exact=True).click()
    assert coming.value.suggested_filename == "answer.txt"
    return Path(coming.value.path()).read_text(encoding="utf-8")


def take_receipt(page: Page, one: Made, answer: str) -> None:
    """Bring the workshop's receipt: damaged, another text, then whole."""
    receipt = one.client.get(f"/api/answers/{answer}/receipt").json()["receipt"]
    page.get_by_text("Bring the receipt").click()
    place = page.get_by_label("What the workshop sent back, whole")
    for text, said in (
        ("", "Paste the receipt"),
        ("receipt1.", "a part of it is missing"),
        (receipt[:-1] + ("A" if receipt[-1] != "A" else "B"), "This receipt was changed on its way"),
    ):
        place.fill(text)
        page.get_by_role("button", name="Take it in").click()
        expect(page.get_by_text(said)).to_be_visible()
    expect(page.get_by_role("heading", name="Signed in your answer")).to_be_visible()
    place.fill(f"{receipt[:50]}\n  {receipt[50:]}\n")
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("heading", name="Signed off")).to_be_visible()
    expect(page.get_by_text("The workshop has this answer since")).to_be_visible()
    reload_until_kept(page, "The workshop has this answer since")
    expect(page.get_by_role("button", name="Take the signature back")).to_have_count(0)
    page.get_by_text("Keep a proof").click()
    fingerprint = one.bench()["signoff"]["sha256"]
    expect(page.get_by_text(" ".join(fingerprint[at : at + 8] for at in range(0, 64, 8)))).to_be_visible()


def test_an_answer_of_a_file_without_a_network_signs_at_the_bench(
    context: BrowserContext, proposal: Made, tmp_path: Path
) -> None:
    page = open_file(context, proposal, tmp_path)
    expect(page.get_by_text("It is empty")).to_be_visible()
    page.get_by_role("button", name="Play", exact=True).click()
    until_heard(page)
    for number in (2, 3):
        tap_sound(page, number)
        expect(sound(page, number)).to_have_class("sound chosen heard")
        until_heard(page)
    expect(page.get_by_role("button", name="Copy", exact=True)).to_have_count(0)
    page.get_by_role("button", name="Favourite: Outer coils in parallel").click()
    expect(page.get_by_text("It holds 1 favourite.")).to_be_visible()
    page.get_by_label("Ask the workshop a question").fill(f"{NOTE}\u000b")
    page.get_by_role("button", name="Keep this note").click()
    sign(page, "R. Winter")
    reload_until_kept(page, "It holds 1 favourite, 1 note, your signature.")
    sealed = saved_text(page)
    page.get_by_role("button", name="Copy", exact=True).click()
    expect(page.get_by_text("Copied. Paste it")).to_be_visible()
    assert page.evaluate("() => navigator.clipboard.readText()") == sealed, (
        "the same as long as nothing changes"
    )
    answer = proposal.client.post("/api/answers", json={"text": sealed}).json()
    assert answer["notes"] == [{"number": None, "text": NOTE}]
    assert (answer["favourites"], answer["heard"], answer["warnings"]) == ([3], [1, 2, 3], [])
    assert answer["signature"]["state"] == "signed"
    assert proposal.bench()["signoff"]["name"] == "R. Winter"
    assert proposal.client.get(f"/api/proposals/{proposal.id}/verify").json()["holds"] is True

    take_receipt(page, proposal, answer["sha256"])
    page.get_by_role("button", name="QR code").click()
    code = page.get_by_role("img", name="Your answer as a QR code")
    modules = int(str(code.get_attribute("viewBox")).split()[-1]) - 8
    assert (modules - 17) // 4 <= 15, "a phone reads it"


def test_a_signature_can_be_taken_back_before_it_is_sent(
    context: BrowserContext, proposal: Made, tmp_path: Path
) -> None:
    other = proposal.another().render()
    page = open_file(context, other, tmp_path)
    sign(page, "M. Summer")
    page.get_by_role("button", name="Take the signature back").click()
    expect(page.get_by_text("It is empty")).to_be_visible()
    expect(page.get_by_role("button", name="Choose and sign off")).to_be_visible()
    page.get_by_role("button", name="Favourite: Outer coils in parallel").click()
    answer = other.client.post("/api/answers", json={"text": saved_text(page)}).json()
    assert (answer["favourites"], answer["signature"]) == ([3], None)
