"""The player in a real browser: equal to dsp's rendering, quiet in its fades, steady under load."""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from browser_fixtures import Console, open_player, until
from numpy.typing import NDArray
from places import DEMO
from playwright.sync_api import Page, WebSocketRoute
from server_process import Running
from tolerances import FADE_ARTEFACT_DB, PLAYER_SAME

from dsp.filters.bank import Bank
from dsp.filters.design import design_bank
from dsp.sound.movement import Step
from dsp.sound.render import Renderer, warm_up_samples
from dsp.wiring.model import Setting, Wiring
from server.bench.hearing import frame_of
from server.takes.load import load_take
from server.wirings.text import load_wiring

pytestmark = pytest.mark.browser

Floats = NDArray[np.float64]
RATE_HZ = 48_000
BLOCK = 128
FADE = 960
LOOK_AHEAD = 64
RAMP = 480
WARM_BLOCK = 4096
READY, PLAY = 8 * BLOCK, 40 * BLOCK
"""Samples at which stems and filters arrive, and at which Play is pressed."""
OPEN: dict[str, Any] = {"output": 1.0, "loudest": 200.0}


@dataclass(frozen=True)
class Change:
    """Another setting, requested at a sample of the take that is a multiple of a block."""

    at: int
    setting: Setting


@dataclass(frozen=True)
class Captured:
    """The worklet's samples from the press of Play on, and its messages."""

    samples: Floats
    messages: list[dict[str, Any]]
    seconds: float


def text(array: NDArray[Any]) -> str:
    return b64encode(np.ascontiguousarray(array).tobytes()).decode()


def capture(
    page: Page, stems: Floats, banks: Sequence[Bank], starts: Sequence[int], n: int, **options: Any
) -> Captured:
    """Run the worklet offline: the first bank from the start, others requested at their samples."""
    rows = [text(row.astype(np.float32)) for row in stems]
    frames = [text(np.frombuffer(frame_of(i + 1, bank, np.nan))) for i, bank in enumerate(banks)]
    ready = [
        {"type": "keep", "key": "take", "stems": rows},
        {"type": "ask", "key": "take", "frame": frames[0]},
    ]
    events = [{"at": READY, "messages": ready}, {"at": PLAY, "messages": [{"type": "play"}]}]
    for at, frame in zip(starts, frames[1:], strict=True):
        events.append({"at": PLAY + at, "messages": [{"type": "ask", "frame": frame}]})
    run = {"samples": PLAY + n, "options": {**OPEN, **options}, "events": events}
    found = page.evaluate("run => bench.capture(run)", run)
    samples = np.frombuffer(b64decode(found["samples"]), "<f8")
    assert not np.any(samples[: PLAY + LOOK_AHEAD])
    return Captured(samples[PLAY + LOOK_AHEAD :], found["messages"], found["seconds"])


def rendered(stems: Floats, wiring: Wiring, banks: Sequence[Bank], stages: Sequence[Step]) -> Floats:
    """Render the same by dsp, with the ramp of Play and without the filters' delay."""
    left = list(banks)
    blocks = Renderer(stages, lambda setting: left.pop(0), RATE_HZ).render([stems])
    whole = np.concatenate([np.zeros(banks[0].delay), *blocks])
    ramp = np.minimum((1.0 + np.arange(len(whole))) / RAMP, 1.0)
    return whole * ramp


@pytest.fixture(scope="module")
def baritone() -> Wiring:
    return load_wiring(DEMO / "baritone.yaml")


