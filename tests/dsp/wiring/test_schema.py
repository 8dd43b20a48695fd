"""The JSON Schema of the wiring file: valid, complete, and in agreement with the reader."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from places import TESTS
from ruamel.yaml import YAML

from dsp.errors import InputError
from dsp.parts import fields
from dsp.parts.coil import EDDY_FIELDS
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY
from dsp.wiring.reading.wiring import read_wiring
from dsp.wiring.schema import DIALECT, schema
from server.files.yaml_text import parse_tree

WIRINGS = sorted(
    path
    for path in [
        *(TESTS.parent / "demo_audio").glob("*.yaml"),
        *(TESTS / "reference/networks").glob("*.yaml"),
    ]
    if "joints:" in path.read_text(encoding="utf-8")
)


def validator() -> Draft202012Validator:
    return Draft202012Validator(schema())


def plain(text: str) -> Any:
    """Return a document as an editor passes it to a schema: YAML 1.2 as JSON, with text keys."""
    return json.loads(json.dumps(YAML(typ="safe", pure=True).load(text)))


def accepts(text: str) -> bool:
    return validator().is_valid(plain(text))


def reads(text: str) -> bool:
    try:
        read_wiring(parse_tree(text, "w.yaml"), "w.yaml")
    except InputError:
        return False
    return True


def test_it_is_a_schema_of_the_dialect_it_names() -> None:
    assert schema()["$schema"] == DIALECT == Draft202012Validator.META_SCHEMA["$schema"]
    Draft202012Validator.check_schema(schema())
    json.dumps(schema(), allow_nan=False)


@pytest.mark.parametrize("path", WIRINGS, ids=lambda path: path.stem)
def test_it_accepts_every_wiring_of_ours(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert [error.message for error in validator().iter_errors(plain(text))] == []
    assert reads(text)


def test_there_are_wirings_to_accept() -> None:
    assert len(WIRINGS) >= 26
    kinds = {
        part.get("kind")
        for path in WIRINGS
        for part in plain(path.read_text(encoding="utf-8"))["parts"].values()
    }
    assert kinds >= set(KINDS)


GOOD = """
format: 1
name: Good
instrument: {scale: 648 mm, strings: [{note: E2, gauge: 0.046 in, wound: true}]}
parts:
  neck: {kind: coil, resistance: 6 kΩ, inductance: 2.4 H, capacitance: 110 pF, winding: reverse, at: 150 mm}
  bridge: {like: narrow_single_medium, winding: forward}
  volume: {kind: pot, resistance: 500k, taper: audio, midpoint: 10 %}
  tone: {kind: pot, resistance: 250000, taper: [[0, 0], [0.6, 0.2], [1, 1]]}
  cap: {kind: capacitor, capacitance: 22n, tolerance: {capacitance: 10 %}}
  selector: {kind: switch, poles: 1, positions: 2}
  split: {kind: switch, lugs: [C, O], contacts: {up: [[C, O]], down: []}, ganged: {part: tone}}
  output: {kind: jack}
couplings: [{coils: [neck, bridge], coefficient: -0.1}]
joints:
  - [neck.start, selector.A1]
  - [bridge.start, selector.A2]
  - [selector.A0, volume.3, tone.2]
  - [tone.1, cap.a]
  - [volume.2, output.tip]
  - [neck.finish, bridge.finish, volume.1, cap.b, output.sleeve]
labels: {1: Neck, 2: Bridge}
load:
  cable: {length: 3 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ}
