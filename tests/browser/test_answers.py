"""Sealed answers at the bench: pasted, read from a file, refused, confirmed."""

from __future__ import annotations

from pathlib import Path

import pytest
from answer_case import seal
from bench_page import open_bench
from browser_fixtures import Console
from customer_page import Workshop
from playwright.sync_api import Page, expect
from server_process import Running

from server.answers.manifests import keep_manifest
from server.database.store import Store

pytestmark = [pytest.mark.browser, pytest.mark.long]
HOSTILE = "<img src=x onerror=alert(1)>"


def test_an_answer_is_taken_in_at_the_bench(
    page: Page, console: Console, shared_server: Running, tmp_path: Path
) -> None:
    console.expected.append("the server responded with a status of 422")
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",), labels=("One", "Two", "Three"))
    offered.ready()
    store = Store(shared_server.data)
    sent = keep_manifest(store, offered.id, page="1", stems={}, models={})
    store.close()
    open_bench(page, shared_server.url, offered.commission)
    page.get_by_role("button", name="Propose to the customer").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_text("Bring an answer").click()
    text, take = dialog.get_by_label("The customer's answer, whole"), dialog.get_by_text("Take it in")
    take.click()
    expect(dialog.get_by_text("Paste the customer's answer, or choose its file.")).to_be_visible()

    sealed = seal(sent, notes=[[2, HOSTILE]])
    text.fill(sealed[:-1])
    take.click()
    expect(dialog.get_by_text("Not taken in.")).to_contain_text("cut or changed")
    expect(text).to_have_value(sealed[:-1])
    text.fill("\n".join(sealed[k : k + 76] for k in range(0, len(sealed), 76)))
    take.click()
    result = dialog.locator(".bring-answer .answer")
    expect(result).to_contain_text("Signed: R. Winter chose “Your baritone”")
    expect(result).to_contain_text("Favourites: One, Three")
    expect(result).to_contain_text(HOSTILE)
    expect(dialog.get_by_text("It does not show who made it")).to_be_visible()
    expect(dialog.locator(".proposal .answer")).to_contain_text("Wishes Two with tone 6.5.")
    expect(dialog.locator(".proposal").last).to_contain_text("signed")
    with page.expect_download() as coming:
        result.get_by_role("button", name="Save the receipt").click()
    assert coming.value.suggested_filename == "receipt.txt"
    assert Path(coming.value.path()).read_text(encoding="utf-8").startswith("receipt1.")
    expect(result.get_by_text("Saved as receipt.txt. Attach it")).to_be_visible()
    dialog.get_by_role("button", name="Check the record of Your baritone").click()
    expect(page.get_by_text("is intact: signature, wirings and clips")).to_be_visible()

    text.fill(sealed)
    take.click()
    expect(result).to_contain_text("Taken in before")
    expect(dialog.locator(".proposal .answer")).to_have_count(1)
    file = tmp_path / "answer.txt"
    other = {"n": 1, "name": "M. Summer", "agrees": 2}
    file.write_text(seal(sent, sign=other, r="0" * 12), encoding="utf-8")
    dialog.get_by_label("File of an answer").set_input_files(file)
    expect(result).to_contain_text("Not recorded: M. Summer chose “Your baritone”")
    expect(result).to_contain_text("R. Winter signed for “Your baritone”")
    expect(dialog.locator(".proposal .answer")).to_have_count(2)


def test_a_signature_in_doubt_is_recorded_with_the_customers_word(page: Page, shared_server: Running) -> None:
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",), labels=("One", "Two", "Three"))
    offered.ready()
    store = Store(shared_server.data)
    sent = keep_manifest(store, offered.id, page="1", stems={}, models={})
    store.close()
    offered.workshop.client.post(f"/api/proposals/{offered.id}/revoke").raise_for_status()
    open_bench(page, shared_server.url, offered.commission)
    page.get_by_role("button", name="Propose to the customer").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_text("Bring an answer").click()
    dialog.get_by_label("The customer's answer, whole").fill(seal(sent))
    dialog.get_by_text("Take it in").click()
    result = dialog.locator(".bring-answer .answer")
    expect(result).to_contain_text("Not recorded yet: R. Winter chose “Your baritone”")
    expect(result).to_contain_text("You ended this proposal on")
    result.get_by_label("How the customer confirmed it").fill("by telephone")
    result.get_by_role("button", name="Record the signature").click()
    expect(result).to_contain_text("Signed: R. Winter chose “Your baritone”")
    expect(result.get_by_label("How the customer confirmed it")).to_have_count(0)
    expect(dialog.locator(".proposal .answer")).to_contain_text("The sign-off is recorded.")
