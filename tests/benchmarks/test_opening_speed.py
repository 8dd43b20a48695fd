"""How long a commission takes to open with cold caches: the click, the positions, the sound."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser_fixtures import until
from playwright.sync_api import Page, expect
from server_process import Running, started

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

POSITIONS_S, SOUND_S = 1.5, 3.0
"""The bars, on two quiet cores."""
SLACK = 0.25

LISTEN = """
const connect = AudioNode.prototype.connect, taps = [];
AudioNode.prototype.connect = function (to, ...rest) {
  const result = connect.call(this, to, ...rest);
  if (to instanceof AudioDestinationNode) {
    const tap = to.context.createAnalyser();
    connect.call(this, tap);
    taps.push(tap);
  }
  return result;
};
window.sounds = () =>
  taps.some((tap) => {
    const samples = new Float32Array(tap.fftSize);
    tap.getFloatTimeDomainData(samples);
    return samples.some((sample) => Math.abs(sample) > 1e-4);
  });
"""
"""Hear what the page sends to the loudspeakers."""


@pytest.fixture
def cold_server(tmp_path: Path) -> Iterator[Running]:
    """Start a server on the demo whose caches are empty."""
    server = started(tmp_path, PRESOLDER_CACHE=str(tmp_path / "cache"))
    try:
        yield server
    finally:
        server.stop()
        print(server.printed())


def test_a_commission_opens_with_cold_caches(
    cold_server: Running, page: Page, record: Callable[[str, str, str], None]
) -> None:
    page.add_init_script(LISTEN)
    page.goto(f"{cold_server.url}/")
    card = page.locator(".card a").first
    expect(card).to_be_visible()
    page.wait_for_load_state("networkidle")
    begun = time.perf_counter()
    card.click()
    until(page, "document.querySelectorAll('.stop .coils').length > 0")
    positions_s = time.perf_counter() - begun
    page.get_by_role("button", name="Play", exact=True).click()
    until(page, "window.sounds()")
    sound_s = time.perf_counter() - begun
    record("a commission opens, caches cold: positions", f"{positions_s:.2f} s", f"<= {POSITIONS_S:g} s")
    record("the same, Play pressed at once: sound", f"{sound_s:.2f} s", f"<= {SOUND_S:g} s")
    assert positions_s <= POSITIONS_S / SLACK
    assert sound_s <= SOUND_S / SLACK
