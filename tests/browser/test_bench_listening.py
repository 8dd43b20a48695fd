"""Listening and comparing on the bench: takes, loops, sweeps, kept sounds, blind tests, proposals."""

from __future__ import annotations

import io
import json
import re
from datetime import UTC, datetime
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
import soundfile
from bench_page import (
    asked,
    chosen,
    knob,
    new_commission,
    open_bench,
    open_part,
    stop,
)
from blind_trials import steps, truth
from browser_fixtures import Console, until
from midi_bytes import melody, midi
from playwright.sync_api import Locator, Page, Request, expect
from server_process import Running
from talk_case import note, said

pytestmark = pytest.mark.browser


@pytest.fixture
def bench(page: Page, shared_server: Running) -> Page:
    """Open the bench on the test's own commission."""
    return open_bench(page, shared_server.url, new_commission(page, shared_server.url))


@pytest.mark.long
def test_a_device_that_never_opens_is_reported(page: Page, shared_server: Running) -> None:
    page.add_init_script("AudioContext.prototype.resume = () => new Promise(() => {})")
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.get_by_role("button", name="Play", exact=True).click()
    expect(page.get_by_text("No sound: the audio device does not open")).to_be_visible()
    expect(page.get_by_role("button", name="Play", exact=True)).to_be_enabled()


def id_of(page: Page) -> str:
    return page.url.rpartition("/")[2]


def state_saved(page: Page, url: str) -> dict[str, Any]:
    found: dict[str, Any] = asked(page, url, "GET", f"/commissions/{id_of(page)}")["state"]
    return found


def until_saved(page: Page, url: str, what: str, wanted: Any = None) -> Any:
    """Wait until the server has a part of the bench's state, or what is wanted of it, and return it."""
    found = None
    for _ in range(600):
        found = state_saved(page, url).get(what)
        if found and wanted in (None, found):
            return found
        page.wait_for_timeout(50)
    pytest.fail(f"{what} is not saved: {found}")


@pytest.mark.long
def test_kept_sounds_switch_by_letter_and_levels_are_matched(bench: Page) -> None:
    bench.get_by_role("button", name="Keep to compare").click()
    expect(bench.get_by_role("radio", name="level matched")).to_be_checked()
    stop(bench, "5").locator("input").check(force=True)
    expect(bench.locator(".curve.slot-1")).to_have_count(1)
    bench.keyboard.press("b")
    assert chosen(bench) == "1"
    bench.keyboard.press("a")
    assert chosen(bench) == "5"
    bench.get_by_role("button", name="Drop B").click()
    expect(bench.locator(".chip")).to_have_count(1)


def begin_blind(bench: Page, trials: int) -> Locator:
    """Start a blind test of position 6 against 1, and return its dialog at the first trial."""
    bench.get_by_role("button", name="Keep to compare").click()
    stop(bench, "6").locator("input").check(force=True)
    bench.get_by_role("button", name="Blind test").click()
    dialog = bench.get_by_role("dialog")
    dialog.get_by_role("radio", name=str(trials), exact=True).check(force=True)
    dialog.get_by_role("button", name="Start", exact=True).click()
    expect(dialog).to_contain_text(f"Trial 1 of {trials}")
    return dialog


def present(bench: Page, url: str) -> dict[str, Any]:
    """Return the newest blind test from the server."""
    tests = asked(bench, url, "GET", f"/commissions/{id_of(bench)}/blind-tests")["tests"]
    found: dict[str, Any] = asked(bench, url, "GET", f"/blind-tests/{tests[0]['id']}")
    return found


