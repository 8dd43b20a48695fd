"""The technician's journey on the bench, in a real browser against the real server."""

from __future__ import annotations

import re
from urllib.parse import unquote

import pytest
from bench_page import (
    asked,
    chosen,
    heard_curve,
    knob,
    move_head_seen,
    new_commission,
    open_bench,
    open_part,
    settled_curve,
    stop,
    until_other_curve,
)
from browser_fixtures import Console, until
from hostile import KEPT
from playwright.sync_api import Page, Route, expect
from server_process import Running

pytestmark = pytest.mark.browser


@pytest.fixture
def bench(page: Page, shared_server: Running) -> Page:
    """Open the bench on the test's own commission."""
    return open_bench(page, shared_server.url, new_commission(page, shared_server.url))


def id_of(page: Page) -> str:
    return page.url.rpartition("/")[2]


@pytest.mark.long
def test_a_commission_is_started_renamed_copied_archived_and_brought_back(
    page: Page, shared_server: Running
) -> None:
    page.goto(shared_server.url)
    page.get_by_role("button", name="New commission").click()
    page.get_by_role("textbox", name="Name").fill("Journey of a list")
    page.get_by_role("radio", name="Two humbuckers, three-position").check()
    page.get_by_role("button", name="Start", exact=True).click()
    page.locator(".stop").first.wait_for()
    assert page.locator(".stop").count() == 3
    page.goto(f"{shared_server.url}/#/")
    page.get_by_role("button", name="Rename Journey of a list").click()
    page.get_by_role("textbox", name="Name").fill("Journey, renamed")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("button", name="Copy Journey, renamed").click()
    expect(page.get_by_text("A copy of “Journey, renamed” is in the list.")).to_be_visible()
    page.get_by_label("Search commissions").fill("journey, ren")
    expect(page.locator(".card")).to_have_count(2)
    page.get_by_role("button", name="Archive Journey, renamed").last.click()
    expect(page.locator(".card")).to_have_count(1)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".card")).to_have_count(2)
    page.get_by_role("button", name="Archive Journey, renamed").last.click()
    expect(page.locator(".card")).to_have_count(1)
    page.get_by_role("link", name="Show archived").click()
    page.get_by_role("button", name="Restore Journey, renamed").click()
    expect(page.get_by_text("is back in the list")).to_be_visible()


@pytest.mark.long
def test_a_starter_is_fitted_to_an_instrument_and_a_slip_is_shown_at_its_field(
    page: Page, shared_server: Running, console: Console
) -> None:
    console.expected.append("422")
    page.goto(shared_server.url)
    page.get_by_role("button", name="New commission").click()
    page.get_by_role("textbox", name="Name").fill("Fitted")
    page.get_by_role("radio", name="Two single coils, three-position").check()
    scale = page.get_by_label("Scale length")
    scale.fill("686")
    page.get_by_label("Strings").select_option("baritone")
    page.get_by_label("Neck", exact=True).select_option("narrow_single_hot")
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator("dialog .problem:not(:empty)")).to_have_count(1)
    expect(scale).to_have_attribute("aria-invalid", "true")
    expect(scale).to_be_focused()
    scale.fill("686 mm")
    page.get_by_role("button", name="Start", exact=True).click()
    page.locator(".stop").first.wait_for()
    wiring = asked(page, shared_server.url, "GET", f"/commissions/{id_of(page)}")["wirings"][0]
    text = asked(page, shared_server.url, "GET", f"/versions/{wiring['versions'][0]['id']}")["text"]
    assert "scale: 686 mm" in text
    assert "{note: B1, gauge: 0.062 in, wound: true}" in text
    assert "neck: {kind: coil, like: narrow_single_hot, at: 158 mm" in text


