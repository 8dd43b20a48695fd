"""The player of finished clips, offline in a real browser: aligned to the sample, quiet in its fades."""

from __future__ import annotations

import base64
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Page
from server_process import Running
from tolerances import PLAYER_SAME

from dsp.sound.peak import CEILING_DBTP, dbtp, true_peak

pytestmark = pytest.mark.browser

RATE_HZ = 48_000
LENGTH = 31_000
"""Samples of the clips; the take loops several times in two seconds."""
FIRST = 720
"""Sample at which play begins: 15 ms ahead of the tap, so that both fades can be scheduled."""
FADE = 960
LOOK_AHEAD = 64
QUANTUM = 128
Floats = NDArray[np.float64]

SCRIPT = """async ({ clips, seconds, acts, output, guard }) => {
  const { createClips } = await import("/web/js/player/clips.js");
  const { guardFrom } = await import("/web/js/player/guard_node.js");
  const { GUARD } = await import("/web/js/player/worklets.js");
  const context = new OfflineAudioContext(1, seconds * 48000, 48000);
  const buffers = clips.map(text => {
    const samples = new Float32Array(Uint8Array.from(atob(text), one => one.charCodeAt(0)).buffer);
    const buffer = new AudioBuffer({ length: samples.length, sampleRate: 48000 });
    buffer.copyToChannel(samples, 0);
    return buffer;
  });
  const guards = {
    none: undefined, absent: async () => null, node: guardFrom(GUARD),
    behind: async (sound) => new GainNode(sound), // another node guards
  };
  const player = createClips({ context: () => context, rise: 0.001, guard: guards[guard] });
  player.setOutput(...output);
  player.hear(buffers[0], 0);
  await player.play();
  const places = [];
  for (const { at, clip, gainDb, seek } of acts)
    context.suspend(at).then(() => {
      places.push(player.position());
      if (seek !== undefined) player.seek(seek); else player.hear(buffers[clip], gainDb);
      context.resume();
    });
  const samples = (await context.startRendering()).getChannelData(0);
  let text = "";
  for (const one of new Uint8Array(samples.buffer)) text += String.fromCharCode(one);
  return { out: btoa(text), places };
}"""


def played(
    page: Page,
    clips: list[Floats],
    acts: list[dict[str, float]],
    seconds: float = 2.0,
    *,
    output: tuple[float, ...] = (1.0,),
    guard: str = "none",
) -> tuple[Floats, list[float]]:
    """Return the output, and the player's position at each act."""
    texts = [base64.b64encode(clip.astype(np.float32).tobytes()).decode() for clip in clips]
    run = {"clips": texts, "seconds": seconds, "acts": acts, "output": output, "guard": guard}
    found: dict[str, Any] = page.evaluate(SCRIPT, run)
    return np.frombuffer(base64.b64decode(found["out"]), np.float32).astype(float), found["places"]


@pytest.fixture
def at_home(page: Page, shared_server: Running) -> Page:
    """Open a page at the server's own address."""
    page.goto(f"{shared_server.url}/api/access")
    return page


def looped(clip: Floats, n: int, first: int = FIRST) -> Floats:
    """Return a looping clip with its first sample at `first`."""
    return clip[(np.arange(n) - first) % len(clip)]


def begins(at: float) -> int:
    """Return the sample at which an act requested at a time begins."""
    return int(np.ceil((at + 0.015) * RATE_HZ - 1e-6))


def noise(seed: int) -> Floats:
    return np.random.default_rng(seed).uniform(-0.5, 0.5, LENGTH).astype(np.float32).astype(float)


SETTLED = FIRST + 1200
"""Return the first sample after both the rise and the first fade."""


def test_a_switch_between_equal_clips_cannot_be_heard(at_home: Page) -> None:
    """The same samples in another clip: both voices play the same sample, and the gains add up to 1."""
    clip = noise(1)
    times = [round(t * RATE_HZ / QUANTUM) * QUANTUM / RATE_HZ for t in (0.31, 0.7, 1.13, 1.6)]
    acts = [{"at": at, "clip": (k + 1) % 2, "gainDb": 0} for k, at in enumerate(times)]
    out, places = played(at_home, [clip, clip], acts)
    error = np.abs(out - looped(clip, len(out)))[SETTLED:].max()
    assert error <= PLAYER_SAME
    np.testing.assert_allclose(places, [(at * RATE_HZ - FIRST) % LENGTH / RATE_HZ for at in times], atol=1e-6)
    one_late = np.abs(out - looped(clip, len(out), FIRST + 1))[SETTLED:].max()
    assert one_late > 1e3 * PLAYER_SAME, "a clip one sample late would pass"


