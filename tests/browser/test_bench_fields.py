"""The fields of the parts: their words, typing while answers are slow, and the library's values."""

from __future__ import annotations

import pytest
from bench_page import asked, chosen, knob, new_commission, open_bench, open_part, stop
from browser_fixtures import until
from places import DEMO
from playwright.sync_api import Locator, Page, expect
from server_process import Running

from dsp.parts.fields import STRING_FIELDS
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY

pytestmark = pytest.mark.browser

MEDIUM = LIBRARY["double_medium_coil"].fields["resistance"]
SLOW_CHECKS = """
const plain = window.fetch, waits = [900, 150, 600, 50];
window.answered = 0;
window.fetch = async (address, options) => {
  const slow = String(address).includes("/draft/check") && window.slow;
  if (slow) await new Promise((done) => setTimeout(done, waits[window.answered++ % waits.length]));
  return plain(address, options);
};
"""
"""Answers take up to 0.9 s, earlier ones longer than later ones."""


@pytest.fixture
def slow_bench(page: Page, shared_server: Running) -> Page:
    """The bench whose answers about a draft are slow, once it is open."""
    page.add_init_script(SLOW_CHECKS)
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    page.evaluate("window.slow = true")
    return page


def type_over(page: Page, text: str) -> None:
    """Replace the text of the focused field key by key, as a fast typist does."""
    page.keyboard.press("Control+a")
    page.keyboard.type(text, delay=12)


def input_of(page: Page, label: str) -> Locator:
    return page.get_by_label(label, exact=True)


@pytest.mark.parametrize("starter", ["baritone", "two_humbuckers"])
@pytest.mark.long
def test_every_option_of_every_list_shows_its_own_word(
    page: Page, shared_server: Running, starter: str
) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter=starter))
    open_part(page, "volume")
    tables = [field for kind in KINDS.values() for field in kind.fields] + list(STRING_FIELDS)
    expected = {field.name: field.choices for field in tables if field.choices}
    words = {
        "wound": {"true": "wound", "false": "plain"},
        "no_load": {"true": "yes: open at 10", "false": "no"},
        "part": {"": "its own shaft"},
    }
    lists = page.evaluate(
        "[...document.querySelectorAll('#parts select[data-path]')].map(({ dataset, options }) =>"
        " [dataset.path.split('/').at(-1), [...options].map(({ value, text }) => [value, text])])"
    )
    elsewhere = {"of", *(() if starter == "baritone" else ("function",))}  # no metal; a switch as a table
    assert {name for name, _ in lists} == (set(expected) - elsewhere) | {"part"}
    assert len(lists) > 8
    for name, options in lists:
        assert {value for value, _ in options} >= set(expected.get(name, ("",)))
        own = words.get(name, {"": "not given"})
        for value, text in options:
            assert text == own.get(value, value), f"{name}: {options}"


@pytest.mark.long
def test_labels_typed_one_after_another_keep_their_texts(slow_bench: Page) -> None:
    page = slow_bench
    open_part(page, "labels", "around")
    texts = [f"Position number {k}, both coils in parallel" for k in range(1, 7)]
    input_of(page, "Label of position 1").focus()
    for text in texts:
        type_over(page, text)
        page.keyboard.press("Tab")
    for k, text in enumerate(texts, 1):
        expect(stop(page, str(k))).to_contain_text(text)
        expect(input_of(page, f"Label of position {k}")).to_have_value(text)
    until(page, "document.querySelectorAll('#parts [aria-busy=true]').length === 0")
    for k, text in enumerate(texts, 1):
        expect(input_of(page, f"Label of position {k}")).to_have_value(text)


@pytest.mark.long
def test_a_field_that_is_typed_in_outlives_the_answer_to_another(slow_bench: Page) -> None:
    """A new joint changes the list; the joint typed in meanwhile keeps its element and its text."""
    page = slow_bench
    open_part(page, "joints", "around")
    new = input_of(page, "New joint")
    new.focus()
    type_over(page, "tone.2, output.tip")
    page.keyboard.press("Enter")
    seventh = input_of(page, "Joint 7")
    seventh.focus()
    seventh.evaluate("field => { field.marked = true; }")
    type_over(page, "neck_a.fin")
    until(page, "window.answered >= 2")
    page.wait_for_timeout(1500)  # the answers to the first edit have come by now
    page.keyboard.type("ish, output.tip", delay=12)
    assert page.evaluate("document.activeElement.marked === true")
    expect(seventh).to_have_value("neck_a.finish, output.tip")
    page.keyboard.press("Enter")
    expect(input_of(page, "Joint 9")).to_have_value("tone.2, output.tip")
    expect(input_of(page, "Joint 7")).to_have_value("neck_a.finish, output.tip")