def test_play_by_space_flip_by_arrows_turn_by_keys(bench: Page) -> None:
    bench.keyboard.press("Space")
    move_head_seen(bench)
    stop(bench, "1").locator("input").focus()
    before = heard_curve(bench)
    bench.keyboard.press("ArrowDown")
    assert chosen(bench) == "2"
    until_other_curve(bench, before)
    strip = knob(bench, "tone")
    strip.focus()
    before = heard_curve(bench)
    for key, value in [
        ("Home", "0"),
        ("ArrowRight", "0.1"),
        ("PageUp", "1.1"),
        ("End", "10"),
        ("PageDown", "9"),
    ]:
        bench.keyboard.press(key)
        expect(strip).to_have_attribute("aria-valuenow", value)
    expect(strip).to_have_attribute("aria-valuetext", "Tone 9.0 of 10")
    until_other_curve(bench, before)
    strip.dblclick(position={"x": 30, "y": 30})
    expect(strip).to_have_attribute("aria-valuenow", "10")
    bench.keyboard.press("Space")
    expect(bench.get_by_role("button", name="Play", exact=True)).to_be_visible()


@pytest.mark.long
def test_a_knob_follows_the_pointer_and_the_wheel_only_when_focused(bench: Page) -> None:
    strip = knob(bench, "volume")
    strip.scroll_into_view_if_needed()
    box = strip.bounding_box()
    assert box
    bench.mouse.move(box["x"] + box["width"] / 2, box["y"] + 30)
    bench.mouse.wheel(0, 10)
    expect(strip).to_have_attribute("aria-valuenow", "10")
    bench.mouse.down()
    expect(strip).to_have_attribute("aria-valuenow", "5")
    bench.mouse.move(box["x"] - 200, box["y"] + 300)  # captured: it follows the pointer beyond its own area
    expect(strip).to_have_attribute("aria-valuenow", "0")
    bench.mouse.up()
    strip.hover()
    bench.mouse.wheel(0, -100)
    expect(strip).to_have_attribute("aria-valuenow", "0.1")


def test_a_capacitor_is_stepped_undone_redone_compared_saved_and_remembered(
    bench: Page, shared_server: Running
) -> None:
    knob(bench, "tone").focus()
    bench.keyboard.press("Home")
    open_part(bench, "tone_cap")
    field = bench.get_by_label("Tone cap capacitance", exact=True)
    expect(field).to_have_value("22 nF")
    before = heard_curve(bench)
    bench.get_by_role("button", name="Tone cap capacitance up").click()
    expect(field).to_have_value("27 nF")
    until_other_curve(bench, before)
    edited = heard_curve(bench)
    bench.get_by_role("radio", name="before").check()
    until_other_curve(bench, edited)
    bench.get_by_role("radio", name="after").check()
    bench.keyboard.press("Control+z")
    expect(field).to_have_value("22 nF")
    bench.keyboard.press("Control+Shift+z")
    expect(field).to_have_value("27 nF")
    until(bench, "Object.keys(localStorage).length > 0")
    bench.reload()
    bench.locator(".stop").first.wait_for()
    open_part(bench, "tone_cap")
    expect(bench.get_by_label("Tone cap capacitance", exact=True)).to_have_value("27 nF")
    expect(knob(bench, "tone")).to_have_attribute("aria-valuenow", "0")
    bench.keyboard.press("Control+z")  # undo outlives the reload
    expect(bench.get_by_label("Tone cap capacitance", exact=True)).to_have_value("22 nF")
    bench.keyboard.press("Control+Shift+z")
    bench.keyboard.press("Control+s")
    bench.get_by_role("textbox", name="Note").fill("rounder")
    bench.get_by_role("button", name="Save", exact=True).click()
    expect(bench.get_by_text("Saved as version 2.")).to_be_visible()
    version = asked(bench, shared_server.url, "GET", f"/commissions/{id_of(bench)}")["wirings"][0]["versions"]
    newest = max(version, key=lambda one: int(one["number"]))
    text = asked(bench, shared_server.url, "GET", f"/versions/{newest['id']}")["text"]
    assert newest["note"] == "rounder"
    assert "27 nF" in text
    assert "# the coil nearer the neck" in text


