"""How parts look, and what the record of a wiring says."""

from __future__ import annotations

import pytest
from places import DEMO, NETWORKS

from dsp.drawing.looks import switch_look, switch_poles
from dsp.drawing.wiring_record import wiring_record
from dsp.parts.library.index import LIBRARY
from dsp.parts.switch import neighbours, on_off_on, on_on_on, push, push_pull, shorthand
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.text import load_wiring

HEAD = """format: 1
joints:
  - [neck.start, output.tip]
  - [neck.finish, output.sleeve]
parts:
  neck: {kind: coil, like: narrow_single_medium}
  output: {kind: jack}
"""
SAME_TABLES = {("rotary", "blade"), ("slide", "toggle"), ("slide", "blade"), ("slide", "rotary")}
"""What a library's switch is called, and how it is drawn: its table is that of the other too."""


@pytest.mark.parametrize(
    ("switch", "look"),
    [
        (shorthand(4, 6), "rotary"),
        (shorthand(1, 2), "toggle"),
        (on_off_on(2), "toggle"),
        (on_on_on(), "toggle"),
        (push_pull(), "push-pull"),
        (push(), "push"),
        (neighbours(2, 3), "slide"),
    ],
)
def test_a_switch_looks_as_its_table_says(switch, look: str) -> None:
    assert switch_look(switch) == look


def test_lugs_without_poles_stand_in_one_row() -> None:
    assert switch_look(load_wiring(DEMO / "twelve.yaml").parts["selector"]) == "row"
    assert switch_poles(["A1", "A0", "B0"]) == (("A0", "A1"), ("B0",))


@pytest.mark.parametrize("name", [name for name, one in LIBRARY.items() if one.kind == "switch"])
def test_every_switch_of_the_library_looks_as_it_is_called(name: str) -> None:
    text = HEAD + f"  one: {{kind: switch, like: {name}}}\n"
    look = switch_look(read_wiring(parse_tree(text, "a file"), "a file").parts["one"])
    word = "push-pull" if name == "push_pull" else name.partition("_")[0]
    assert look == word or (word, look) in SAME_TABLES


def test_pickups_stand_in_housings_from_the_neck() -> None:
    record = wiring_record(load_wiring(DEMO / "baritone.yaml"))
    assert record["housings"] == [["neck_a", "neck_b"], ["bridge_a", "bridge_b"]]
    assert record["parts"][0]["at_mm"] == 176.0
    assert record["parts"][0]["value"] == "4.1 kΩ"
    assert record["strings"] == 6
    assert record["selector"] == "selector"
    assert "output.sleeve" in record["joints"][record["ground"]]


def test_a_dummy_coil_has_a_housing_of_its_own() -> None:
    record = wiring_record(load_wiring(NETWORKS / "baritone_tapped.yaml"))
    assert record["housings"] == [["bridge"], ["dummy"]]
    assert record["parts"][0]["lugs"] == ["start", "tap", "finish"]