def test_a_switch_is_a_fade_of_twenty_milliseconds_at_the_same_place(at_home: Page) -> None:
    one, other = noise(1), noise(2)
    at = 0.512
    out, _ = played(at_home, [one, other], [{"at": at, "clip": 1, "gainDb": -6.0}])
    start = begins(at)
    n = np.arange(len(out))
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip((n - start) / FADE, 0.0, 1.0))
    gain = 10.0 ** (-6.0 / 20.0)
    expected = (1.0 - rise) * looped(one, len(out)) + rise * gain * looped(other, len(out))
    before, after = slice(SETTLED, start), slice(start + FADE + 1, None)
    assert np.abs(out - expected)[before].max() <= PLAYER_SAME
    assert np.abs(out - expected)[after].max() <= PLAYER_SAME
    assert np.abs(out - expected)[SETTLED:].max() <= 1e-3  # the curve is read off at 65 points


def test_the_newest_request_wins_and_fades_do_not_pile_up(at_home: Page) -> None:
    """Three requests within one fade: the last sounds in the end, and nothing jumps."""
    t = np.arange(LENGTH) / RATE_HZ
    clips = [
        0.4 * np.sin(2 * np.pi * 110.0 * np.round(t[-1] * 110) / (t[-1] * 110) * t) * k
        for k in (1.0, 0.5, 0.25)
    ]
    acts = [
        {"at": 0.512 + k * QUANTUM / RATE_HZ, "clip": clip, "gainDb": 0} for k, clip in enumerate((1, 0, 2))
    ]
    out, _ = played(at_home, clips, acts)
    assert np.abs(np.diff(out[SETTLED:])).max() < 0.02  # a jump between clips is up to 0.3
    tail = slice(round(1.2 * RATE_HZ), None)
    assert np.abs(out[tail]).max() < 0.45


def test_seeking_goes_to_the_place(at_home: Page) -> None:
    clip = noise(3)
    out, _ = played(at_home, [clip], [{"at": 0.512, "seek": 0.25}])
    start = begins(0.512)
    expected = looped(clip, len(out), start - round(0.25 * RATE_HZ))
    assert np.abs(out - expected)[start + FADE + 1 :].max() <= PLAYER_SAME


def tones() -> Floats:
    """Return a whole number of periods of some tones; the largest sample is 0.5."""
    t = np.arange(LENGTH) / LENGTH
    found = sum(np.sin(2.0 * np.pi * k * t + k * k) for k in (70, 141, 3000, 7750))
    return np.asarray(0.5 * found / np.abs(found).max())


def test_the_guard_behind_clips_holds_their_true_peak(at_home: Page) -> None:
    clip = tones()
    quiet, _ = played(at_home, [clip], [], guard="node")
    late = np.abs(quiet - looped(clip, len(quiet), FIRST + LOOK_AHEAD))[SETTLED:].max()
    assert late <= PLAYER_SAME, "below the ceiling it only delays"
    loud, _ = played(at_home, [clip], [], output=(2.0, 1.0), guard="node")
    assert -1.5 < dbtp(true_peak(loud, RATE_HZ)) <= CEILING_DBTP
    assert dbtp(true_peak(2.0 * clip, RATE_HZ)) > CEILING_DBTP + 0.5


def test_without_a_guard_clips_are_turned_up_as_far_as_their_peaks_allow(at_home: Page) -> None:
    clip = 0.8 * tones()
    for most, heard in ((1.3, 1.3), (3.0, 2.0)):
        out, _ = played(at_home, [clip], [], output=(2.0, most), guard="absent")
        assert np.abs(out - heard * looped(clip, len(out)))[SETTLED:].max() <= 2.0 * PLAYER_SAME


def test_without_a_guard_clips_are_measured_in_the_page(at_home: Page) -> None:
    """A coded clip may exceed the peaks that the server measured: here by 4 dB and more, the second by 7."""
    clip = tones()
    acts = [{"at": 0.8, "clip": 1, "gainDb": 3.0}]
    out, _ = played(at_home, [clip, clip], acts, output=(3.0, 3.0), guard="absent")
    first, second = out[SETTLED : round(0.75 * RATE_HZ)], out[round(0.9 * RATE_HZ) :]
    assert dbtp(true_peak(out, RATE_HZ)) <= CEILING_DBTP
    for part in (first, second):
        assert dbtp(true_peak(part, RATE_HZ)) > CEILING_DBTP - 0.5
    bare, _ = played(at_home, [clip, clip], acts, output=(3.0, 3.0), guard="behind")
    assert dbtp(true_peak(bare, RATE_HZ)) > CEILING_DBTP + 7.0, "nothing had to be done"
