"""What the bench proposes: one position at several knob settings, wirings as alternatives, terms in words."""

from __future__ import annotations

import pytest
from bench_page import open_bench
from customer_page import Workshop
from playwright.sync_api import Locator, Page, expect
from server_process import Running

pytestmark = pytest.mark.long
PRICE, READY = "180, strings included", "two weeks after you sign"


def opened(page: Page) -> Locator:
    """Open the dialog once the takes are listed, and return it with its positions."""
    expect(page.get_by_label("Take", exact=True)).not_to_have_value("")
    page.get_by_role("button", name="Propose to the customer").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Name of 6 for the customer").first.wait_for()
    return dialog


def test_two_wirings_and_one_position_with_two_knob_settings(page: Page, shared_server: Running) -> None:
    workshop = Workshop.at(shared_server)
    body = {"title": "Two ways", "starter": "baritone"}
    commission = workshop.client.post("/api/commissions", json=body).json()["id"]
    wiring = workshop.client.get(f"/api/commissions/{commission}").json()["wirings"][0]
    first = wiring["versions"][0]["id"]
    edit = {"path": ["parts", "tone_cap", "capacitance"], "value": "47 nF"}
    workshop.client.post(
        f"/api/wirings/{wiring['id']}/versions", json={"base": first, "edits": [edit]}
    ).raise_for_status()
    open_bench(page, shared_server.url, commission)
    dialog = opened(page)
    expect(dialog.get_by_role("button", name="Undo", exact=True)).to_be_disabled()
    dialog.get_by_label("1 with other knobs too", exact=True).click()
    dialog.get_by_label("Tone of 1, once more,").fill("0")
    dialog.get_by_label("Tone of 1, once more,").press("Tab")
    twice = dialog.get_by_label("Name of 1, once more, for the customer")
    expect(twice).to_have_value("Neck, both coils in series, tone 0")
    for position in "3456":
        dialog.locator(".offered-sound").filter(
            has=page.get_by_label(f"Name of {position} for the customer")
        ).get_by_role("checkbox").uncheck()
    dialog.get_by_label("Price, in words").fill(PRICE)
    dialog.get_by_label("When it is ready, in words").fill(READY)
    dialog.get_by_label("Title the customer sees").fill("Your baritone")
    page.keyboard.press("Escape")

    dialog = opened(page)
    expect(dialog.get_by_label("Price, in words")).to_have_value(PRICE)
    expect(twice).to_have_value("Neck, both coils in series, tone 0")
    sixes = dialog.get_by_label("Name of 6 for the customer")
    dialog.get_by_label("Another wiring as an alternative").select_option(first)
    expect(sixes).to_have_count(2)
    dialog.get_by_role("button", name="Undo", exact=True).click()
    expect(sixes).to_have_count(1)
    dialog.get_by_role("button", name="Redo", exact=True).click()
    expect(sixes).to_have_count(2)
    names = dialog.get_by_label("What the customer calls it")
    names.nth(1).fill("As it is")
    dialog.get_by_text("5 of 9 parts are bought").first.click()
    dialog.get_by_label("Output is bought").first.uncheck()
    expect(dialog.get_by_text("4 of 9 parts are bought")).to_be_visible()
    dialog.get_by_role("button", name="Make the link").click()
    link = dialog.get_by_label("Link for the customer")
    expect(dialog.locator("form .problem").first).to_be_empty()
    link.wait_for()
    offer = workshop.client.get(f"/api/p/{link.input_value().rpartition('/')[2]}").json()
    assert offer["title"] == "Your baritone"
    assert [(one["name"], one["price"], one["when_ready"], one["sounds"]) for one in offer["wirings"]] == [
        ("Wiring 1", PRICE, READY, [1, 2, 3]),
        ("As it is", "", "", [4, 5, 6, 7, 8, 9]),
    ]
    assert [name for part in offer["wirings"][0]["kept"] for name in part["names"]][-1] == "output"
    assert [one["stands"] for one in offer["items"][:3]] == [[], ["tone at 0"], []]
