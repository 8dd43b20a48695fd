"""The voice of the customer's knobs, offline in a real browser: the server's filters, quiet when turned."""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from browser_fixtures import Console
from places import DEMO
from playwright.sync_api import Page
from server_process import Running
from turned_sound import RATE_HZ, SAME_DB, Floats, filtered, heard_power

from dsp.filters.design import design_bank
from dsp.live.model import make_model, pack_model
from dsp.sound.peak import CEILING_DBTP, dbtp, true_peak
from dsp.wiring.model import Setting, Wiring
from server.takes.load import load_take
from server.wirings.text import load_wiring

pytestmark = pytest.mark.browser

TAKE = "e_slide"
WIRINGS = ("baritone", "baritone_sketch", "tenor", "twelve")
ARTEFACT_DB = -90.0
"""Bar: what a turned knob adds, re the sound."""
HELD_S, SETTINGS = 0.4, 4
FIRST = 720
"""Sample at which play begins: 15 ms ahead, so that a voice is complete when it is scheduled."""
SETTLED_S = 0.14
"""After a turn: a voice runs 66 ms before its fade of 20 ms; all of it begins on whole blocks."""
TONE_HZ, ABOVE_HZ = 200.0, 2500.0
LOOP_S = 1.2
"""Shorter than what is measured before a voice sounds."""
LOUD = 0.1
"""The sound as offered, root mean square: about as loud as the page plays it."""

SCRIPT = """async ({ model, stems, seconds, turns, gain, means, hasty, guarded }) => {
  const { createLivePlayer } = await import("/web/js/player/live_player.js");
  const { readModel } = await import("/web/js/player/live_model.js");
  const { CONVOLVER } = await import("/web/js/player/worklets.js");
  const bytes = (text) => Uint8Array.from(atob(text), (one) => one.charCodeAt(0)).buffer;
  const context = new OfflineAudioContext(1, seconds * 48000, 48000), rows = stems.map(bytes);
  if (means !== "convolver") // the self-test fails, as where the browser's convolver is coarse
    window.OfflineAudioContext = class { constructor() { throw Error("none"); } };
  const buffer = new AudioBuffer({
    numberOfChannels: rows.length, length: rows[0].byteLength / 4, sampleRate: 48000,
  });
  rows.forEach((row, k) => buffer.copyToChannel(new Float32Array(row), k));
  const at = (second, then) => {
    const block = Math.ceil((second * 48000) / 128 - 1e-6);
    context.suspend((block * 128) / 48000).then(
      async () => { await then(); context.resume(); },
      () => at(second + 128 / 48000, then), // another act stands there
    );
  };
  let open = true;
  const wait = (_, later, then) => {
    const until = context.currentTime + later * hasty;
    if (until < seconds) at(until, () => open && then());
    return () => { open = false; };
  };
  const applied = [];
  const player = createLivePlayer({
    context: () => context, wait, worklet: means === "worklet" ? CONVOLVER : undefined,
    onApplied: (id) => applied.push(id),
    guard: guarded ? async (sound) => new GainNode(sound) : undefined, // one that has nothing to do
  });
  const parsed = readModel(bytes(model));
  const turned = (knobs, id) => ({ id, model: parsed, stems: buffer, gain: () => gain, knobs });
  player.setOutput(1);
  player.use(turned(turns[0].knobs, 0));
  turns.slice(1).forEach((turn, k) => at(turn.at, () => player.use(turned(turn.knobs, k + 1))));
  await player.play();
  const samples = (await context.startRendering()).getChannelData(0);
  let text = "";
  for (const one of new Uint8Array(samples.buffer)) text += String.fromCharCode(one);
  return { out: btoa(text), applied, means: player.means, place: player.position() };
}"""


@pytest.fixture
def document(page: Page, shared_server: Running) -> Page:
    """Open a document of the server; only its origin counts."""
    page.goto(f"{shared_server.url}/api/access")
    return page


def captured(
    wiring: Wiring,
    page: Page,
    setting: Setting,
    stems: Floats,
    turns: Sequence[dict[str, Any]],
    seconds: float,
    gain: float = 1.0,
    means: str = "convolver",
    hasty: float = 1.0,
    *,
    guarded: bool = True,
) -> dict[str, Any]:
    """Play stems, turn the knobs at their seconds and return what leaves from the first sample on.

    Parameters
    ----------
    hasty : float
        Part of its time after which a wait ends, as where the sound's clock stays behind.
    guarded : bool
        Whether a guard stands behind the player; otherwise it measures peaks ahead, as over plain http.
    """
    run = {
        "model": b64encode(pack_model(make_model(wiring, setting))).decode(),
        "stems": [b64encode(row.astype("<f4").tobytes()).decode() for row in stems],
        "seconds": seconds,
        "turns": list(turns),
        "gain": gain,
        "hasty": hasty,
        "means": means,
        "guarded": guarded,
    }
    found: dict[str, Any] = page.evaluate(SCRIPT, run)
    assert found["means"] == means
    found["out"] = np.frombuffer(b64decode(found["out"]), "<f4").astype(float)[FIRST:]
    return found


def stems_of(wiring: Wiring, seconds: float) -> Floats:
    blocks, samples = [], 0
    for block in load_take(DEMO / f"{TAKE}.yaml").stems(wiring, RATE_HZ):
        blocks.append(block)
        samples += block.shape[1]
        if samples >= seconds * RATE_HZ:
            break
    return np.concatenate(blocks, axis=1).astype(np.float32).astype(float)


