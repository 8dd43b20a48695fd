"""Drive the customer's page in a real browser, and follow it from the bench over the API."""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass
from typing import Any

import httpx2
from playwright.sync_api import Locator, Page, TimeoutError
from server_client import MARK
from server_process import Running

TAKES = ("demo:e_slide", "demo:staccato")
LABELS = ("Neck, whole", "Neck and bridge together", "Outer coils", "Inner coils", "Bridge, whole")
READY_S = 240.0
"""How long clips may take, which are rendered last in line. On a busy machine ten took more than 90 s."""

TAP_OUTPUT = """
const connect = AudioNode.prototype.connect;
window.taps = [];
window.heard = { fftSize: 8192, getFloatTimeDomainData(sum) {
  const one = new Float32Array(sum.length);
  for (const tap of window.taps) {
    tap.getFloatTimeDomainData(one);
    one.forEach((sample, k) => { sum[k] += sample; });
  }
} };
const start = AudioBufferSourceNode.prototype.start;
window.starts = [];
AudioBufferSourceNode.prototype.start = function (when, offset, ...more) {
  if (this.context instanceof AudioContext && offset !== undefined)
    window.starts.push({ when, offset, seconds: this.buffer.duration, ms: performance.now() });
  return start.call(this, when, offset, ...more);
};
AudioNode.prototype.connect = function (to, ...more) {
  if (to instanceof AudioDestinationNode && this.context instanceof AudioContext) {
    window.taps.push(new AnalyserNode(this.context, { fftSize: 8192 }));
    connect.call(this, window.taps.at(-1));
  }
  return connect.call(this, to, ...more);
};
"""
"""A script that taps what a page sends to the loudspeaker, and notes when and where each sound starts.

`starts` counts in seconds: `when` by the sound's own clock, `offset` into the take; `ms` by the page's.
"""
NEARLY_S = 1e-4


@dataclass
class Workshop:
    """The bench's side of a server, over the API."""

    url: str
    client: httpx2.Client

    @classmethod
    def at(cls, server: Running, key: str = "") -> Workshop:
        """Sign in at the bench of a server."""
        url = f"http://127.0.0.1:{server.port}"
        none_kept = httpx2.Limits(max_keepalive_connections=0)  # leaves nothing to close
        client = httpx2.Client(base_url=url, headers=MARK, timeout=READY_S, limits=none_kept)
        if key:
            client.post("/api/access", json={"key": key}).raise_for_status()
        return cls(url, client)

    def propose(
        self, *, takes: tuple[str, ...] = TAKES, labels: tuple[str, ...] = LABELS, **more: Any
    ) -> Offered:
        """Make a commission with a proposal of its first positions."""
        body = {"title": "Baritone", "starter": "baritone"}
        commission = self.client.post("/api/commissions", json=body).json()["id"]
        wiring = self.client.get(f"/api/commissions/{commission}").json()["wirings"][0]
        version = wiring["versions"][0]["id"]
        items = [
            {"version": version, "position": str(k), "label": label} for k, label in enumerate(labels, 1)
        ]
        body = {"title": "Your baritone", "items": items, "takes": list(takes), **more}
        proposal = self.client.post(f"/api/commissions/{commission}/proposals", json=body).json()
        return Offered(self, proposal["id"], proposal["link"], commission)


@dataclass
class Offered:
    """A proposal made for a customer."""

    workshop: Workshop
    id: str
    link: str
    commission: str

    def seen(self) -> dict[str, Any]:
        """Return what the bench sees of it."""
        found: dict[str, Any] = self.workshop.client.get(f"/api/proposals/{self.id}").json()
        return found

    def until_seen(self, page: Page, what: str, value: Any) -> None:
        """Wait until the bench sees a value: the page shows a mark before the server has it."""
        until = time.monotonic() + READY_S
        while self.seen()[what] != value:
            assert time.monotonic() < until, f"{what}: {self.seen()[what]}, not {value}"
            page.wait_for_timeout(50)

    def ready(self) -> Offered:
        """Wait until its clips are rendered, and return it."""
        until = time.monotonic() + READY_S
        while self.seen()["ready"] < 1.0:
            assert time.monotonic() < until, "the clips were not rendered"
            time.sleep(0.2)
        return self

    def open(self, page: Page, url: str = "") -> Page:
        """Open the customer's page."""
        page.goto(f"{url or self.workshop.url}{self.link}")
        page.locator(".sound").first.wait_for()
        return page


def sound(page: Page, number: int) -> Locator:
    """Return the row of a sound."""
    return page.locator(".sound").nth(number - 1)


def tap_sound(page: Page, number: int) -> None:
    """Tap a sound as a finger does."""
    sound(page, number).locator(".pick").click()


LOUDNESS = """() => {
  const found = new Float32Array(window.heard.fftSize);
  window.heard.getFloatTimeDomainData(found);
  return Math.max(...found.map(Math.abs));
}"""


def loudness(page: Page) -> float:
    """Return the largest sample of late at the loudspeaker; 0 before the first."""
    return float(page.evaluate(LOUDNESS))


def until_heard(page: Page, *, heard: bool = True, within_s: float = 20.0) -> None:
    """Wait until the page sounds, or until it is silent."""
    begun = time.monotonic()
    while (loudness(page) > 1e-4) != heard:
        assert time.monotonic() - begun < within_s, "no sound" if heard else "the sound goes on"
        page.wait_for_timeout(50)


def starts_of(page: Page) -> list[dict[str, float]]:
    """Return when, and at which place of the take, each sound has started."""
    found: list[dict[str, float]] = page.evaluate("() => window.starts")
    return found


def are_in_step(starts: list[dict[str, float]]) -> bool:
    """Whether every sound starts where the first one is by then; no clock of this machine counts."""
    begun = starts[0]["when"] - starts[0]["offset"]
    away = [(one["when"] - one["offset"] - begun) % one["seconds"] for one in starts]
    return all(min(far, one["seconds"] - far) < NEARLY_S for far, one in zip(away, starts, strict=True))


def reload_until_kept(page: Page, words: str) -> None:
    """Load the page again until it says so; on a busy machine the browser's store may come after it."""
    for _ in range(5):
        page.reload()
        page.locator(".sound").first.wait_for()
        with contextlib.suppress(TimeoutError):
            return page.get_by_text(words).wait_for(timeout=6000.0)
    raise AssertionError(f"not kept: {words}")


def until_sent(page: Page) -> None:
    """Wait until the workshop's server has all that was said."""
    page.locator(".sending-state").get_by_text("Sent.").wait_for()


def place(page: Page) -> float:
    """Return the position in the music, 0 to 100."""
    return float(page.get_by_label("Place in the music").input_value())


def until_moving(page: Page, within_s: float = 20.0) -> None:
    """Wait until the music goes on from where it is."""
    before, begun = place(page), time.monotonic()
    while place(page) == before:
        assert time.monotonic() - begun < within_s, "the music stands still"
        page.wait_for_timeout(50)