@pytest.mark.long
def test_values_and_new_joints_typed_one_after_another_are_all_there(slow_bench: Page) -> None:
    page = slow_bench
    open_part(page, "neck_a")
    values = {"resistance": "4.3 kΩ", "inductance": "2.2 H", "capacitance": "61 pF", "at": "175 mm"}
    for name, text in values.items():
        input_of(page, f"Neck a {name}").focus()
        type_over(page, text)
        page.keyboard.press("Enter")
    open_part(page, "joints", "around")
    input_of(page, "New joint").focus()
    joints = ["tone.2, output.tip", "neck_a.finish, output.tip"]
    for text in joints:
        type_over(page, text)
        page.keyboard.press("Enter")
    page.keyboard.press("Tab")  # leaving the field does not add its text once more
    for k, text in enumerate(joints, 9):
        expect(input_of(page, f"Joint {k}")).to_have_value(text)
    for name, text in values.items():
        expect(input_of(page, f"Neck a {name}")).to_have_value(text)
    expect(page.get_by_text("6 edits, not saved")).to_be_visible()
    expect(input_of(page, "Joint 11")).to_have_count(0)


@pytest.mark.long
def test_a_refused_text_stays_with_its_reason_while_others_are_edited(slow_bench: Page) -> None:
    page = slow_bench
    open_part(page, "neck_a")
    resistance = input_of(page, "Neck a resistance")
    resistance.focus()
    type_over(page, "lots")
    page.keyboard.press("Tab")
    input_of(page, "Neck a inductance").focus()
    type_over(page, "2.2 H")
    page.keyboard.press("Enter")
    expect(page.locator("[data-part='neck_a'] .value.edited")).to_have_count(1)
    expect(resistance).to_have_value("lots")
    expect(page.locator("[data-part='neck_a'] .problem:not(:empty)")).to_contain_text("lots")


@pytest.mark.long
def test_a_number_alone_takes_the_unit_of_its_field_and_says_so(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    part = open_part(page, "neck_a")
    place = input_of(page, "Neck a at")
    place.fill("144")
    place.press("Enter")
    expect(place).to_have_value("144 mm")
    expect(part.locator(".note:not(:empty)")).to_have_text(
        "A number alone takes the unit of this field: 144 mm."
    )


@pytest.mark.long
def test_the_library_s_values_are_shown_as_such(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="two_humbuckers"))
    part = open_part(page, "neck_a")
    resistance = input_of(page, "Neck a resistance")
    field = part.locator(".value", has=resistance)
    expect(part.locator(".like")).to_contain_text("From the library:")
    expect(resistance).to_have_value("")
    expect(resistance).to_have_attribute("placeholder", str(MEDIUM))
    expect(field.locator(".origin")).to_have_text("library")
    expect(part.locator("summary")).to_contain_text("coil")
    entry = part.get_by_label("from the library")
    expect(entry).not_to_have_value("")
    resistance.press("ArrowUp")
    expect(resistance).to_have_value("4.7 kΩ")
    expect(field.locator(".origin")).to_be_empty()
    resistance.fill("")
    resistance.press("Enter")
    expect(field.locator(".origin")).to_have_text("library")
    before = entry.input_value()
    other = "double_hot_coil"
    assert before != other
    entry.select_option(other)
    expect(part.locator(".like")).to_contain_text("double hot coil")
    expect(resistance).not_to_have_attribute("placeholder", str(MEDIUM))
    page.keyboard.press("Control+z")
    expect(entry).to_have_value(before)


@pytest.mark.long
def test_a_load_of_the_library_shows_its_values_and_its_name(page: Page, shared_server: Running) -> None:
    text = (DEMO / "twelve.yaml").read_text(encoding="utf-8").split("\nload:")[0]
    body = {"title": "Cable", "wiring_text": f"{text}\nload: {{like: cable_3m}}\n"}
    made = asked(page, shared_server.url, "POST", "/commissions", body)["id"]
    open_bench(page, shared_server.url, made)
    part = open_part(page, "cable")
    length = input_of(page, "Cable length")
    expect(part.locator(".like")).to_contain_text("From the library: cable 3m.")
    expect(length).to_have_attribute("placeholder", "3 m")
    expect(part.locator(".value", has=length).locator(".origin")).to_have_text("library")
    entry = part.get_by_label("from the library")
    expect(entry).to_have_value("cable_3m")
    entry.select_option("cable_10m")
    expect(length).to_have_attribute("placeholder", "10 m")
    length.fill("4")
    length.press("Enter")
    expect(length).to_have_value("4 m")
    expect(input_of(page, "Cable capacitance")).to_have_value("100 pF/m")
    entry.select_option("sweep_load")
    expect(length).to_have_value("0 m")


