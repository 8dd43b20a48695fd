"""What leaves the pages: easy to hear where the slider starts, true to the wiring, below the ceiling."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import soundfile
from bench_page import asked, knob, move_head_seen, new_commission, open_bench, stop
from browser_fixtures import Console, until
from customer_page import Workshop, sound, tap_sound
from page_sound import RATE_HZ, Floats, level_of, record, recording_context
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect
from server_process import Running
from tolerances import PAGE_DISTANCE_DB, PAGE_LU

from dsp.filters.design import design_bank
from dsp.sound.levels import db
from dsp.sound.live_level import TARGET_LUFS
from dsp.sound.movement import Step
from dsp.sound.peak import CEILING_DBTP
from dsp.sound.render import Renderer
from server.proposals.describe import read_version

pytestmark = pytest.mark.browser

PLUCK_S = 1.2
SETTLED_S = 0.5
"""After a change, by the sound's own clock: fades and ramps are over."""
TAKES = (
    "arpeggio",
    "double_stops",
    "e_slide",
    "harmonics",
    "lead_line",
    "low_riff",
    "open_chords",
    "staccato",
)
"""The demo's takes up to 20 s: each is recorded while it plays."""
SOME_TAKES = ("arpeggio", "e_slide", "open_chords")
"""Single notes, a recording and chords; the others with ``PRESOLDER_FULL=1``."""
FULL = os.environ.get("PRESOLDER_FULL") == "1"
BENCH_TAKES = (
    {"Baritone": TAKES, "Twelve": SOME_TAKES} if FULL else {"Baritone": SOME_TAKES, "Twelve": TAKES[:1]}
)
TOP_DB = 6.0
PART_S = 3.0
"""Longer than a voice plays of what is measured first."""
USUAL, TOP = "usual level", "6 dB above the usual level"


COUNT_FRAMES = """
window.frames = 0;
const Plain = WebSocket;
window.WebSocket = class extends Plain {
  constructor(...all) { super(...all); this.addEventListener("message", () => { window.frames += 1; }); }
};
"""
"""A script for the start of a page: counts the answers of the live connection."""
COUNT_RENDERINGS = """
window.renderings = 0;
const { startRendering } = OfflineAudioContext.prototype;
OfflineAudioContext.prototype.startRendering = function () {
  window.renderings += 1;
  return startRendering.call(this).finally(() => { window.renderings -= 1; });
};
"""
"""The same: counts the stretches whose peaks are being measured, before or while they sound."""


@pytest.fixture
def context(chromium: Browser, console: Console) -> Iterator[BrowserContext]:
    """Make a context whose pages record everything they play."""
    with recording_context(chromium, console) as one:
        yield one


def to_top(slider: Locator) -> None:
    expect(slider).to_have_attribute("aria-valuetext", USUAL)
    slider.focus()
    slider.press("End")
    expect(slider).to_have_attribute("aria-valuetext", TOP)


def rms_db(samples: Floats) -> float:
    return db(float(np.sqrt(np.mean(samples**2))))


def until_it_sounds(page: Page) -> None:
    until(page, "Number(document.querySelector('[role=meter]').getAttribute('aria-valuenow')) > -50")


def play_take(page: Page, take: str) -> None:
    """Choose a take, play it, and wait until it sounds."""
    choice = page.get_by_label("Take", exact=True)
    if choice.input_value() != take:
        with page.expect_response("**/api/stems?*"), page.expect_response("**/api/draft/monitor"):
            choice.select_option(take)
    if page.get_by_role("button", name="Play", exact=True).count():
        page.get_by_role("button", name="Play", exact=True).click()
    move_head_seen(page)
    until_it_sounds(page)


def flip(page: Page, position: str) -> None:
    """Flip to a position and wait until it sounds."""
    frames = page.evaluate("() => frames")
    stop(page, position).locator("input").check(force=True)
    until(page, f"frames > {frames}")


