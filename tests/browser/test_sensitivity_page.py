"""Coils' sensitivity at the bench: strings recorded, compared, taken, undone, brought back."""

from __future__ import annotations

import io
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_page import new_commission, open_bench, open_part
from browser_fixtures import Console
from page_looks import look
from playwright.sync_api import Locator, Page, expect
from plucked_guitar import Player, Truth, with_strings
from server_process import Running
from strummed import RATE_HZ

from server.wirings.text import load_wiring

pytestmark = [pytest.mark.browser, pytest.mark.long]

STARTER = Path("server/commissions/starters/two_singles.yaml")
LOUDER_DB = 4.0


def recordings() -> list[bytes]:
    """Pluck the lowest string in every position of a guitar whose bridge coil is louder."""
    wiring = with_strings(load_wiring(STARTER), (0,))
    settings = [wiring.setting(position) for position in wiring.positions]
    truth = Truth(np.array([[0.0], [LOUDER_DB]]), np.ones(2))
    found = []
    for samples in Player(wiring, settings, 3, 871).record_all(truth, 871):
        held = io.BytesIO()
        soundfile.write(held, samples, RATE_HZ, "PCM_24", format="WAV")
        found.append(held.getvalue())
    return found


def open_sensitivity(page: Page) -> Locator:
    """Open the dialog from a coil's part."""
    open_part(page, "bridge").get_by_role("button", name="Sensitivity").click()
    dialog = page.get_by_role("dialog", name="Sensitivity of the coils")
    dialog.get_by_role("heading", name="Heed").wait_for()
    return dialog


def test_coils_are_compared_by_plucked_strings(page: Page, shared_server: Running, console: Console) -> None:
    console.expected.append("422 (Unprocessable")  # the file that is no sound
    sounds = recordings()
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, "Plucked", "two_singles"))
    field = open_part(page, "bridge").get_by_label("Bridge sensitivity", exact=True)
    before = field.input_value()
    dialog = open_sensitivity(page)
    expect(dialog.get_by_role("img", name=re.compile("one string is plucked five times"))).to_be_visible()
    look(page, "dialog", "sensitivity-plan", (("desk", "light"), ("phone", "dark")))
    for name in ("String 3 (G3)", "String 1 (E4)"):
        dialog.get_by_role("checkbox", name=name).uncheck()
    places = [dialog.locator(f"[data-step='{position}:6']") for position in ("1", "2", "3")]

    def bring(place: Locator, name: str, content: bytes) -> None:
        file = {"name": name, "mimeType": "audio/wav", "buffer": content}
        place.locator("input[type=file]").set_input_files([file])  # type: ignore[list-item]

    bring(places[0], "notes.wav", b"no sound at all")
    expect(places[0].get_by_role("alert")).to_contain_text("not readable as sound")
    for k, place in enumerate(places):
        bring(place, f"{k + 1}.wav", sounds[k])
        expect(place.locator(".told")).to_contain_text("3 plucks in")
    places[2].get_by_role("button", name="Throw away").click()
    back = dialog.get_by_role("button", name="Bring it back")
    expect(back).to_be_focused()
    expect(places[2].locator(".told")).to_be_empty()

    page.reload()
    page.locator(".curve.heard").wait_for()
    dialog = open_sensitivity(page)
    expect(dialog.get_by_role("status").filter(has_text="2 of 3 recordings")).to_be_visible()
    dialog.get_by_role("button", name="Bring it back").click()
    expect(dialog.locator("[data-step='3:6'] .told")).to_contain_text("3.wav")
    dialog.get_by_role("button", name="Find the values").click()
    result = dialog.get_by_role("region", name="What was found")
    row = result.get_by_role("row", name=re.compile("^Bridge"))
    expect(row).to_contain_text("±", timeout=60_000)
    expect(result).to_contain_text("in phase, as the wiring says")
    look(page, "dialog", "sensitivity-found", (("desk", "dark"), ("phone", "light")), at=".sensed")
    dialog.get_by_role("button", name="Take these values").click()
    expect(dialog).to_have_count(0)
    field = open_part(page, "bridge").get_by_label("Bridge sensitivity", exact=True)
    expect(field).not_to_have_value(before)
    page.keyboard.press("Control+z")
    expect(field).to_have_value(before)
