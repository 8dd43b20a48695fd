"""The surroundings of a draft's parts as the page edits them: stable numbers, added items."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from places import DEMO

from dsp.documents.field import Field
from dsp.parts.fields import COUPLING_FIELDS, STRING_FIELDS
from dsp.parts.load import Load
from dsp.wiring.reading.wiring import read_wiring
from server.bench.fields import steps_of
from server.bench.parts import parts_json
from server.bench.surroundings import item_indexes
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText

Edits = list[tuple[tuple[str, ...], str | None]]


def checked(name: str, edits: Edits) -> dict[str, Any]:
    """Check a demo wiring with edits."""
    text = WiringText((DEMO / f"{name}.yaml").read_text("utf-8"), "w")
    text.change(edits)
    tree = parse_tree(text.dump(), "w")
    return parts_json(tree, read_wiring(tree, "w"), [], edits)


def section(found: dict[str, Any], name: str) -> dict[str, Any]:
    return next(one for one in found["around"] if one["name"] == name)


def edit(path: list[str], value: str | None) -> tuple[tuple[str, ...], str | None]:
    return tuple(path), value


@pytest.mark.parametrize("name", ["baritone", "twelve", "baritone_sketch"])
def test_every_addition_that_a_list_offers_gives_a_wiring(name: str) -> None:
    offered = {"instrument": None, "couplings": None, "joints": "[volume.1, output.sleeve]"}
    for what, value in offered.items():
        [one] = section(checked(name, []), what)["lists"]
        add = edit(one["add"]["path"], value or one["add"]["value"])
        [after] = section(checked(name, [add]), what)["lists"]
        assert len(after["items"]) == len(one["items"]) + 1
        assert after["items"][-1]["remove"] == [one["add"]["path"]]
        assert after["add"]["path"] != one["add"]["path"]
        gone = edit(after["items"][-1]["remove"][0], None)
        [again] = section(checked(name, [add, gone]), what)["lists"]
        assert len(again["items"]) == len(one["items"])


def test_jacks_are_made_and_the_output_is_chosen_on_the_page() -> None:
    ring = edit(["parts", "output", "lugs"], "[ring, rest]")
    contacts = edit(["parts", "output", "contacts"], "{out: [[tip, rest]], in: []}")
    found = checked("baritone", [ring, contacts])
    [jack] = [part for part in found["parts"] if part["name"] == "output"]
    assert [(one["name"], one["value"], one["brackets"]) for one in jack["fields"]] == [
        ("lugs", "ring, rest", True),
        ("contacts", "{out: [[tip, rest]], in: []}", False),
    ]
    assert {"name": "output", "positions": ["mono", "stereo"], "jack": True} in found["switches"]
    [output] = section(found, "output")["fields"]
    assert (output["choices"], output["value"]) == (["output.tip", "output.ring"], "")
    chosen = checked("baritone", [ring, edit(output["path"], "output.ring")])
    assert section(chosen, "output")["fields"][0]["value"] == "output.ring"
    plain = checked("baritone", [])
    assert not any(one["name"] == "output" for one in [*plain["around"], *plain["switches"]])
    [bare] = [part for part in plain["parts"] if part["name"] == "output"]
    assert [one["brackets"] for one in bare["fields"]] == [True, False]


def test_a_piece_of_metal_is_edited_on_the_page() -> None:
    made = edit(["parts", "cover"], "{kind: metal, of: cover}")
    on = edit(["parts", "cover", "on"], "[neck_a, neck_b]")
    [cover] = [part for part in checked("baritone", [made, on])["parts"] if part["name"] == "cover"]
    of, belongs = cover["fields"]
    assert (of["value"], of["required"], "strings" in of["choices"]) == ("cover", True, True)
    assert (belongs["value"], belongs["brackets"]) == ("neck_a, neck_b", True)


def test_an_item_keeps_its_number_of_the_version_after_others_are_removed() -> None:
    edits: Edits = [(("joints", "0"), None), (("joints", "3"), None), (("joints", "8"), "[tone.2, volume.3]")]
    [joints] = section(checked("baritone", edits), "joints")["lists"]
    assert [item["remove"][0][1] for item in joints["items"]] == ["1", "2", "4", "5", "6", "7", "8"]
    assert joints["add"]["path"] == ["joints", "9"]
    assert joints["items"][-1]["fields"][0]["value"] == "tone.2, volume.3"
    change = edit(joints["items"][3]["fields"][0]["path"], "[tone.1, tone_cap.b]")
    [after] = section(checked("baritone", [*edits, change]), "joints")["lists"]
    values = [item["fields"][0]["value"] for item in after["items"]]
    assert values[3] == "tone.1, tone_cap.b"
    assert values[:3] == [item["fields"][0]["value"] for item in joints["items"]][:3]


def test_numbers_go_on_after_every_new_item_is_removed() -> None:
    assert item_indexes(("joints",), 2, []) == ([0, 1], 2)
    assert item_indexes(("joints",), 1, [(("joints", "0"), None)]) == ([1], 2)
    assert item_indexes(("joints",), 2, [(("joints", "2"), None)]) == ([0, 1], 3)
    assert item_indexes(("a", "b"), 0, [(("a", "b", "x"), None), (("a", "c", "7"), "1")]) == ([], 0)


def test_a_position_takes_its_label_with_it() -> None:
    found = checked("twelve", [])
    selector = next(part for part in found["parts"] if part["name"] == "selector")
    [positions] = selector["lists"]
    gone = [edit(path, None) for path in positions["items"][2]["remove"]]
    assert (("labels", "3"), None) in gone
    assert [one["position"] for one in checked("twelve", gone)["positions"]] == ["1", "2"]
    assert positions["add"]["path"] == ["parts", "selector", "contacts", "4"]
    phase = next(part for part in found["parts"] if part["name"] == "phase")
    assert phase["lists"] == []  # a shorthand has no table


def test_labels_can_be_given_to_every_position_and_taken_from_those_that_have_one() -> None:
    found = checked("baritone", [(("labels", "3"), None)])
    labels = section(found, "labels")["fields"]
    assert [label["name"] for label in labels] == ["1", "2", "3", "4", "5", "6"]
    assert (labels[2]["value"], labels[2]["remove"]) == ("", [])
    assert labels[0]["remove"] == [["labels", "1"]]


def field(table: tuple[Field, ...], name: str) -> Field:
    return next(one for one in table if one.name == name)


@pytest.mark.parametrize(
    ("table", "name", "value", "down", "up"),
    [
        (STRING_FIELDS, "note", "C4", "B3", "C#4"),
        (STRING_FIELDS, "note", "Bb2", "A2", "B2"),
        (STRING_FIELDS, "note", "C0", None, "C#0"),
        (STRING_FIELDS, "note", "B8", "A#8", None),
        (STRING_FIELDS, "gauge", "0.046 in", "0.045 in", "0.047 in"),
        (STRING_FIELDS, "gauge", "1.05 mm", "1.04 mm", "1.06 mm"),
        (STRING_FIELDS, "gauge", "0.05 mm", None, "0.06 mm"),
        (COUPLING_FIELDS, "coefficient", "-0.12", "-0.13", "-0.11"),
        (COUPLING_FIELDS, "coefficient", "0.99", "0.98", None),
    ],
)
def test_steps_of_strings_and_couplings(
    table: tuple[Field, ...], name: str, value: str, down: str | None, up: str | None
) -> None:
    assert steps_of(field(table, name), value) == {"down": down, "up": up}
    assert steps_of(field(table, name), "nothing of the kind") is None


def part_fields(found: dict[str, Any], name: str) -> dict[str, dict[str, Any]]:
    part = next(one for one in found["parts"] if one["name"] == name)
    return {one["name"]: one for one in part["fields"]}


def test_the_page_puts_a_pot_on_the_shaft_of_another_and_takes_it_off() -> None:
    before = part_fields(checked("baritone", []), "tone")["ganged"]
    assert before["choices"] == ["", "volume"]
    together = edit(before["path"], "volume")
    found = checked("baritone", [together])
    assert [knob["name"] for knob in found["knobs"]] == ["volume"]
    assert "with tone: " in found["knobs"][0]["about"]
    shaft = part_fields(found, "tone")
    assert shaft["ganged"]["value"] == "volume"
    apart = checked("baritone", [together, edit(shaft["turns"]["path"], "apart")])
    assert [knob["name"] for knob in apart["knobs"]] == ["volume", "tone"]
    gone = checked("baritone", [together, *(edit(path, None) for path in shaft["ganged"]["remove"])])
    assert [knob["name"] for knob in gone["knobs"]] == ["volume", "tone"]


def test_a_knob_says_what_its_track_does() -> None:
    edits = [edit(["parts", "tone", "no_load"], "true"), edit(["parts", "volume", "detent"], "3 %")]
    volume, tone = checked("baritone", edits)["knobs"]
    assert "open at 10" in tone["about"]
    assert "clicks at 5" in volume["about"]
    assert (volume["detent"], tone["detent"]) == (True, False)


def test_a_detent_of_either_track_is_the_knobs() -> None:
    together = edit(part_fields(checked("baritone", []), "tone")["ganged"]["path"], "volume")
    (knob,) = checked("baritone", [together, edit(["parts", "tone", "detent"], "3 %")])["knobs"]
    assert (knob["name"], knob["detent"]) == ("volume", True)


BARE = "format: 1\nparts:\n  a: {kind: coil, like: narrow_single_medium}\n  output: {kind: jack}\njoints:\n"
BARE += "  - [a.start, output.tip]\n  - [a.finish, output.sleeve]\n"
LIKE = "load: {like: sweep_load}\n"


def loaded(text: str, *edits: tuple[str, str | None]) -> tuple[dict[str, Any], Load]:
    """Return cable and amplifier as shown, fields by name, and the load as read."""
    changed = WiringText(text, "w")
    changed.change([(path.split("."), value) for path, value in edits])
    tree = parse_tree(changed.dump(), "w")
    wiring = read_wiring(tree, "w")
    shown = {one["name"]: one for one in parts_json(tree, wiring, [])["parts"] if one["kind"] == "load"}
    fields = {
        f"{name} {field['name']}": (field["value"], field["inherited"], field["default"])
        for name, one in shown.items()
        for field in one["fields"]
    }
    return {"like": {one["like"] for one in shown.values()}, **fields}, wiring.load


def test_a_load_of_the_library_shows_its_values() -> None:
    shown, load = loaded(BARE + LIKE)
    assert shown["like"] == {"sweep_load"}
    assert shown["amplifier resistance"] == ("", "200 kΩ", "1 MΩ")
    assert shown["cable length"] == ("", "0 m", "")
    changed, after = loaded(BARE + LIKE, ("load.amplifier.resistance", "470 kΩ"))
    assert changed["amplifier resistance"][0] == "470 kΩ"
    assert changed["amplifier capacitance"][0] == "470 pF", "the library's other value stays"
    assert changed["cable length"] == ("", "0 m", "")
    assert after == replace(load, amplifier_ohm=470e3)


def test_a_load_that_is_not_written_can_be_changed_all_the_same() -> None:
    shown, load = loaded(BARE)
    assert shown["cable length"] == ("", "", "5 m")
    assert load == Load()
    changed, after = loaded(BARE, ("load.cable.length", "3 m"))
    assert changed["cable length"][0] == "3 m"
    assert after == replace(load, cable_length_m=3.0)
    _, other = loaded(BARE, ("load.like", "plain_amplifier"))
    assert other.cable_length_m == 0.0
    _, half = loaded(BARE + "load: {amplifier: {resistance: 2 MΩ}}\n", ("load.cable.length", "3 m"))
    assert half == Load(3.0, 100e-12, 2e6, 0.0)