"""


def test_the_valid_file_is_valid() -> None:
    assert accepts(GOOD)
    assert reads(GOOD)


BAD = {
    "unknown top key": lambda t: t.replace("labels:", "lables:"),
    "unknown field": lambda t: t.replace("resistance: 6 kΩ", "resistance: 6 kΩ, resistence: 6 kΩ"),
    "field of another kind": lambda t: t.replace("capacitance: 22n", "capacitance: 22n, taper: audio"),
    "misspelt kind": lambda t: t.replace("kind: capacitor", "kind: capaciter"),
    "wrong choice": lambda t: t.replace("winding: reverse", "winding: backwards"),
    "wrong taper": lambda t: t.replace("taper: audio", "taper: logarithmic"),
    "no such library part": lambda t: t.replace("narrow_single_medium", "narrow_single_tepid"),
    "missing field": lambda t: t.replace(", inductance: 2.4 H", ""),
    "kind missing": lambda t: t.replace("kind: pot, resistance: 500k", "resistance: 500k"),
    "no format": lambda t: t.replace("format: 1", ""),
    "another format": lambda t: t.replace("format: 1", "format: 2"),
    "no parts": lambda t: "format: 1\n",
    "a list for a value": lambda t: t.replace("capacitance: 22n", "capacitance: [22n]"),
    "a tolerance of no field": lambda t: t.replace("{capacitance: 10 %}", "{capacitence: 10 %}"),
    "turns in other words": lambda t: t.replace("{part: tone}", "{part: tone, turns: twice}"),
    "too many poles": lambda t: t.replace("poles: 1", "poles: 99"),
    "poles in words": lambda t: t.replace("poles: 1", "poles: one"),
    "a joint of one": lambda t: t.replace("[tone.1, cap.a]", "[tone.1]"),
    "coupling of one coil": lambda t: t.replace("[neck, bridge]", "[neck]"),
    "coupling without its coefficient": lambda t: t.replace(", coefficient: -0.1", ""),
    "unknown load field": lambda t: t.replace("length: 3 m", "lenght: 3 m"),
    "unknown string field": lambda t: t.replace("wound: true", "wounded: true"),
    "ganged with words": lambda t: t.replace("{part: tone}", "tone"),
    "contacts as a list": lambda t: t.replace("{up: [[C, O]], down: []}", "[[C, O]]"),
}


@pytest.mark.parametrize("spoil", BAD.values(), ids=BAD)
def test_the_schema_refuses_shapes_that_the_reader_refuses(spoil: Callable[[str], str]) -> None:
    text = spoil(GOOD)
    assert text != GOOD
    assert not reads(text)
    assert not accepts(text)


def test_a_library_part_needs_no_kind_and_one_of_each_is_accepted() -> None:
    for name, entry in LIBRARY.items():
        if entry.kind == "load":
            text = GOOD[: GOOD.index("load:")] + f"load: {{like: {name}}}\n"
        else:
            text = GOOD.replace("cap: {", f"extra: {{like: {name}}}\n  cap: {{")
        assert accepts(text), name
        assert reads(text), name


def names_in(node: Any) -> Iterator[str]:
    """Return every property name anywhere in a schema."""
    if isinstance(node, dict):
        yield from node.get("properties", {})
        for value in node.values():
            yield from names_in(value)
    elif isinstance(node, list):
        for value in node:
            yield from names_in(value)


def test_every_field_of_the_table_is_in_it() -> None:
    parts = schema()["properties"]["parts"]["additionalProperties"]["anyOf"]
    by_kind = {part["properties"].get("kind", {}).get("const"): part["properties"] for part in parts}
    for name, kind in KINDS.items():
        for field in (*kind.fields, *fields.COMMON):
            bare = field.name == "tolerance" and not any(f.form == "quantity" for f in kind.fields)
            assert (field.name in by_kind[name]) != bare, f"{name}.{field.name}"
            if field in kind.fields:
                assert by_kind[name][field.name]["description"] == field.about
    others = (
        EDDY_FIELDS, fields.STRING_FIELDS, fields.INSTRUMENT_FIELDS,
        fields.CABLE_FIELDS, fields.AMPLIFIER_FIELDS, fields.COUPLING_FIELDS,
    )  # fmt: skip
    everywhere = set(names_in(schema()))
    assert {field.name for table in others for field in table} <= everywhere
    assert set(schema()["properties"]) == set(fields.TOP_KEYS)


def test_every_map_is_closed() -> None:
    """A map that allows unknown keys would pass a misspelling."""

    def walk(node: Any) -> None:
        if isinstance(node, dict):
            if "properties" in node:
                assert node.get("additionalProperties") is False, list(node["properties"])
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(schema())