@pytest.fixture(scope="module")
def stems(baritone: Wiring) -> Floats:
    """Return two and a half seconds of a take with 32 bits, as the page gets it."""
    blocks = load_take(DEMO / "low_riff.yaml").stems(baritone, RATE_HZ)
    whole = np.concatenate(list(blocks), axis=1)[:, : 5 * RATE_HZ // 2]
    return whole.astype(np.float32).astype(float)


def waits(bank: Bank) -> int:
    """Return the samples by which a fade is late because warming takes more than one block.

    A first part is warmed as soon as the filters come, the second in the block after.
    """
    more = warm_up_samples(bank) - 2 * WARM_BLOCK
    return BLOCK * max(0, -(-more // (WARM_BLOCK - BLOCK)))


def compared(
    page: Page,
    wiring: Wiring,
    stems: Floats,
    first: Setting,
    changes: Sequence[Change],
    *,
    late: int = 0,
) -> float:
    """Return the largest difference to dsp, of full scale; `late` moves dsp's fades."""
    banks = [design_bank(wiring, setting) for setting in (first, *(one.setting for one in changes))]
    n = 2 * RATE_HZ - 2 * RATE_HZ % BLOCK
    found = capture(page, stems, banks, [one.at for one in changes], n)
    applied = [one["clock"] for one in found.messages if one["type"] == "applied"][1:]
    assert applied == [one.at + waits(bank) for one, bank in zip(changes, banks[1:], strict=True)]
    stages = [Step(0, 0, first)] + [
        Step(at - banks[0].delay + late, FADE, one.setting) for at, one in zip(applied, changes, strict=True)
    ]
    truth = rendered(stems, wiring, banks, stages)
    m = len(found.samples)
    assert m > RATE_HZ
    assert np.max(np.abs(truth[:m])) > 0.01
    return float(np.max(np.abs(found.samples - truth[:m])))


def test_a_setting_sounds_as_dsp_renders_it(player: Page, baritone: Wiring, stems: Floats) -> None:
    for setting in (baritone.setting("1"), baritone.setting("4", {"tone": 3.0, "volume": 6.0})):
        assert compared(player, baritone, stems, setting, []) <= PLAYER_SAME


def test_a_flip_sounds_as_dsp_renders_it(player: Page, baritone: Wiring, stems: Floats) -> None:
    change = Change(BLOCK * 300, baritone.setting("6", {"tone": 8.0}))
    first = baritone.setting("1", {"tone": 4.0})
    assert compared(player, baritone, stems, first, [change]) <= PLAYER_SAME
    assert compared(player, baritone, stems, first, [change], late=1) > PLAYER_SAME


def test_a_sweep_of_five_values_sounds_as_dsp_renders_it(
    player: Page, baritone: Wiring, stems: Floats
) -> None:
    first, *others = (baritone.setting("2", {"tone": tone}) for tone in (10.0, 7.5, 5.0, 2.5, 0.0))
    changes = [Change(BLOCK * (100 + 20 * i), setting) for i, setting in enumerate(others)]
    assert compared(player, baritone, stems, first, changes) <= PLAYER_SAME


def test_a_flip_on_a_low_sine_leaves_nothing_above(player: Page, baritone: Wiring) -> None:
    """A fade on a sine of 110 Hz adds little above 1.5 kHz, re the sine's peak."""
    seconds = np.arange(3 * RATE_HZ) / RATE_HZ
    sine = np.array([1.0, 0.9, 0.6, 0.5])[:, None] * 0.3 * np.sin(2.0 * np.pi * 110.0 * seconds)
    for start, end in (("1", "4"), ("5", "2"), ("3", "6")):
        banks = [design_bank(baritone, baritone.setting(one)) for one in (start, end)]
        found = capture(player, sine, banks, [BLOCK * 400], 2 * RATE_HZ).samples
        assert artefact_db(found) <= FADE_ARTEFACT_DB
        hard = found.copy()
        hard[51_000] += 1e-3 * np.max(np.abs(found))
        assert artefact_db(hard) > FADE_ARTEFACT_DB


def artefact_db(samples: Floats) -> float:
    """Return the peak above 1.5 kHz away from the ends, re the overall peak."""
    from scipy.signal import butter, sosfiltfilt

    high = sosfiltfilt(butter(12, 1500.0, "high", fs=RATE_HZ, output="sos"), samples)
    inside = slice(RATE_HZ // 2, -RATE_HZ // 4)
    return float(20.0 * np.log10(np.max(np.abs(high[inside])) / np.max(np.abs(samples[inside]))))


def test_the_guard_holds_in_the_browser_too(player: Page, baritone: Wiring, stems: Floats) -> None:
    banks = [design_bank(baritone, baritone.setting("1"))]
    found = capture(player, 100.0 * stems, banks, [], RATE_HZ).samples
    assert 0.5 < np.max(np.abs(found)) <= 10.0 ** (-1.0 / 20.0)


# --- live


POSITIONS = ["1", "2", "3", "4", "5", "6"]
ATTEMPTS = 3
FOLLOWED = 0.5
"""Share of the answers that sound at least: a fade lasts as long as some of them are apart."""
TICK_S = 0.05
"""The player tells its place so often."""


def begin(page: Page, word: str = "Baritone", take: str = "demo:low_riff") -> None:
    """Open a wiring and a take, and press Play."""
    page.evaluate("([word, take]) => bench.open(word, take)", [word, take])
    page.evaluate("() => bench.load()")
    page.evaluate("() => bench.ask({position: '1', knobs: {}, switches: {}})")
    page.evaluate("() => bench.engine.play()")
    until(page, "bench.seen.applied.length > 0 && bench.seen.ticks.length > 2")


def gaps_of(page: Page) -> tuple[int, int]:
    """Return the gaps so far in the player's sound, and in one that plays nothing."""
    own, idle = page.evaluate("async () => [bench.engine.underruns, await bench.idleGaps()]")
    assert own is not None, "this browser does not report gaps"
    return int(own), int(idle)


def moved(page: Page, seconds: float) -> tuple[int, int]:
    """Make random moves, check what must hold on any machine, and return the gaps meanwhile."""
    begin(page)
    before = gaps_of(page)
    page.evaluate("() => { bench.seen.applied.length = 0; bench.seen.ticks.length = 0; }")
    first_frame = page.evaluate("() => bench.seen.frames")
    first = page.evaluate("() => bench.ask({position: '2', knobs: {}, switches: {}})")
    options = {"positions": POSITIONS, "knobs": ["volume", "tone"], "everyMs": 25}
    moves = page.evaluate("([s, options]) => bench.play(s, options)", [seconds, options])
    until(page, f"bench.seen.applied.at(-1) === {first + moves}")  # the last one always sounds
    seen = page.evaluate("() => bench.seen")
    assert not seen["trouble"]
    assert not seen["problems"]
    frames = seen["frames"] - first_frame
    print(f"{moves} moves, {frames} answers, {len(seen['applied'])} applied in {seconds:g} s")
    assert len(seen["applied"]) > FOLLOWED * frames  # newer ones replaced the rest
    assert seen["applied"] == sorted(seen["applied"])
    steps = np.diff(seen["ticks"])
    assert np.median(steps) == pytest.approx(TICK_S, rel=0.2)  # by the sound's own clock
    own, idle = gaps_of(page)
    return own - before[0], idle - before[1]


def without_a_gap(page: Page, seconds: float) -> None:
    """A busy machine starves a player that plays nothing too; a fault of ours shows in each run."""
    gaps = [moved(page, seconds)]
    while gaps[-1][0] > gaps[-1][1] and len(gaps) < ATTEMPTS:
        gaps.append(moved(page, seconds))
    assert any(own <= idle for own, idle in gaps), f"gaps, own and idle, in {len(gaps)} runs: {gaps}"


@pytest.mark.long
def test_ten_seconds_of_moves_without_a_gap(player: Page) -> None:
    without_a_gap(player, 10.0)


@pytest.mark.long
def test_a_minute_of_moves_without_a_gap(player: Page) -> None:
    without_a_gap(player, 60.0)


def test_another_rate_is_reported_and_not_played(player: Page) -> None:
    player.evaluate(
        """() => {
            const Real = AudioContext;
            window.AudioContext = class extends Real { constructor() { super({sampleRate: 44100}); } };
        }"""
    )
    message = player.evaluate("() => bench.engine.play().then(() => 'played', (error) => error.message)")
    assert "44100" in message
    assert "48000" in message


def settled_ticks(page: Page) -> int:
    """Return the number of places told, once none has come for a while."""
    before = -1
    while (now := page.evaluate("() => bench.seen.ticks.length")) != before:
        before = now
        page.wait_for_timeout(500)
    return int(before)


@pytest.mark.long
def test_pause_keeps_the_place_and_play_goes_on(player: Page) -> None:
    begin(player)
    player.evaluate("() => bench.engine.setLoop(1.0, 2.0)")
    until(player, "bench.seen.ticks.slice(-10).every((at) => 1 <= at && at <= 2)")
    count = player.evaluate("() => bench.seen.ticks.length")
    until(player, f"bench.seen.ticks.length > {count + 30}")  # more than once round
    ticks = player.evaluate("count => bench.seen.ticks.slice(count)", count)
    assert all(1.0 <= at <= 2.0 for at in ticks)
    player.evaluate("() => bench.engine.pause()")
    count = settled_ticks(player)
    player.wait_for_timeout(300)
    assert player.evaluate("() => bench.seen.ticks.length") == count
    player.evaluate("() => bench.engine.play()")
    until(player, f"bench.seen.ticks.length > {count}")


def test_a_moved_coil_sounds_at_the_same_time_of_the_take(player: Page) -> None:
    begin(player)
    player.evaluate("() => bench.edit([{path: ['parts', 'neck_a', 'at'], value: '150 mm'}])")
    player.evaluate("() => bench.load()")
    count = player.evaluate("() => bench.seen.ticks.length")
    until(player, f"bench.seen.ticks.length > {count + 7}")
    ticks = np.array(player.evaluate("() => bench.seen.ticks"))
    assert np.all(np.diff(ticks) < 0.2)
    assert ticks[-1] - ticks[0] > 0.3


def test_a_senseless_value_is_reported_and_the_sound_goes_on(player: Page) -> None:
    begin(player)
    player.evaluate("() => bench.edit([{path: ['parts', 'tone_cap', 'capacitance'], value: '33 nX'}])")
    player.evaluate("() => bench.ask({position: '2', knobs: {}, switches: {}})")
    until(player, "bench.seen.problems.length > 0")
    problem = player.evaluate("() => bench.seen.problems[0].problems[0]")
    assert problem["got"] == "'33 nX'"
    count = player.evaluate("() => bench.seen.ticks.length")
    until(player, f"bench.seen.ticks.length > {count + 3}")


@pytest.mark.long
def test_single_requests_replace_a_missing_live_connection(
    page: Page, shared_server: Running, console: Console
) -> None:
    def close(socket: WebSocketRoute) -> None:
        socket.close()

    page.route_web_socket("**/api/live", close)
    open_player(page, shared_server.url)
    begin(page)
    options = {"positions": POSITIONS, "knobs": ["volume", "tone"], "everyMs": 60}
    moves = page.evaluate("([s, options]) => bench.play(s, options)", [3.0, options])
    until(page, f"bench.seen.applied.at(-1) === {moves + 1}")
    assert page.evaluate("() => bench.seen.states") == ["fallback"]
    assert page.evaluate("() => bench.seen.trouble") == []


@pytest.mark.long
def test_the_newest_request_is_repeated_when_the_server_is_back(
    page: Page, running_server: Running, console: Console
) -> None:
    console.expected += ["Failed to load resource: net::ERR_", "WebSocket connection to"]  # no server
    open_player(page, running_server.url)
    begin(page)
    assert page.evaluate("() => bench.state()") == "live"
    running_server.kill()
    for i in range(5):
        page.evaluate("t => bench.ask({position: '3', knobs: {tone: t}, switches: {}})", i)
        page.wait_for_timeout(100)
    until(page, "bench.state() === 'offline'")
    count = page.evaluate("() => bench.seen.ticks.length")
    until(page, f"bench.seen.ticks.length > {count + 10}")  # the sound goes on meanwhile
    running_server.start()
    until(page, "bench.state() === 'live'", within_s=30.0)
    until(page, "bench.seen.applied.at(-1) === 6")
