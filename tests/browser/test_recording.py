"""A take recorded on the page, from an input that Chromium plays from a file."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_page import asked, new_commission, open_bench
from browser_fixtures import ARGUMENTS, WAIT_MS, Console
from playwright.sync_api import Page, Playwright, expect
from server_process import Running

pytestmark = [pytest.mark.browser, pytest.mark.long]

RATE_HZ = 48_000
TONE_HZ, SIZE = 220.0, 0.25
REFUSE_FIRST = """
const devices = navigator.mediaDevices, ask = devices.getUserMedia.bind(devices);
let asked = 0;
devices.getUserMedia = (wanted) =>
  (asked += 1) === 1 ? Promise.reject(new DOMException("no", "NotAllowedError")) : ask(wanted);
"""
"""A script for the start of a page: whoever sits there says no, then yes."""


@pytest.fixture
def played_into(playwright: Playwright, chromium: object, console: Console, tmp_path: Path) -> Iterator[Page]:
    """Open a page whose computer hears a steady tone at its input."""
    file = tmp_path / "input.wav"
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    soundfile.write(file, SIZE * np.sin(2.0 * np.pi * TONE_HZ * time_s), RATE_HZ, subtype="PCM_16")
    capture = (
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={file}",
    )
    browser = playwright.chromium.launch(
        executable_path=shutil.which("chromium"), args=[*ARGUMENTS, *capture]
    )
    page = browser.new_page()
    page.set_default_timeout(WAIT_MS)
    console.watch(page)
    yield page
    browser.close()
    assert not console.unexpected(), "\n".join(console.unexpected())


def test_a_take_is_recorded_listened_to_and_kept_with_its_source(
    played_into: Page, shared_server: Running
) -> None:
    page, url = played_into, shared_server.url
    page.add_init_script(REFUSE_FIRST)
    open_bench(page, url, new_commission(page, url))
    page.get_by_label("Take", exact=True).select_option("o")
    dialog = page.get_by_role("dialog")
    expect(dialog.get_by_text("loudspeaker output of an amplifier")).to_be_visible()
    dialog.get_by_role("button", name="Open the input").click()
    expect(dialog.get_by_role("alert").first).to_contain_text("Allow the microphone")
    dialog.get_by_role("button", name="Open the input").click()
    expect(dialog.get_by_text("leaves the sound as it is")).to_be_visible()
    expect(dialog.get_by_role("meter", name="Input meter")).to_have_attribute("aria-valuenow", "-12")
    dialog.get_by_role("button", name="Record", exact=True).click()
    expect(dialog.get_by_role("status").first).to_have_text(re.compile("^([1-4]|Recording)…$"))
    from_2_s = re.compile(r"^([2-9]|[1-5]\d)\.0 s of at most 5 min 00 s$")
    expect(dialog.get_by_role("timer")).to_have_text(from_2_s)
    dialog.get_by_role("button", name="Stop").click()
    expect(dialog.get_by_text("The loudest place is −12 dB of full scale.")).to_be_visible()
    length_s = dialog.locator("audio").evaluate(
        "async (audio) => { audio.load(); if (!audio.duration) await new Promise((done) => "
        "audio.addEventListener('loadedmetadata', done)); return audio.duration; }"
    )
    assert length_s > 1.9
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Go back").click()
    expect(dialog).to_have_count(1)
    dialog.get_by_label("Name").fill("Played here")
    dialog.get_by_role("radio", name="chords").check()
    dialog.get_by_role("radio", name="a known wiring").check()
    dialog.get_by_label("Position", exact=True).select_option("3")
    dialog.get_by_role("button", name="Keep as a take").click()
    expect(page.get_by_text("is now a take")).to_be_visible()
    take = page.get_by_label("Take", exact=True).input_value()
    row = next(one for one in asked(page, url, "GET", "/takes") if one["id"] == take)
    assert (row["name"], row["kind"]) == ("Played here", "mono")
    assert row["seconds"] == pytest.approx(length_s, abs=0.01)
    folder = shared_server.data / "takes" / take
    assert 'position: "3"' in (folder / "take.yaml").read_text()
    samples, rate_hz = soundfile.read(next(folder.glob("*.wav")))
    middle = samples[rate_hz // 2 : rate_hz // 2 + rate_hz // 2]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle))))
    assert np.argmax(spectrum) * rate_hz / len(middle) == pytest.approx(TONE_HZ, abs=4.0)
    assert np.abs(middle).max() == pytest.approx(SIZE, rel=0.03), "the browser changed the level"
    page.evaluate("Object.defineProperty(window, 'isSecureContext', { value: false })")
    page.get_by_label("Take", exact=True).select_option("o")
    expect(dialog).to_contain_text("address is not secure")
    dialog.get_by_role("button", name="Bring a file").click()
    expect(dialog.get_by_role("button", name="Choose a file")).to_be_visible()
