"""A wiring is built on the bench: parts from the tray, joints by choice, names, undo, the file."""

from __future__ import annotations

from typing import Any

import pytest
from bench_page import new_commission, open_bench, open_part, settled_curve, until_other_curve
from browser_fixtures import Console, until
from page_axe import find_violations
from playwright.sync_api import Page, expect
from server_process import Running

pytestmark = pytest.mark.browser


@pytest.fixture
def blank(page: Page, shared_server: Running) -> Page:
    """Open the bench of a blank wiring."""
    return open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="blank"))


def add(page: Page, title: str) -> None:
    """Add a part from the tray, and wait until it is there."""
    if not page.locator("#parts").is_visible():
        page.get_by_role("button", name="Parts", exact=True).click()
    tray = page.locator(".adding")
    if tray.get_attribute("open") is None:
        tray.locator("summary").click()
    before = page.locator("[data-part]").count()
    page.locator(".tray").get_by_role("button", name=title, exact=True).click()
    until(page, f"document.querySelectorAll('[data-part]').length > {before}")


def joints_of(page: Page) -> list[set[str]]:
    rows: list[list[str]] = page.evaluate(
        "[...document.querySelectorAll('.joint')].map((row) =>"
        " [...row.querySelectorAll('.end')].map((end) => end.innerText))"
    )
    return [set(row) for row in rows]


def solder_new(page: Page, first: str, second: str) -> None:
    page.get_by_label("New joint: first terminal").select_option(first)
    page.get_by_label("New joint: second terminal").select_option(second)
    page.locator(".fresh").get_by_role("button", name="Solder").click()
    until(page, _joined(first, second))


def solder_to(page: Page, joint: int, end: str) -> None:
    row = page.locator(".joint").nth(joint)
    row.locator("select").select_option(end)
    row.get_by_role("button", name="chosen one").click()
    until(page, f"[...document.querySelectorAll('.end')].some((one) => one.innerText === {end!r})")


def _joined(first: str, second: str) -> str:
    return (
        "[...document.querySelectorAll('.joint')].some((row) => "
        f"[{first!r}, {second!r}].every((end) => [...row.querySelectorAll('.end')]"
        ".some((one) => one.innerText === end)))"
    )


def test_a_part_is_added_soldered_and_undone_by_one_key_each(blank: Page) -> None:
    page = blank
    page.get_by_role("button", name="Parts", exact=True).click()
    before = settled_curve(page)
    add(page, "Capacitor")
    cap = page.locator("[data-part='tone_cap']")
    expect(cap).to_have_attribute("open", "")
    until(page, "document.activeElement.closest('[data-part]')?.dataset.part === 'tone_cap'")
    expect(cap).to_contain_text("a loose · b loose")
    expect(page.locator(".toasts")).to_contain_text("Added tone_cap, a capacitor of 22 nF")
    open_part(page, "soldering", "around")
    solder_to(page, 0, "tone_cap.a")
    solder_to(page, 1, "tone_cap.b")
    until_other_curve(page, before)
    assert joints_of(page) == [
        {"coil.start", "output.tip", "tone_cap.a"},
        {"coil.finish", "output.sleeve", "tone_cap.b"},
    ]
    page.get_by_role("button", name="Take tone_cap.a off joint 1").click()
    until(page, "document.querySelectorAll('.end').length === 5")
    expect(page.get_by_role("button", name="Undo", exact=True).first).to_have_attribute(
        "title", "Undo Unsoldered tone_cap.a (Ctrl+Z)"
    )
    page.get_by_role("button", name="Take coil.start off joint 1").focus()
    for left in (6, 5, 4, 4):
        page.keyboard.press("Control+z")
        until(page, f"document.querySelectorAll('.end').length === {left}")
    expect(cap).to_have_count(0)
    expect(page.get_by_role("status").filter(has_text="undone")).to_contain_text("undone: Added tone_cap")
    until(page, f"document.querySelector('.curve.heard').getAttribute('d') === {before!r}")