@pytest.mark.long
def test_a_blind_test_from_the_bench_to_its_score_and_into_the_list(
    bench: Page, shared_server: Running
) -> None:
    dialog = begin_blind(bench, 8)
    drawn = ""
    for trial in range(1, 9):
        expect(dialog).to_contain_text(f"Trial {trial} of 8")
        expect(dialog.get_by_role("button", name="X is A")).to_be_enabled()
        expect(dialog).not_to_contain_text("right")
        bench.keyboard.press("x")
        expect(dialog.get_by_role("button", name="X", exact=True)).to_have_attribute("aria-pressed", "true")
        clips = present(bench, shared_server.url)["trial"]["clips"]
        heard = {k: steps(bench.request.get(f"{shared_server.url}{v}").body()) for k, v in clips.items()}
        drawn += truth(heard)
        dialog.get_by_role("button", name=f"X is {drawn[-1]}").click()
    expect(dialog).to_contain_text("8 of 8 right. Guessing does at least that well in 1 of 256 tests.")
    expect(dialog).to_contain_text("it does not stop deliberate cheating")
    assert "".join(dialog.locator("tbody td:nth-child(2)").all_inner_texts()) == drawn
    dialog.get_by_role("button", name="Back to the tests").click()
    dialog.get_by_text("Earlier tests of this commission (1)").click()
    expect(dialog.locator(".blind-list li")).to_contain_text("position 6 against position 1")
    expect(dialog.locator(".blind-list li")).to_contain_text("8 of 8 right, 7 needed: difference heard")


@pytest.mark.long
def test_a_blind_test_goes_on_after_a_reload_and_is_given_up(bench: Page, console: Console) -> None:
    dialog = begin_blind(bench, 20)
    dialog.get_by_role("button", name="X is B").click()
    expect(dialog).to_contain_text("Trial 2 of 20")
    bench.reload()
    bench.get_by_role("button", name="Blind test").click()
    expect(dialog).to_contain_text("A test of 20 trials is under way, 1 answered.")
    dialog.get_by_role("button", name="Continue").click()
    expect(dialog).to_contain_text("Trial 2 of 20")
    bench.route("**/answers/2", lambda route: route.abort())
    console.expected.append("ERR_FAILED")
    expect(dialog.get_by_role("button", name="X is A")).to_be_enabled()
    dialog.get_by_role("button", name="X is A").click()
    expect(dialog.get_by_role("alert")).to_contain_text("no answer")
    bench.unroute("**/answers/2")
    dialog.get_by_role("button", name="Try again").click()
    expect(dialog).to_contain_text("Trial 2 of 20")
    dialog.get_by_role("button", name="Close").click()
    bench.get_by_role("button", name="Blind test").click()
    dialog.get_by_role("button", name="Give up").click()
    expect(dialog.get_by_role("button", name="Start", exact=True)).to_be_visible()
    dialog.get_by_text("Earlier tests").click()
    expect(dialog.locator(".blind-list li")).to_contain_text("given up after 1 of 20 trials")


@pytest.mark.long
def test_the_response_can_be_read_by_keys_and_as_a_table(bench: Page) -> None:
    plot = bench.get_by_role("slider", name="Response, read at a frequency")
    plot.focus()
    bench.keyboard.press("Home")
    expect(plot).to_have_attribute("aria-valuenow", "40")
    bench.keyboard.press("PageUp")
    expect(plot).to_have_attribute("aria-valuenow", "80")
    assert "dB" in str(plot.get_attribute("aria-valuetext"))
    bench.get_by_text("Read the response as a table").click()
    expect(bench.get_by_role("row", name="1.00 kHz")).to_be_visible()


@pytest.mark.long
def test_a_sweep_moves_the_knob_and_puts_it_back(bench: Page) -> None:
    bench.get_by_role("button", name="Play the sweep").nth(1).click()
    until(bench, "Number(document.querySelector('[data-knob=tone]').getAttribute('aria-valuenow')) < 9")
    bench.get_by_role("button", name="Stop the sweep").click()
    expect(knob(bench, "tone")).to_have_attribute("aria-valuenow", "10")