@pytest.mark.long
def test_a_senseless_value_is_refused_at_its_field_and_nothing_changes(bench: Page) -> None:
    open_part(bench, "tone_cap")
    field = bench.get_by_label("Tone cap capacitance", exact=True)
    before = settled_curve(bench)
    field.fill("22 bananas")
    field.press("Enter")
    problem = bench.locator("[data-part='tone_cap'] .problem").first  # the capacitance's: other fields follow
    expect(problem).to_contain_text("22 bananas")
    expect(problem).to_contain_text("470 pF")
    expect(field).to_have_attribute("aria-invalid", "true")
    assert settled_curve(bench) == before
    field.press("Escape")
    expect(field).to_have_value("22 nF")
    expect(problem).to_be_empty()


@pytest.mark.long
def test_a_version_saved_by_somebody_else_is_reported_and_nothing_is_lost(
    bench: Page, shared_server: Running, console: Console
) -> None:
    console.expected.append("409")
    open_part(bench, "tone_cap")
    bench.get_by_role("button", name="Tone cap capacitance up").click()
    wiring = asked(bench, shared_server.url, "GET", f"/commissions/{id_of(bench)}")["wirings"][0]
    base = wiring["versions"][0]["id"]
    other = {"base": base, "edits": [{"path": ["parts", "tone_cap", "capacitance"], "value": "47 nF"}]}
    asked(bench, shared_server.url, "POST", f"/wirings/{wiring['id']}/versions", other)
    bench.get_by_role("button", name="Save as a new version").click()
    bench.get_by_role("button", name="Save", exact=True).click()
    expect(bench.get_by_role("dialog")).to_contain_text("Your edits are safe")
    bench.get_by_role("button", name="Save on top of the newest").click()
    expect(bench.get_by_text("Saved as version 3.")).to_be_visible()
    expect(bench.get_by_label("Tone cap capacitance", exact=True)).to_have_value("27 nF")


@pytest.mark.long
def test_the_page_says_so_while_the_server_is_away_and_keeps_the_edits(
    page: Page, running_server: Running, console: Console
) -> None:
    console.expected += ["ERR_CONNECTION", "WebSocket", "Failed to load resource"]
    open_bench(page, running_server.url, new_commission(page, running_server.url))
    running_server.kill()
    knob(page, "tone").focus()
    page.keyboard.press("PageDown")
    expect(page.get_by_text("Reconnecting… This page keeps your edits")).to_be_visible()
    running_server.start()
    expect(page.get_by_text("Reconnecting… This page keeps your edits")).to_be_hidden()
    expect(knob(page, "tone")).to_have_attribute("aria-valuenow", "9")
    before = heard_curve(page)
    page.keyboard.press("Home")
    until_other_curve(page, before)
    page.reload()
    page.locator(".stop").first.wait_for()
    expect(knob(page, "tone")).to_have_attribute("aria-valuenow", "0")


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=() if name == "script" else pytest.mark.long) for name in KEPT]
)
def test_a_hostile_name_is_only_ever_text(page: Page, shared_server: Running, name: str) -> None:
    commission = new_commission(page, shared_server.url, KEPT[name])
    page.goto(shared_server.url)
    page.locator(f".card a[href='#/c/{commission}'] b").wait_for()
    shown = page.locator(f".card a[href='#/c/{commission}'] b").text_content()
    assert shown == KEPT[name]
    open_bench(page, shared_server.url, commission)
    assert page.locator("h1 b").text_content() == KEPT[name]
    assert page.locator("main img, main script").count() == 0


def test_an_unknown_commission_leads_back_to_the_list(
    page: Page, shared_server: Running, console: Console
) -> None:
    console.expected.append("404")
    page.goto(f"{shared_server.url}/#/c/nowhere")
    page.get_by_role("link", name="To the list").click()
    expect(page.get_by_role("heading", name="Commissions")).to_be_visible()


@pytest.mark.long
def test_a_coil_takes_its_values_from_the_library_in_one_step(bench: Page) -> None:
    part = open_part(bench, "neck_a")
    resistance = bench.get_by_label("Neck a resistance", exact=True)
    before = resistance.input_value(), bench.get_by_label("Neck a inductance", exact=True).input_value()
    part.get_by_label("from the library").select_option(index=1)
    expect(resistance).not_to_have_value(before[0])
    expect(bench.get_by_label("Neck a at", exact=True)).to_have_value("176 mm")  # it stays where it is
    bench.keyboard.press("Control+z")
    expect(resistance).to_have_value(before[0])
    expect(bench.get_by_label("Neck a inductance", exact=True)).to_have_value(before[1])


