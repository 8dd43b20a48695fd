"""The drawing's part of a wiring file: read with all problems, ignored by what sounds."""

from __future__ import annotations

from dataclasses import replace

import jsonschema
import pytest
from places import DEMO

from dsp.drawing.looks import switch_look
from dsp.drawing.wiring_record import wiring_record
from dsp.errors import InputError
from dsp.facts.findings.check import check
from dsp.parts.switch import on_on
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from dsp.wiring.schema import schema
from server.files.yaml_text import parse_tree
from server.listings.making.keys import wiring_key

TEXT = (DEMO / "baritone.yaml").read_text(encoding="utf-8")
DRAWN = """drawing:
  places: {selector: [520, 340, 1], tone_cap: [990, -430.5]}
  wires: [[volume.2, output.tip]]
"""


def read(drawing: str) -> Wiring:
    return read_wiring(parse_tree(TEXT + drawing, "a file"), "a file")


def test_places_and_wires_reach_the_drawing() -> None:
    record = wiring_record(read(DRAWN))
    assert record["places"] == {"selector": [520.0, 340.0, 1], "tone_cap": [990.0, -430.5, 0]}
    assert record["runs"] == [["volume.2", "output.tip"]]


@pytest.mark.parametrize("empty", ["", "drawing:\n", "drawing: {}\n", "drawing: {places: , wires: []}\n"])
def test_a_file_needs_no_drawing(empty: str) -> None:
    record = wiring_record(read(empty))
    assert (record["places"], record["runs"]) == ({}, [])


def test_what_names_nothing_is_ignored_with_a_note() -> None:
    wiring = read("drawing: {places: {gone: [1, 2]}, wires: [[volume.2, tone.2], [gone.a, gone.b]]}\n")
    record = wiring_record(wiring)
    assert (record["places"], record["runs"]) == ({}, [])
    found = {(one.finding, one.lugs) for one in check(wiring) if one.line == len(TEXT.splitlines()) + 1}
    assert found == {
        ("place of no part", ("gone",)),
        ("wire of no joint", ("volume.2", "tone.2")),
        ("wire of no joint", ("gone.a", "gone.b")),
    }


def test_all_problems_are_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        read(
            "drawing: {places: {a: [1], b: [1, 2, 7], c: [x, 3], d: [1e9, 1], e: 3}, "
            "wires: [[a.1], [volume, tone.1], 3], foo: 1}\n"
        )
    places = [one.where.partition(": ")[2] for one in caught.value.problems]
    assert places == [
        "drawing", *(f"drawing.places.{name}" for name in "abcde"), *3 * ["drawing.wires"]
    ]  # fmt: skip
    assert "got 'x'; allowed: [x, y] or [x, y, turn]" in str(caught.value)


def test_the_schema_knows_the_drawing() -> None:
    file = {"format": 1, "parts": {}, "drawing": {"places": {"tone": [10, 20, 3]}, "wires": [["a.1", "b.2"]]}}
    jsonschema.validate(file, schema())
    for wrong in ({"places": {"tone": [1]}}, {"places": {"tone": [1, 2, 4]}}, {"wires": [["a.1"]]}, {"x": 1}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({**file, "drawing": wrong}, schema())


def test_nothing_of_it_is_part_of_a_clips_content() -> None:
    wiring = read("")
    assert wiring_key(read(DRAWN)) == wiring_key(wiring)
    body = replace(on_on(2), body="slide")
    parts = {**wiring.parts, "selector": body}
    plain = {**wiring.parts, "selector": on_on(2)}
    assert wiring_key(replace(wiring, parts=parts)) == wiring_key(replace(wiring, parts=plain))
    assert wiring_key(replace(wiring, parts=plain)) != wiring_key(wiring)


@pytest.mark.parametrize("body", ["rotary", "blade", "toggle"])
def test_switches_of_one_table_are_told_apart(body: str) -> None:
    two = f"  two: {{kind: switch, poles: 2, positions: 3, body: {body}}}\n"
    wiring = read_wiring(parse_tree(TEXT.replace("parts:\n", f"parts:\n{two}", 1), "a file"), "a file")
    assert switch_look(wiring.parts["two"]) == body