@pytest.mark.long
def test_a_sweeps_range_and_duration_are_set_before_it_plays_and_remembered(
    bench: Page, shared_server: Running
) -> None:
    tone = bench.locator("[data-travel=tone]")
    tone.get_by_role("button", name="10.0 to 0.0 and back, 6.0 s each way").click()
    for label, value in (("from", "4"), ("to", "2"), ("seconds", "0.5")):
        tone.get_by_label(label, exact=True).fill(value)
        tone.get_by_label(label, exact=True).press("Tab")
    tone.get_by_label("to", exact=True).fill("4")
    tone.get_by_label("to", exact=True).press("Enter")
    expect(tone.get_by_role("alert")).to_have_text("from and to are the same: the knob would not move")
    expect(tone.get_by_role("button", name="4.0 to 2.0 and back, 0.5 s each way")).to_be_visible()
    tone.get_by_role("button", name="Play the sweep").click()
    until(bench, "Number(document.querySelector('[data-knob=tone]').getAttribute('aria-valuenow')) <= 4")
    seen: set[float] = set()
    for _ in range(500):
        seen.add(float(knob(bench, "tone").get_attribute("aria-valuenow") or "nan"))
        if len(seen) > 3:
            break
        bench.wait_for_timeout(60)
    assert len(seen) > 3
    assert min(seen) >= 2.0
    assert max(seen) <= 4.0
    tone.get_by_role("button", name="Stop the sweep").click()
    until_saved(bench, shared_server.url, "sweeps")
    bench.reload()
    expect(tone.get_by_role("button", name="4.0 to 2.0 and back, 0.5 s each way")).to_be_visible()


@pytest.mark.long
def test_a_sweep_goes_on_while_one_sound_is_compared_with_another(bench: Page) -> None:
    moving = "Number(document.querySelector('[data-knob=tone]').getAttribute('aria-valuenow')) < 9.5"
    bench.get_by_role("button", name="Keep to compare").click()
    bench.get_by_role("button", name="Play the sweep").nth(1).click()
    until(bench, moving)
    bench.keyboard.press("b")
    expect(bench.get_by_role("button", name="Stop the sweep")).to_be_visible()
    until(bench, moving)
    bench.get_by_role("button", name="Stop the sweep").click()
    for key in ("a", "b"):
        bench.keyboard.press(key)
        expect(knob(bench, "tone")).to_have_attribute("aria-valuenow", "10")


@pytest.mark.long
def test_the_gain_stays_until_another_take_is_chosen(bench: Page) -> None:
    asked_for: list[str] = []

    def note(request: Request) -> None:
        if request.url.endswith("/api/draft/monitor"):
            asked_for.append(json.loads(request.post_data or "{}")["take"])

    bench.on("request", note)
    bench.get_by_role("button", name="Play", exact=True).click()
    until(bench, "Number(document.querySelector('[role=meter]').getAttribute('aria-valuenow')) > -60")
    asked_for.clear()  # it sounds: the take's gain has come
    stop(bench, "3").locator("input").check(force=True)
    knob(bench, "volume").press("Home")
    expect(bench.get_by_role("meter")).to_contain_text("silent")
    expect(bench.get_by_role("meter")).to_have_attribute("aria-valuetext", "silent")
    knob(bench, "volume").press("End")
    expect(bench.get_by_role("meter")).not_to_contain_text("silent")
    open_part(bench, "tone_cap")
    bench.get_by_role("button", name="Tone cap capacitance up").click()
    bench.get_by_role("button", name="Keep to compare").click()
    bench.keyboard.press("b")
    assert asked_for == [], "the gain of the take has been asked for again"
    with bench.expect_response("**/api/draft/monitor"):
        bench.get_by_label("Take", exact=True).select_option("demo:staccato")
    assert asked_for == ["demo:staccato"]