@pytest.mark.long
def test_a_sketch_is_changed_by_its_expression(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="six_sounds"))
    open_part(page, "selector")
    field = page.get_by_label("Selector 1", exact=True)
    before = heard_curve(page)
    field.fill("neck_a | nack_b")
    field.press("Enter")
    expect(page.locator("[data-part='selector'] .problem").first).to_contain_text("nack_b")
    field.fill("neck_a | neck_b")
    field.press("Enter")
    until_other_curve(page, before)
    expect(stop(page, "1")).to_contain_text("two coils in parallel")


@pytest.mark.long
def test_a_joint_is_refused_at_its_field_changed_added_and_removed(
    bench: Page, shared_server: Running
) -> None:
    open_part(bench, "joints", "around")
    joint = bench.get_by_label("Joint 7", exact=True)
    expect(joint).to_have_value("volume.2, output.tip")
    joint.fill("volume.2, output.tap")
    joint.press("Enter")
    problem = bench.locator("[data-around='joints'] .problem:not(:empty)")
    expect(problem).to_contain_text("output.tip")
    before = heard_curve(bench)
    joint.fill("neck_a.finish, output.tip")  # past the upper coil and the volume control
    joint.press("Enter")
    expect(problem).to_have_count(0)
    until_other_curve(bench, before)
    new = bench.get_by_label("New joint", exact=True)
    new.fill("tone.2, output.tip")
    new.press("Enter")
    expect(bench.get_by_label("Joint 9", exact=True)).to_be_focused()
    bench.get_by_role("button", name="Remove joint 6").click()  # the tone capacitor hangs
    expect(bench.get_by_label("Joint 8", exact=True)).to_have_value("tone.2, output.tip")
    expect(bench.get_by_label("Joint 9", exact=True)).to_have_count(0)
    bench.keyboard.press("Control+s")
    expect(bench.get_by_role("dialog")).to_contain_text("joint 6 taken out")
    bench.get_by_role("button", name="Save", exact=True).click()
    expect(bench.get_by_text("Saved as version 2.")).to_be_visible()
    text = newest_text(bench, shared_server.url)
    assert "tone_cap.a" not in text
    assert "  # ground\n" in text
    assert "  - [tone.2, output.tip]\nlabels:" in text


def newest_text(page: Page, url: str) -> str:
    """Return the text of the newest version."""
    versions = asked(page, url, "GET", f"/commissions/{id_of(page)}")["wirings"][0]["versions"]
    newest = max(versions, key=lambda one: int(one["number"]))
    return str(asked(page, url, "GET", f"/versions/{newest['id']}")["text"])