@pytest.mark.long
def test_positions_of_a_sketch_are_reordered_by_keys_and_buttons(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="six_sounds"))
    names = page.locator(".stop b")
    before = names.all_inner_texts()
    stop(page, "1").locator("input").focus()
    page.keyboard.press("Alt+ArrowDown")
    expect(names).to_have_text([before[1], before[0], *before[2:]])
    assert chosen(page) == "2", "the sound that plays goes on playing"
    expect(stop(page, "2").locator("input")).to_be_focused()
    part = open_part(page, "selector")
    button = part.get_by_role("button", name="Move position 3 up")
    button.click()
    expect(names).to_have_text([before[1], before[2], before[0], *before[3:]])
    expect(part.get_by_role("button", name="Move position 2 up")).to_be_focused()
    assert chosen(page) == "3"
    expect(part.get_by_role("button", name="Move position 1 up")).to_have_attribute("aria-disabled", "true")
    page.get_by_role("button", name="Undo", exact=True).first.click()
    expect(names).to_have_text([before[1], before[0], *before[2:]])
    page.get_by_role("button", name="Undo", exact=True).first.click()
    expect(names).to_have_text(before)


@pytest.mark.long
def test_every_edit_has_a_name_in_words(page: Page, shared_server: Running) -> None:
    """In the chips, undone and done again, in the blind test, when saved, and among the versions."""
    open_bench(page, shared_server.url, new_commission(page, shared_server.url, starter="six_sounds"))
    chips, state = page.locator(".chip"), page.locator(".top .heard")
    undo = page.get_by_role("button", name="Undo", exact=True).first
    stop(page, "1").locator("input").focus()
    page.keyboard.press("Alt+ArrowDown")
    expect(chips).to_have_text("now 2, the sounds in another order")
    page.get_by_role("button", name="Keep to compare").click()
    open_part(page, "tone_cap")
    capacitance = input_of(page, "Tone cap capacitance")
    capacitance.fill("1 nF")
    capacitance.press("Enter")
    expect(chips.first).to_have_text("A 2, tone capacitor 1 nF")
    expect(chips.last).to_have_text("B 2")
    expect(undo).to_have_attribute("title", "Undo tone capacitor 1 nF (Ctrl+Z)")
    undo.click()
    expect(state).to_have_text("edited · undone: tone capacitor 1 nF")
    page.get_by_role("button", name="Redo", exact=True).first.click()
    expect(state).to_have_text("edited · redone: tone capacitor 1 nF")
    page.get_by_role("button", name="Blind test").click()
    dialog = page.get_by_role("dialog")
    first = dialog.get_by_label("First sound")
    expect(first.locator("option").first).to_have_text("A position 2, tone capacitor 1 nF")
    page.keyboard.press("Escape")
    page.keyboard.press("Control+s")
    expect(dialog.locator("li")).to_have_text(["the sounds in another order", "tone capacitor 1 nF"])
    dialog.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".versions .changes")).to_have_text(
        ["tone capacitor 1 nF, the sounds in another order"]
    )
    page.get_by_role("button", name="See what version 2 changed").click()
    drawn = page.get_by_role("dialog", name="What version 2 changed")
    whole, neck = "neck_a + neck_b + bridge_a + bridge_b", "neck_a + neck_b"
    swapped = [f"position 1: {one}, position 2: {two}" for one, two in ((whole, neck), (neck, whole))]
    expect(drawn.locator("li")).to_have_text(
        [
            "tone_cap: capacitor, 22 nF; now capacitor, 1 nF.",
            f"selector: sketch, {swapped[0]}; now sketch, {swapped[1]}.",
        ]
    )
    picture = drawn.get_by_role("img", name="Drawing of version 2")
    assert picture.evaluate("(image) => image.decode().then(() => image.naturalWidth)") > 100
    page.keyboard.press("Escape")
    expect(drawn).to_have_count(0)
    assert not set("{}[]") & set(page.locator("main").inner_text())


@pytest.mark.long
def test_digits_flip_the_selector_and_letters_the_kept_sounds(page: Page, shared_server: Running) -> None:
    open_bench(page, shared_server.url, new_commission(page, shared_server.url))
    knob(page, "tone").focus()
    page.keyboard.press("4")
    assert chosen(page) == "4"
    page.keyboard.press("9")  # there is none
    assert chosen(page) == "4"
    page.get_by_role("button", name="Keep to compare").click()
    page.keyboard.press("2")
    page.keyboard.press("b")
    assert chosen(page) == "4"
    page.keyboard.press("a")
    assert chosen(page) == "2"