@pytest.mark.long
def test_a_loop_is_set_by_keys_and_remembered(bench: Page, shared_server: Running) -> None:
    bench.get_by_role("slider", name="Loop from").focus()
    bench.keyboard.press("PageUp")
    bench.keyboard.press("ArrowRight")
    expect(bench.get_by_role("slider", name="Loop from")).to_have_attribute("aria-valuenow", "1.10")
    loops = until_saved(bench, shared_server.url, "loops")
    assert [loop[0] for loop in loops.values()] == [1.1]


@pytest.mark.long
def test_an_uploaded_recording_states_what_it_leaves_out(bench: Page) -> None:
    sound = io.BytesIO()
    seconds = np.arange(24_000) / 48_000
    soundfile.write(sound, 0.1 * np.sin(2 * np.pi * 110 * seconds), 48_000, format="WAV")
    bench.get_by_label("Take", exact=True).select_option("+")
    bench.locator("input[type=file]").set_input_files(
        {"name": "riff.wav", "mimeType": "audio/wav", "buffer": sound.getvalue()}
    )
    bench.get_by_role("button", name="Bring it in").click()
    expect(bench.get_by_text("is now a take")).to_be_visible()
    expect(bench.get_by_label("Take", exact=True).locator("option:checked")).to_have_text("riff")
    expect(bench.locator(".take p").first).to_contain_text("a recording; coil places not modelled")


@pytest.mark.long
def test_a_midi_file_is_looked_at_brought_in_and_remembered(
    bench: Page, shared_server: Running, console: Console
) -> None:
    """Five of its notes lie below the baritone's lowest string, B1: three are shown, two are folded."""
    bench.get_by_label("Take", exact=True).select_option("+")
    dialog = bench.get_by_role("dialog")
    console.expected.append("422")
    picker = bench.locator("input[type=file]")
    picker.set_input_files({"name": "riff.mid", "mimeType": "audio/midi", "buffer": b"no notes at all"})
    expect(dialog.locator(".problem")).to_contain_text("no MThd at its start")
    low = midi(melody([47, 33, 54, 33, 59, 33, 33, 33, 47]))
    picker.set_input_files({"name": "riff.mid", "mimeType": "audio/midi", "buffer": low})
    facts = dialog.locator(".midi-facts")
    expect(facts).to_contain_text("4 of 9 notes, 4.3 s.")
    expect(facts).to_contain_text("A hand plays it where it is easiest.")
    expect(facts.locator("li:visible")).to_have_count(3)
    expect(facts.locator("li").first).to_contain_text("bar 1, beat 1.5 (0.2 s): A1. Can be played: B1")
    facts.get_by_text("2 more").click()
    expect(facts.locator("li:visible")).to_have_count(5)
    expect(dialog.locator(".problem")).to_be_empty()
    expect(dialog.get_by_text("What is played")).to_be_hidden()
    bench.get_by_role("button", name="Bring it in").click()
    expect(bench.get_by_text("is now a take")).to_be_visible()
    expect(bench.get_by_label("Take", exact=True).locator("option:checked")).to_have_text("riff")
    expect(bench.locator(".take p").first).to_contain_text("a MIDI file, played by the string model")
    bench.get_by_role("button", name="About this take").click()
    expect(bench.get_by_role("dialog").locator("li")).to_have_count(5)
    bench.keyboard.press("Escape")
    chosen_take = bench.get_by_label("Take", exact=True).input_value()
    until_saved(bench, shared_server.url, "take", chosen_take)
    with bench.expect_response("**/api/stems?*") as stems:  # asked for when the page opens, or at the press
        bench.reload()
        expect(bench.get_by_label("Take", exact=True).locator("option:checked")).to_have_text("riff")
        bench.get_by_role("button", name="Play", exact=True).click()
    assert stems.value.ok