@pytest.mark.long
def test_strings_scale_labels_and_couplings_are_changed_with_undo(
    bench: Page, shared_server: Running
) -> None:
    open_part(bench, "instrument", "around")
    gauge = bench.get_by_label("String 6 gauge", exact=True)
    gauge.press("ArrowUp")
    expect(gauge).to_have_value("0.015 in")
    bench.get_by_label("String 6 note", exact=True).press("ArrowDown")
    expect(bench.get_by_label("String 6 note", exact=True)).to_have_value("A#3")
    bench.get_by_role("button", name="Add a string").click()
    added = bench.get_by_label("String 7 note", exact=True)
    expect(added).to_be_focused()
    added.fill("E4")
    added.press("Enter")
    bench.get_by_label("String 7 wound", exact=True).select_option("wound")
    expect(bench.locator("[data-around='instrument'] summary")).to_contain_text("686 mm, 7 strings")
    bench.get_by_role("button", name="Remove string 1").click()
    expect(bench.get_by_label("String 6 note", exact=True)).to_have_value("E4")
    bench.get_by_role("button", name="Undo", exact=True).last.click()
    expect(bench.get_by_label("String 1 note", exact=True)).to_have_value("B1")
    bench.get_by_role("button", name="Instrument scale up").click()
    expect(bench.get_by_label("Instrument scale", exact=True)).to_have_value("687 mm")
    open_part(bench, "labels", "around")
    label = bench.get_by_label("Label of position 6", exact=True)
    label.fill("Bridge: one coil # thin")
    label.press("Enter")
    expect(stop(bench, "6")).to_contain_text("Bridge: one coil # thin")
    other = bench.get_by_label("Label of position 5", exact=True)
    other.fill("")
    other.press("Enter")
    expect(stop(bench, "5")).not_to_contain_text("Bridge, both coils in series")
    open_part(bench, "couplings", "around")
    coefficient = bench.get_by_label("Coupling 2 coefficient", exact=True)
    coefficient.fill("1.5")
    coefficient.press("Enter")
    expect(bench.locator("[data-around='couplings'] .problem:not(:empty)")).to_contain_text("1.5")
    coefficient.press("Escape")
    coefficient.press("ArrowDown")
    expect(coefficient).to_have_value("0.15")
    bench.keyboard.press("Control+s")
    bench.get_by_role("button", name="Save", exact=True).click()
    expect(bench.get_by_text("Saved as version 2.")).to_be_visible()
    text = newest_text(bench, shared_server.url)
    assert "    - {note: E4, gauge: 0.015 in, wound: true}\nparts:" in text
    assert '6: "Bridge: one coil # thin"' in text
    assert "5: Bridge" not in text
    assert "coefficient: 0.15" in text
    assert "# lowest first" in text


@pytest.mark.long
def test_contacts_of_a_switch_are_changed_position_by_position(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="twelve"))
    open_part(page, "selector")
    field = page.get_by_label("Selector 1", exact=True)
    before = heard_curve(page)
    field.fill("[C, B]")
    field.press("Enter")
    until_other_curve(page, before)
    page.get_by_role("button", name="Remove selector position 3").click()
    expect(page.locator(".stop")).to_have_count(2)  # its label went along
    new = page.get_by_label("New position of selector", exact=True)
    new.fill("[N, X]")
    new.press("Enter")
    expect(page.locator("[data-part='selector'] .problem:not(:empty)")).to_contain_text("X")
    new.fill("[N, B]")
    new.press("Enter")
    expect(page.locator(".stop")).to_have_count(3)


@pytest.mark.long
def test_the_wiring_opens_while_the_takes_are_held_up(page: Page, shared_server: Running) -> None:
    """No request for takes is answered, and all but the sound is there; then the sound comes too."""
    url = shared_server.url
    commission = new_commission(page, url)
    listings: list[Route] = []
    examinations: list[Route] = []
    page.route(re.compile(r"/api/takes$"), lambda route: listings.append(route))
    page.route(re.compile(r"/api/takes/"), lambda route: examinations.append(route))
    open_bench(page, url, commission)
    expect(page.locator(".stop")).to_have_count(6)
    expect(page.get_by_label("Take", exact=True)).to_contain_text("Listing the takes")
    assert listings
    assert not examinations
    knob(page, "tone").focus()
    before = heard_curve(page)
    page.keyboard.press("Home")
    until_other_curve(page, before)
    for route in listings:  # tests before this one may have had takes examined
        rows = route.fetch().json()
        route.fulfill(json=[{**row, "state": "waiting", "seconds": None} for row in rows])
    expect(page.get_by_label("Take", exact=True)).not_to_contain_text("Listing")
    expect(page.locator(".take p").first).to_contain_text("being examined")
    page.keyboard.press("Space")
    move_head_seen(page)  # nothing has been examined, and the take plays
    assert len(examinations) == 1
    chosen_take = page.get_by_label("Take", exact=True).input_value()
    assert unquote(examinations[0].request.url).endswith(f"/{chosen_take}")
    page.unroute(re.compile(r"/api/takes/"))
    for route in examinations:
        route.continue_()
    expect(page.locator(".take p").first).not_to_contain_text("being examined")