@pytest.mark.long
def test_a_removed_jack_is_missing_and_comes_back(blank: Page) -> None:
    page = blank
    open_part(page, "output").get_by_role("button", name="Remove").click()
    expect(page.get_by_text("Not finished: a jack to add.")).to_be_visible()
    expect(page.locator(".findings")).to_contain_text("Still missing: a jack")
    expect(page.locator(".transport")).to_contain_text("What sounded before plays on")
    add(page, "Pot")
    expect(page.locator("[data-part='volume']")).to_be_visible()
    add(page, "Jack")
    expect(page.get_by_text("Not finished")).to_have_count(0)
    open_part(page, "soldering", "around")
    solder_new(page, "coil.start", "output.tip")
    solder_new(page, "coil.finish", "output.sleeve")
    expect(page.locator(".transport")).not_to_contain_text("Still missing")


LATE_ANSWERS = """
window.held = [];
const Plain = WebSocket;
window.WebSocket = class extends Plain {
  set onmessage(heard) { super.onmessage = (event) => window.held.push(() => heard(event)); }
};
"""
"""A script for the start of a page: answers of the live connection wait until they are let go."""


@pytest.mark.long
def test_a_late_answer_leaves_the_reason_for_silence(page: Page, shared_server: Running) -> None:
    page.add_init_script(LATE_ANSWERS)
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="blank"))
    until(page, "window.held.length > 0")
    open_part(page, "output").get_by_role("button", name="Remove").click()
    expect(page.locator(".transport")).to_contain_text("Still missing: a jack")
    page.evaluate("window.held.forEach((let_go) => let_go())")
    page.wait_for_timeout(300)
    expect(page.locator(".transport")).to_contain_text("Still missing: a jack")


@pytest.mark.long
def test_a_part_is_renamed_swapped_and_replaced(page: Page, shared_server: Running, console: Console) -> None:
    console.expected.append("422 (Unprocessable")  # the name that is taken
    url = shared_server.url
    open_bench(page, url, new_commission(page, url, starter="two_humbuckers"))
    tone = open_part(page, "tone")
    tone.get_by_role("button", name="Rename").first.click()
    tone.get_by_label("New name").fill("volume")
    page.keyboard.press("Enter")
    expect(tone.get_by_role("alert").filter(has_text="another part")).to_be_visible()
    tone.get_by_label("New name").fill("treble")
    page.keyboard.press("Enter")
    treble = page.locator("[data-part='treble']")
    expect(treble).to_have_attribute("open", "")
    expect(page.locator("[data-knob='treble']")).to_be_visible()
    expect(page.locator("[data-part='split']").get_by_label("Split ganged")).to_have_value("treble")
    neck = open_part(page, "neck_a")
    expect(neck).to_contain_text("start in joint 1 · finish in joint 4")
    neck.get_by_role("button", name="Swap leads").click()
    expect(neck).to_contain_text("start in joint 4 · finish in joint 1")
    selector = open_part(page, "selector")
    selector.get_by_label("another switch").select_option("rotary_6_two_pole")
    expect(page.locator(".stop")).to_have_count(6)
    expect(page.locator(".toasts")).to_contain_text("selector is a rotary 6 two pole now")
    selector.get_by_label("another switch").select_option("toggle_on_on")
    expect(page.locator(".toasts")).to_contain_text("no label for position 3 any more")
    expect(page.locator(".stop")).to_have_count(2)


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_tray_and_joints_pass_the_accessibility_check(blank: Page, scheme: Any) -> None:
    page = blank
    page.emulate_media(color_scheme=scheme)
    add(page, "Two-coil pickup")
    open_part(page, "soldering", "around")
    page.locator("[data-part='bridge_a']").get_by_role("button", name="Rename").first.click()
    assert find_violations(page, mild=True) == []