def errors_db(
    wiring: Wiring, page: Page, position: str, stems: Floats, rng: np.random.Generator, means: str
) -> list[float]:
    """Return the error of random settings against the server's filters, each re its whole sound."""
    knobs = [{name: float(rng.uniform(0.0, 10.0)) for name in wiring.knobs} for _ in range(SETTINGS)]
    turns = [{"at": HELD_S * k, "knobs": one} for k, one in enumerate(knobs)]
    offered = wiring.setting(position)
    gain = LOUD / float(np.sqrt(np.mean(filtered(design_bank(wiring, offered), stems) ** 2)))
    found = captured(wiring, page, offered, stems, turns, HELD_S * SETTINGS, gain, means)
    assert found["applied"] == list(range(SETTINGS))
    errors = []
    for k, one in enumerate(knobs):
        first, last = (round(t * RATE_HZ) - FIRST for t in (HELD_S * k + SETTLED_S, HELD_S * (k + 1)))
        right = gain * filtered(design_bank(wiring, wiring.setting(position, one)), stems)
        wrong = found["out"][first:last] - right[first:last]
        errors.append(10 * np.log10(heard_power(wrong) / heard_power(right)))
    return errors


@pytest.mark.long
@pytest.mark.parametrize("name", WIRINGS)
def test_a_turned_sound_is_that_of_the_servers_filters(document: Page, name: str) -> None:
    wiring, rng = load_wiring(DEMO / f"{name}.yaml"), np.random.default_rng(14)
    stems = stems_of(wiring, HELD_S * SETTINGS)
    for position in wiring.positions:
        errors = errors_db(wiring, document, position, stems, rng, "convolver")
        print(name, position, np.round(errors, 1))
        assert max(errors) <= SAME_DB, f"{name} {position}"


def test_without_worklets_peaks_are_measured_before_they_sound(document: Page) -> None:
    """A loop too loud by 6 dB plays at the ceiling, and as clean as before; without the cap it exceeds it."""
    wiring = load_wiring(DEMO / "baritone.yaml")
    setting = wiring.setting("2")
    stems = stems_of(wiring, LOOP_S)
    right = filtered(design_bank(wiring, setting), np.tile(stems, 3))[len(stems[0]) :]
    gain = 2.0 / float(true_peak(right, RATE_HZ))
    turns = [{"at": 0.0, "knobs": {}}]
    out = captured(wiring, document, setting, stems, turns, 2.0 * LOOP_S, gain, guarded=False)["out"]
    settled = out[round(SETTLED_S * RATE_HZ) :]
    assert CEILING_DBTP - 0.3 < dbtp(true_peak(settled, RATE_HZ)) <= CEILING_DBTP
    assert dbtp(true_peak(out, RATE_HZ)) <= CEILING_DBTP, "the beginning too"
    played = right[round(SETTLED_S * RATE_HZ) :][: len(settled)]
    wrong = settled - played * (settled @ played) / (played @ played)
    assert 10 * np.log10(heard_power(wrong) / heard_power(settled)) <= SAME_DB, "its shape is kept"
    bare = captured(wiring, document, setting, stems, turns, 2.0 * LOOP_S, gain)["out"]
    assert dbtp(true_peak(bare, RATE_HZ)) > CEILING_DBTP + 5.0


@pytest.mark.long
@pytest.mark.parametrize("means", ["worklet"])
def test_other_means_sound_the_same(document: Page, means: str, console: Console) -> None:
    """Where the browser's convolver is coarse, the page's own takes its place."""
    wiring, rng = load_wiring(DEMO / "baritone.yaml"), np.random.default_rng(15)
    stems = stems_of(wiring, HELD_S * SETTINGS)
    errors = errors_db(wiring, document, "2", stems, rng, means)
    print(means, np.round(errors, 1))
    assert max(errors) <= SAME_DB


@pytest.mark.long
@pytest.mark.parametrize(("knob", "hasty"), [("volume", 1.0), ("tone", 1.0), ("volume", 0.3)])
def test_a_dragged_knob_adds_nothing_to_a_low_tone(document: Page, knob: str, hasty: float) -> None:
    """A step or a gap in the sound would reach far above a tone of 200 Hz."""
    wiring = load_wiring(DEMO / "baritone.yaml")
    seconds = 1.4
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    stems = np.tile(0.1 * np.sin(2 * np.pi * TONE_HZ * time), (len(wiring.coils), 1))
    way = [*np.linspace(10.0, 0.0, 24), *np.linspace(0.0, 10.0, 24)]
    turns = [{"at": 0.02 * k, "knobs": {knob: float(value)}} for k, value in enumerate(way)]
    found = captured(wiring, document, wiring.setting("1"), stems, turns, seconds, hasty=hasty)
    assert found["applied"][-1] == len(turns) - 1
    assert len(found["applied"]) > 8, "the knob was not followed"
    out = found["out"][round(0.1 * RATE_HZ) : round(1.3 * RATE_HZ)]
    power = np.abs(np.fft.rfft(out * np.kaiser(len(out), 25.0))) ** 2
    hz = np.fft.rfftfreq(len(out), 1 / RATE_HZ)
    added = 10 * np.log10(power[hz > ABOVE_HZ].sum() / power.sum())
    print(knob, round(added, 1))
    assert added <= ARTEFACT_DB