@pytest.mark.long
def test_a_recording_through_a_known_wiring_of_the_bench(bench: Page, shared_server: Running) -> None:
    sound = io.BytesIO()
    seconds = np.arange(24_000) / 48_000
    soundfile.write(sound, 0.1 * np.sin(2 * np.pi * 110 * seconds), 48_000, format="WAV")
    bench.get_by_label("Take", exact=True).select_option("+")
    bench.locator("input[type=file]").set_input_files(
        {"name": "through.wav", "mimeType": "audio/wav", "buffer": sound.getvalue()}
    )
    dialog = bench.get_by_role("dialog")
    dialog.get_by_role("radio", name="a known wiring").check()
    dialog.get_by_label("Position", exact=True).select_option("5")
    dialog.get_by_label("Tone, 0 to 10").fill("6.5")
    with bench.expect_request(lambda request: "/api/takes?" in request.url) as sent:
        bench.get_by_role("button", name="Bring it in").click()
    expect(bench.get_by_text("is now a take")).to_be_visible()
    said = parse_qs(urlsplit(sent.value.url).query)
    assert (said["source"], said["source_position"]) == (["wiring"], ["5"])
    assert json.loads(said["source_knobs"][0]) == {"volume": 10, "tone": 6.5}
    expect(bench.get_by_label("Take", exact=True).locator("option:checked")).to_have_text("through")


@pytest.mark.long
def test_a_file_that_is_not_sound_is_refused_in_words(bench: Page, console: Console) -> None:
    console.expected.append("422")
    bench.get_by_label("Take", exact=True).select_option("+")
    bench.locator("input[type=file]").set_input_files(
        {"name": "riff.wav", "mimeType": "audio/wav", "buffer": b"no sound at all" * 100}
    )
    bench.get_by_role("button", name="Bring it in").click()
    expect(bench.get_by_role("dialog").locator(".problem")).not_to_be_empty()
    expect(bench.get_by_role("button", name="Bring it in")).to_be_enabled()


def until_ready(page: Page, url: str, token: str) -> None:
    """Wait until every clip of a proposal is rendered."""
    for _ in range(1200):
        if asked(page, url, "GET", f"/p/{token}")["ready"] == 1:
            return
        page.wait_for_timeout(200)
    pytest.fail("the clips were not rendered in four minutes")


@pytest.mark.long
def test_a_proposal_shows_its_link_once_and_the_customers_answers_at_once(
    bench: Page, shared_server: Running
) -> None:
    bench.get_by_role("button", name="Propose to the customer").click()
    dialog = bench.get_by_role("dialog")
    dialog.get_by_label("Title the customer sees").fill("Two to choose from")
    for position in ("3", "4", "5", "6"):
        dialog.locator(f"input[aria-label='Name of {position} for the customer']").wait_for()
    for row in dialog.locator(".offered-sound").all()[2:]:
        row.get_by_role("checkbox").uncheck()
    dialog.get_by_role("button", name="Make the link").click()
    link = dialog.get_by_label("Link for the customer").input_value()
    assert link.startswith(f"{shared_server.url}/p/")
    token = link.rpartition("/")[2]
    offer = asked(bench, shared_server.url, "GET", f"/p/{token}")
    assert [item["label"] for item in offer["items"]] == [
        "Neck, both coils in series",
        "Neck and bridge, both humbuckers in parallel",
    ]
    expect(dialog.locator(".proposal").last).to_contain_text("Two to choose from")
    bench.keyboard.press("Escape")
    number = offer["items"][1]["number"]
    body = said(note("<b>warm</b>", number))
    asked(bench, shared_server.url, "POST", f"/p/{token}/operations", body)
    expect(bench.get_by_text("“<b>warm</b>”")).to_be_visible()
    bench.get_by_role("button", name="Propose to the customer").click()
    assert token not in bench.locator("body").inner_html()  # shown once
    expect(dialog.locator(".proposal").last).to_contain_text("<b>warm</b>")
    dialog.get_by_role("button", name="End the link").click()
    expect(dialog.locator(".proposal").last).to_contain_text("revoked")
    dialog.get_by_role("button", name="New link to Two to choose from").click()
    again = dialog.get_by_label("Link for the customer").input_value().rpartition("/")[2]
    assert again != token
    assert bench.request.get(f"{shared_server.url}/api/p/{token}").status in (404, 410)
    expect(dialog.locator(".proposal").last).to_contain_text("open")
    assert asked(bench, shared_server.url, "GET", f"/p/{again}")["title"] == "Two to choose from"
    signed = {"wiring": 1, "name": "A customer", "date": str(datetime.now(UTC).date()), "confirm": True}
    until_ready(bench, shared_server.url, again)
    asked(bench, shared_server.url, "POST", f"/p/{again}/signoff", signed)
    dialog.get_by_role("button", name="Check the record of Two to choose from").click()
    expect(bench.get_by_text("is intact: signature, wirings and clips")).to_be_visible()


