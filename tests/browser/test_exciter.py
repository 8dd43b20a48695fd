"""A finished guitar under an exciter: leads exchanged, which no meter shows, are read, judged and found."""

from __future__ import annotations

import io
import re

import pytest
import soundfile
from bench_page import new_commission, open_bench
from browser_fixtures import Console
from exciter_rig import record
from page_looks import look
from playwright.sync_api import Page, expect
from rig import RATE_HZ
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_exchanged_leads_are_read_under_an_exciter(
    page: Page, shared_server: Running, console: Console
) -> None:
    del console
    commission = new_commission(page, shared_server.url, "Excited", starter="two_singles")
    open_bench(page, shared_server.url, commission)
    page.get_by_role("button", name="Built?").click()
    view = page.get_by_role("region", name="Built?")
    expect(view.get_by_text("Keep the 100 Ω", exact=False).first).to_be_visible()
    view.get_by_text("Under an exciter", exact=False).first.click()
    expect(view.get_by_role("img", name=re.compile("leads through the exciter"))).to_be_visible()

    first = view.get_by_label("Exciter over Neck, Position 1", exact=True)
    row = first.locator("xpath=ancestor::tr")
    held = io.BytesIO()
    soundfile.write(held, record("neck", "1", 4).T, RATE_HZ, subtype="PCM_24", format="WAV")
    row.locator("input[type=file]").set_input_files(
        [{"name": "neck1.wav", "mimeType": "audio/wav", "buffer": held.getvalue()}]
    )
    expect(first).to_have_value(re.compile(r"^\+ -\d"))
    expect(row.locator(".built-side")).to_have_count(2)  # both frequencies
    level = float(first.input_value().split()[1])
    second = view.get_by_label("Exciter over Neck, Position 2", exact=True)
    said = second.locator("xpath=ancestor::tr").locator(".built-side")
    second.fill(f"- {level - 5:.1f} dB")
    expect(said).to_contain_text("the other way round")
    second.fill(f"+ {level - 5:.1f} dB")
    expect(said).to_contain_text("within")
    bridge = view.get_by_label("Exciter over Bridge, Position 3", exact=True)
    ways = [one.locator("xpath=ancestor::tr").get_by_text("loudest").inner_text() for one in (first, bridge)]
    bridge.fill(f"{'-' if ways[0] == ways[1] else '+'} {level:.1f} dB")  # the neck reads +
    expect(bridge.locator("xpath=ancestor::tr").locator(".built-side")).to_contain_text("leads are exchanged")
    view.get_by_label("Blade over Neck, Position 1").select_option("+")
    look(page, "#main", "built-excited", (("desk", "light"), ("phone", "dark")), whole=True)

    view.get_by_role("button", name="What could be wrong?").click()
    panel = page.get_by_role("region", name="What could be wrong?")
    panel.get_by_label("I have an exciter and a blade").check()
    expect(panel.get_by_text("Read with the exciter or the blade: Neck, Bridge.")).to_be_visible(
        timeout=30_000
    )
    summary = panel.locator(".fault-answer > [role=status]")
    expect(summary).to_contain_text(re.compile("are exchanged|turned round"), timeout=30_000)
    look(page, ".faults", "faults-excited", (("desk", "dark"), ("phone", "light")))
