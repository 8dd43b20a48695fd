"""Record what a page sends to the loudspeaker, sample by sample, and measure it."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from browser_fixtures import WAIT_MS, Console, until
from numpy.typing import NDArray
from playwright.sync_api import Browser, BrowserContext, Page
from scipy.signal import butter, sosfilt

from dsp.sound.loudness import integrated_lufs
from dsp.sound.peak import dbtp, true_peak

RATE_HZ = 48_000
ROUNDS = 4
Floats = NDArray[np.float64]

RECORDER = """
class Recorder extends AudioWorkletProcessor {
  chunk = new Float32Array(4096);
  at = 0;

  process([[input]]) {
    if (input) this.chunk.set(input, this.at);
    else this.chunk.fill(0, this.at, this.at + 128);
    this.at += 128;
    if (this.at < this.chunk.length) return true;
    this.port.postMessage(this.chunk);
    this.at = 0;
    return true;
  }
}
registerProcessor("recorder", Recorder);
"""
CHUNK = 4096
"""Samples that the recorder hands over at a time."""
RECORD_OUTPUT = """
const connect = AudioNode.prototype.connect;
const code = URL.createObjectURL(new Blob([RECORDER], { type: "text/javascript" }));
window.recorders = [];
AudioNode.prototype.connect = function (to, ...more) {
  if (to instanceof AudioDestinationNode && this.context instanceof AudioContext) {
    const recorder = { chunks: [] };
    window.recorders.push(recorder);
    this.context.audioWorklet.addModule(code).then(() => {
      const node = new AudioWorkletNode(this.context, "recorder");
      node.port.onmessage = ({ data }) => recorder.chunks.push(data);
      connect.call(this, node);
      connect.call(node, to);
      recorder.ready = true;
    });
  }
  return connect.call(this, to, ...more);
};
window.recorded = (begun) => recorders.map(({ chunks }, k) => chunks.slice(begun[k] ?? 0));
window.recordedText = (begun) => recorded(begun).map((chunks) => {
  let text = "";
  for (const chunk of chunks)
    for (const one of new Uint8Array(chunk.buffer)) text += String.fromCharCode(one);
  return btoa(text);
});
"""
"""A script for the start of a page: records what the clips and the live player send to the device."""


@contextmanager
def recording_context(chromium: Browser, console: Console) -> Iterator[BrowserContext]:
    """Open a context whose pages record their output; a complaint of a console fails the test.

    The pages' own policy would forbid the recorder.
    """
    context = chromium.new_context(bypass_csp=True)
    context.add_init_script(f"{{ const RECORDER = {json.dumps(RECORDER)}; {RECORD_OUTPUT} }}")
    context.on("page", console.watch)
    context.set_default_timeout(WAIT_MS)
    yield context
    context.close()
    assert not console.unexpected(), "\n".join(console.unexpected())


def record(page: Page, seconds: float, after_s: float = 0.0) -> Floats:
    """Return the next seconds of a playing page's output, full scale 1.

    Parameters
    ----------
    after_s : float
        Left out before them, by the sound's clock: on a busy machine it stays behind the others.
    """
    until(page, "recorders.some(({ ready }) => ready)")
    begun = page.evaluate("() => recorders.map(({ chunks }) => chunks.length)")
    first, samples = round(after_s * RATE_HZ), round((after_s + seconds) * RATE_HZ)
    chunks = -(-samples // CHUNK)
    until(
        page,
        f"recorded({begun}).some((one) => one.length >= {chunks})",
        within_s=20.0 * (seconds + after_s) + 30.0,
    )
    texts: list[str] = page.evaluate("begun => recordedText(begun)", begun)
    whole = np.zeros(chunks * CHUNK)
    for text in texts:
        found = np.frombuffer(base64.b64decode(text), np.float32)[: len(whole)]
        whole[: len(found)] += found
    return whole[first:samples]


@dataclass(frozen=True)
class Level:
    """The level of recorded sound.

    Attributes
    ----------
    phone_lufs : float
        Through a high-pass at 400 Hz of second order, a stand-in for the speaker of a phone.
    """

    lufs: float
    phone_lufs: float
    dbtp: float


def level_of(once_round: Floats) -> Level:
    """Measure a looping take, recorded once round from any place, as it goes on."""
    samples = np.tile(once_round, ROUNDS)
    phone = sosfilt(butter(2, 400.0, "high", fs=RATE_HZ, output="sos"), samples)
    return Level(
        integrated_lufs(samples, RATE_HZ),
        integrated_lufs(np.asarray(phone), RATE_HZ),
        dbtp(true_peak(once_round, RATE_HZ)),
    )