SHADED = "document.querySelector('.spectrum').getAttribute('d')"


@pytest.mark.long
def test_the_spectrum_of_what_plays_can_be_hidden_and_rests_with_the_sound(bench: Page) -> None:
    assert bench.evaluate(SHADED) == ""
    bench.get_by_role("button", name="Play", exact=True).click()
    until(bench, SHADED)
    before = bench.evaluate(SHADED)
    until(bench, f"{SHADED} !== {before!r}")
    switch = bench.get_by_role("button", name="Spectrum", exact=True)
    switch.click()
    expect(switch).to_have_attribute("aria-pressed", "false")
    until(bench, f"{SHADED} === ''")
    switch.click()
    until(bench, SHADED)
    bench.get_by_role("button", name="Pause", exact=True).click()
    until(bench, f"{SHADED} === ''")


SINE = """async (hz) => {
  const { createBands } = await import("/web/js/player/spectrum.js");
  const { SPECTRUM_LOOK: LOOK } = await import("/web/js/player/tap.js");
  const context = new OfflineAudioContext(1, 48000, 48000), bins = new Float32Array(LOOK / 2);
  const sine = new OscillatorNode(context, { frequency: hz }), half = new GainNode(context, { gain: 0.5 });
  const analyser = new AnalyserNode(context, { fftSize: LOOK, smoothingTimeConstant: 0 });
  sine.connect(half).connect(analyser).connect(context.destination);
  sine.start();
  context.suspend(0.5).then(() => { analyser.getFloatFrequencyData(bins); return context.resume(); });
  await context.startRendering();
  const { hz: centres, powers } = createBands(48000, [40, 20000]), all = powers(bins);
  const k = all.indexOf(Math.max(...all));
  return [centres[k], 10 * Math.log10(all[k])];
}"""


@pytest.mark.long
def test_the_browsers_analyser_gives_a_sine_its_level_in_its_band(bench: Page) -> None:
    """Check against the browser's own sine: half of full scale is -6.02 dB by definition."""
    for hz in (226.0, 1016.0, 4064.0):
        centre, level = bench.evaluate(SINE, hz)
        assert abs(centre / hz - 1) < 0.06
        assert level == pytest.approx(-6.02, abs=0.25)


@pytest.mark.long
def test_a_peak_is_named_where_the_server_has_the_resonance(bench: Page) -> None:
    peaks = bench.locator(".peaks")
    expect(peaks).to_contain_text("kHz")
    plot = bench.get_by_label("Response, read at a frequency", exact=False)
    plot.focus()
    bench.keyboard.press("p")
    spoken = str(plot.get_attribute("aria-valuetext"))
    named = re.search(r"peak of now: ([\d.]+) kHz, (.\d+\.\d dB)", spoken)
    assert named
    expect(bench.locator(".peak-words").first).to_have_text(f"{named[1]} kHz, {named[2]}")
    expect(bench.locator(".readout")).to_contain_text(f"peak {named[1]} kHz")
    told = bench.locator(".see").get_by_role("status").filter(has_text="resonance")
    served = re.search(r"resonance ([\d.]+) kHz", str(told.text_content()))
    assert served
    assert float(named[1]) == pytest.approx(float(served[1]), rel=0.01)
