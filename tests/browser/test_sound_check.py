"""A finished guitar beside its sign-off: recordings brought, compared, heard, kept over a reload."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
import soundfile
from bench_page import open_bench
from browser_fixtures import Console
from customer_page import Workshop
from page_looks import look
from playwright.sync_api import Page, expect
from proposal_case import TAKE, today
from server_process import Running
from strummed import RATE_HZ, Bench

from server.wirings.text import load_wiring

pytestmark = [pytest.mark.browser, pytest.mark.long]

STARTER = Path("server/commissions/starters/one_coil.yaml")


def recordings() -> list[bytes]:
    """Strum a sound guitar with its tone knob up and down."""
    wiring = load_wiring(STARTER)
    settings = [wiring.setting("1"), wiring.setting("1", {"tone": 0.0})]
    found = []
    for samples in Bench(wiring, settings, 2, 350, hand="pick", strums=3).record_all(wiring, 351):
        held = io.BytesIO()
        soundfile.write(held, samples, RATE_HZ, "PCM_24", format="WAV")
        found.append(held.getvalue())
    return found


def test_a_finished_guitar_is_heard_beside_its_sign_off(
    page: Page, shared_server: Running, console: Console
) -> None:
    bench = Workshop.at(shared_server)
    made = bench.client.post("/api/commissions", json={"title": "Finished", "starter": "one_coil"}).json()
    wiring = bench.client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]
    items = [{"version": wiring["versions"][0]["id"], "position": "1", "label": "Full"}]
    body = {"title": "One coil", "items": items, "takes": [TAKE]}
    proposal = bench.client.post(f"/api/commissions/{made['id']}/proposals", json=body).json()
    sounds = recordings()  # the clip is rendered meanwhile
    until_ready(page, bench, proposal["id"])
    body = {"wiring": 1, "name": "Our customer", "date": today(), "confirm": True}
    signed = bench.client.post(f"/api/p/{proposal['link'].rpartition('/')[2]}/signoff", json=body)
    assert signed.status_code == 201, signed.text

    open_bench(page, shared_server.url, made["id"])
    open_check(page)
    dialog = page.get_by_role("dialog").last
    expect(dialog.get_by_text("a strum is loud")).to_be_visible()
    for setting, sound in zip(("1", "1 tone=0"), sounds, strict=True):
        place = dialog.locator(f"[data-step='{setting}']")
        place.locator("input[type=file]").set_input_files(
            [{"name": f"{setting}.wav", "mimeType": "audio/wav", "buffer": sound}]
        )
        expect(place.get_by_text("3 strums in", exact=False)).to_be_visible()
    dialog.get_by_role("button", name="Compare with what was proposed").click()
    expect(dialog.get_by_text("The guitar sounds as proposed.", exact=False)).to_be_visible(timeout=60_000)
    expect(dialog.locator(".verify-chart path.heard")).to_have_count(1)
    recording = dialog.get_by_role("button", name="Hear the recording: Position 1", exact=True)
    recording.click()
    expect(recording).to_have_attribute("aria-pressed", "true")
    clip = dialog.get_by_role("button", name=re.compile("Hear the clip: Position 1"))
    clip.click()
    expect(clip).to_have_attribute("aria-pressed", "true")
    expect(recording).to_have_attribute("aria-pressed", "false")
    clip.click()
    look(page, "dialog:has(.verify)", "sound-check-judged", at=".verify-chart")

    page.reload()
    open_check(page)
    expect(page.get_by_text("The guitar sounds as proposed.", exact=False)).to_be_visible()


def until_ready(page: Page, bench: Workshop, proposal: str) -> None:
    """Wait until the clips of a proposal are rendered."""
    for _ in range(600):
        if bench.client.get(f"/api/proposals/{proposal}").json()["ready"] >= 1.0:
            return
        page.wait_for_timeout(100)
    raise AssertionError("the clip was not rendered")


def open_check(page: Page) -> None:
    """Open the proposals, then the check beside the sign-off."""
    page.get_by_role("button", name="Propose to the customer").click()
    page.get_by_role("button", name="Check the finished guitar by sound: One coil").click()