def wired_db(page: Page, url: str, version: str, take: str, positions: str) -> list[float]:
    """Return the RMS of positions in volts, by dsp from the stems that the page got."""
    wiring = read_version(asked(page, url, "GET", f"/versions/{version}")["text"])
    got = page.request.get(f"{url}/api/stems", params={"version": version, "take": take})
    stems = np.frombuffer(got.body(), "<f4").astype(float).reshape(len(wiring.coils), -1)
    stems = np.tile(stems, 2)  # the page plays a loop
    found = []
    for position in positions:
        renderer = Renderer(
            [Step(0, 0, wiring.setting(position))], lambda one: design_bank(wiring, one), RATE_HZ
        )
        volts = np.concatenate(list(renderer.render([stems])))
        found.append(rms_db(volts[len(volts) // 2 :]))
    return found


@pytest.fixture(scope="module")
def pluck(shared_server: Running) -> str:
    """Bring a short recording of a plucked chord, softer than most, and return its id."""
    seconds = np.arange(round(PLUCK_S * RATE_HZ)) / RATE_HZ
    notes = [110.0 * k for k in range(1, 20)] + [164.8 * k for k in range(1, 14)]
    tones = [
        np.sin(2.0 * np.pi * hz * seconds + k * k)
        * np.exp(-seconds * (2.0 + hz / 1000.0))
        / (1.0 + hz / 500.0)
        for k, hz in enumerate(notes)
    ]
    samples = 0.02 * np.sum(tones, axis=0) * np.minimum(seconds / 0.002, 1.0)
    file = io.BytesIO()
    soundfile.write(file, samples, RATE_HZ, format="WAV", subtype="FLOAT")
    about = {"name": "Pluck", "kind": "mono", "line": "chords", "source": "flat"}
    client = Workshop.at(shared_server).client
    answer = client.post("/api/takes", params=about, content=file.getvalue()).raise_for_status()
    return str(answer.json()["id"])


@pytest.mark.long
def test_the_bench_starts_at_the_usual_loudness_and_keeps_the_differences(
    context: BrowserContext, shared_server: Running, pluck: str
) -> None:
    context.add_init_script(COUNT_FRAMES)
    page, url = context.new_page(), shared_server.url
    commission = new_commission(page, url)
    version = asked(page, url, "GET", f"/commissions/{commission}")["wirings"][0]["versions"][0]["id"]
    open_bench(page, url, commission)
    play_take(page, pluck)
    loudest = record(page, PLUCK_S, after_s=SETTLED_S)
    assert level_of(loudest).lufs == pytest.approx(TARGET_LUFS, abs=PAGE_LU)
    to_top(page.get_by_label("Output level"))
    top = level_of(record(page, PLUCK_S, after_s=SETTLED_S))
    assert CEILING_DBTP - 1.0 < top.dbtp <= CEILING_DBTP, "the guard had something to do"
    assert top.lufs == pytest.approx(TARGET_LUFS + TOP_DB, abs=PAGE_LU)
    flip(page, "3")
    one, three = wired_db(page, url, version, pluck, "13")
    softer = rms_db(loudest) + TOP_DB - rms_db(record(page, PLUCK_S, after_s=SETTLED_S))
    assert one > three + 3.0
    assert softer == pytest.approx(one - three, abs=PAGE_DISTANCE_DB)
    page.get_by_label("Output level").press("Home")
    expect(page.get_by_role("meter")).to_contain_text("silent")
    page.get_by_role("button", name="Pause").click()
    expect(page.get_by_role("meter")).to_have_attribute("aria-valuetext", "not playing")


def high_share_db(samples: Floats) -> float:
    """Return what lies above 7 kHz, dB of the whole."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    return 0.5 * db(float(power[len(power) * 7 // 24 :].sum() / power.sum()))


def choose_way(page: Page, way: str) -> None:
    """Choose how the guitar is heard, and wait until it sounds that way."""
    frames = page.evaluate("() => frames")
    with page.expect_response("**/api/draft/monitor"):
        page.get_by_label("Heard", exact=True).select_option(way)
    until(page, f"frames > {frames}")


@pytest.mark.long
def test_every_way_to_hear_it_is_as_loud_and_the_bench_remembers_it(
    context: BrowserContext, shared_server: Running, pluck: str
) -> None:
    context.add_init_script(COUNT_FRAMES)
    page, url = context.new_page(), shared_server.url
    open_bench(page, url, new_commission(page, url))
    play_take(page, pluck)
    high = {"direct": high_share_db(record(page, PLUCK_S, after_s=SETTLED_S))}
    for way in ("clean", "driven"):
        choose_way(page, way)
        heard = record(page, PLUCK_S, after_s=SETTLED_S)
        assert level_of(heard).lufs == pytest.approx(TARGET_LUFS, abs=PAGE_LU), way
        high[way] = high_share_db(heard)
    assert high["clean"] < high["direct"] - 6.0, "no loudspeaker"
    assert high["driven"] < high["direct"] - 6.0, "no loudspeaker"
    flip(page, "3")
    knob(page, "volume").press("PageDown")
    page.get_by_role("button", name="About the ways to hear it").click()
    expect(page.get_by_role("dialog")).to_contain_text("It stands for no product.")
    page.keyboard.press("Escape")
    expect(page.get_by_role("alert").filter(has_text="cannot be played")).to_have_count(0)
    page.reload()
    expect(page.get_by_label("Heard", exact=True)).to_have_value("driven")


@pytest.mark.long
def test_the_customers_page_starts_at_the_usual_loudness(
    context: BrowserContext, shared_server: Running, pluck: str
) -> None:
    link = Workshop.at(shared_server).propose(takes=(pluck,), labels=("One", "Two", "Three")).ready()
    page = link.open(context.new_page())
    page.get_by_role("radio", name="True").check(force=True)
    offer = page.evaluate("async (link) => (await fetch('/api' + link)).json()", link.link)
    clips = [one["clips"][pluck] for one in offer["items"]]
    wired = [one["wired_gain_db"] for one in clips]
    got = [page.request.get(f"{shared_server.url}{one['flac']}").body() for one in clips]
    files = [soundfile.read(io.BytesIO(one))[0] for one in got]
    loudest, softest = int(np.argmax(wired)) + 1, int(np.argmin(wired)) + 1
    assert max(wired) == 0.0
    tap_sound(page, loudest)
    expect(sound(page, loudest)).to_have_class(re.compile("heard"))
    loud = record(page, PLUCK_S, after_s=1.0)  # play rises for half a second
    assert level_of(loud).lufs == pytest.approx(TARGET_LUFS, abs=PAGE_LU)
    tap_sound(page, softest)
    expect(sound(page, softest)).to_have_class(re.compile("heard"))
    soft = record(page, PLUCK_S, after_s=SETTLED_S)
    distance = rms_db(files[loudest - 1]) - rms_db(files[softest - 1]) - min(wired)
    assert distance > 3.0
    assert rms_db(loud) - rms_db(soft) == pytest.approx(distance, abs=PAGE_DISTANCE_DB)
    sound(page, softest).get_by_role("button", name="Turn the knobs").click()
    sound(page, softest).get_by_role("slider").first.wait_for()
    expect(sound(page, softest).locator(".turn")).to_have_attribute("data-applied", re.compile("[1-9]"))
    knobs = rms_db(record(page, PLUCK_S, after_s=SETTLED_S))
    assert knobs == pytest.approx(rms_db(soft), abs=PAGE_DISTANCE_DB), "not as loud as the clip"
    page.get_by_role("radio", name="Equal").check(force=True)
    to_top(page.get_by_role("slider", name="Level"))
    for is_live in (True, False):
        top = level_of(record(page, PLUCK_S, after_s=SETTLED_S))
        assert CEILING_DBTP - 1.0 < top.dbtp <= CEILING_DBTP, "the guard had something to do"
        assert top.lufs == pytest.approx(TARGET_LUFS + TOP_DB, abs=PAGE_LU)
        if is_live:
            page.get_by_role("button", name="Done with the knobs").click()


@pytest.mark.long
@pytest.mark.parametrize(("wiring", "takes"), BENCH_TAKES.items())
def test_takes_of_the_demo_are_easy_to_hear_on_the_bench(
    context: BrowserContext, shared_server: Running, wiring: str, takes: tuple[str, ...]
) -> None:
    """The loudest position; printed for review."""
    page, url = context.new_page(), shared_server.url
    found = asked(page, url, "GET", "/commissions")
    open_bench(page, url, next(one["id"] for one in found if one["wirings"][0]["name"].startswith(wiring)))
    wired: dict[str, Any] = {}
    for take in takes:
        play_take(page, f"demo:{take}")
        seconds = _seconds(page, url, f"demo:{take}")
        wired[f"bench, {wiring}, {take}"] = level_of(record(page, seconds, after_s=SETTLED_S))
    tell(wired)


@pytest.mark.long
def test_every_take_of_the_demo_is_easy_to_hear_for_the_customer(
    context: BrowserContext, shared_server: Running
) -> None:
    page, url = context.new_page(), shared_server.url
    wired: dict[str, Any] = {}
    for take in TAKES if FULL else SOME_TAKES:
        link = Workshop.at(shared_server).propose(takes=(f"demo:{take}",), labels=("One", "Two")).ready()
        link.open(page)
        tap_sound(page, 1)
        until_it_sounds(page)
        expect(sound(page, 1)).to_have_class(re.compile("heard"))
        seconds = _seconds(page, url, f"demo:{take}")
        wired[f"customer, {take}"] = level_of(record(page, seconds, after_s=1.0))
    tell(wired)


def tell(wired: dict[str, Any]) -> None:
    """Print levels, and hold them to the usual one."""
    for what, level in wired.items():
        print(f"{what}: {level.lufs:.1f} LUFS, {level.phone_lufs:.1f} from 400 Hz, {level.dbtp:.1f} dBTP")
    assert all(abs(level.lufs - TARGET_LUFS) <= PAGE_LU for level in wired.values())
    assert all(level.dbtp <= CEILING_DBTP for level in wired.values())


def _seconds(page: Page, url: str, take: str) -> float:
    found = next(one for one in asked(page, url, "GET", "/takes") if one["id"] == take)
    return float(found["seconds"] or asked(page, url, "GET", f"/takes/{take}")["seconds"])


@pytest.mark.long
def test_over_plain_http_no_peak_exceeds_the_ceiling(
    context: BrowserContext, shared_server: Running, console: Console
) -> None:
    """As where there are no worklets: the guard does not load. Clips and turned knobs, all the way up."""
    console.expected += ["guard_worklet", "ERR_FAILED"]
    context.route("**/guard_worklet.js", lambda route: route.abort())
    context.add_init_script(COUNT_RENDERINGS)
    take = "demo:open_chords"
    link = Workshop.at(shared_server).propose(takes=(take,), labels=("One", "Two")).ready()
    page = link.open(context.new_page())
    page.get_by_role("radio", name="Equal").check(force=True)
    to_top(page.get_by_role("slider", name="Level"))
    tap_sound(page, 1)
    expect(sound(page, 1)).to_have_class(re.compile("heard"))
    clip = level_of(record(page, PART_S, after_s=1.0))
    sound(page, 1).get_by_role("button", name="Turn the knobs").click()
    knob = sound(page, 1).get_by_role("slider").first
    knob.wait_for()
    turn = sound(page, 1).locator(".turn")
    expect(turn).to_have_attribute("data-applied", re.compile("[1-9]"))
    turned = level_of(record(page, PART_S, after_s=SETTLED_S))
    before, keys = int(turn.get_attribute("data-applied") or 0), ("Home", "End", "PageDown", "End")
    for key in keys:
        knob.press(key)
    moving = level_of(record(page, PART_S))
    assert moving.dbtp <= CEILING_DBTP
    expect(turn).to_have_attribute("data-applied", str(before + len(keys)))
    until(page, "renderings === 0")  # a busy machine measures late, and is silent until then
    moved = level_of(record(page, PART_S, after_s=SETTLED_S))
    print(clip, turned, moving, moved)
    for level in (clip, turned, moved):
        assert CEILING_DBTP - TOP_DB < level.dbtp <= CEILING_DBTP
        assert level.lufs > TARGET_LUFS, "silent where it was measured late"
