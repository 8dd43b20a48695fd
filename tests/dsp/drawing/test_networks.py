"""A sound's expression as a network: what lies where, and which way round."""

from __future__ import annotations

from typing import Any

import pytest

from dsp.drawing.networks import network_of_text
from dsp.drawing.wiring_record import wiring_record
from dsp.parts.expression import parse_expression
from dsp.parts.kinds import ends_of
from dsp.parts.sketch import sketch_joints
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge
from server.wirings.text import WiringText

TEXT = """\
format: 1
name: Sketched
parts:
  a: {kind: coil, resistance: 5 kΩ, inductance: 2 H, capacitance: 100 pF}
  b: {kind: coil, resistance: 5 kΩ, inductance: 2 H, capacitance: 100 pF}
  c: {kind: coil, resistance: 5 kΩ, inductance: 2 H, capacitance: 100 pF}
  k: {kind: capacitor, capacitance: 10 nF}
  selector: {kind: sketch, positions: {1: a + b, 2: (a | -b) + k}}
  output: {kind: jack}
joints:
  - [selector.hot, output.tip]
  - [selector.cold, output.sleeve]
labels: {1: Both}
"""


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    return WiringText(TEXT, "sketched").wiring()


def nets(
    network: dict[str, Any], hot: str, cold: str, joined: list[tuple[str, str]], path: str = "n"
) -> None:
    """Walk a network from hot to cold; a coil that is turned has its finish at the hot end."""
    if network["kind"] == "series":
        ends = [hot, *(f"{path}.{k}" for k in range(1, len(network["members"]))), cold]
        for k, member in enumerate(network["members"]):
            nets(member, ends[k], ends[k + 1], joined, f"{path}{k}")
    elif network["kind"] == "parallel":
        for k, member in enumerate(network["members"]):
            nets(member, hot, cold, joined, f"{path}{k}")
    else:
        first, last = (hot, cold) if not network["turned"] else (cold, hot)
        joined += [(f"{network['name']}.0", first), (f"{network['name']}.1", last)]


@pytest.mark.parametrize(
    "text", ["a", "-a", "a + b", "a | -b", "-(a + b) | c", "-(a + (b | -c))", "(a | -b) + k"]
)
def test_a_network_joins_what_its_expression_joins(wiring: Wiring, text: str) -> None:
    joined: list[tuple[str, str]] = []
    nets(network_of_text(wiring, text), "hot", "cold", joined)
    drawn: Merge[str] = Merge(node for pair in joined for node in pair)
    for pair in joined:
        drawn.join(pair)

    def leads(name: str) -> tuple[str, ...]:
        return ends_of(wiring.parts[name])

    pairs = list(sketch_joints(parse_expression(text), ("", "hot"), ("", "cold"), leads))
    built: Merge[tuple[str, str]] = Merge(terminal for pair in pairs for terminal in pair)
    for pair_ in pairs:
        built.join(pair_)
    names = {node.partition(".")[0] for node, _ in joined}
    ends = [(name, k) for name in names for k in (0, 1) if wiring.parts[name] and name != "k"]
    for one in ends:
        for other in ends:
            same = built.same(*((name, leads(name)[k]) for name, k in (one, other)))
            assert drawn.same(*(f"{name}.{k}" for name, k in (one, other))) == same, (one, other)


def test_a_part_without_polarity_is_never_turned(wiring: Wiring) -> None:
    assert network_of_text(wiring, "a + -k")["members"][1] == {
        "kind": "capacitor",
        "name": "k",
        "turned": False,
    }


def test_the_drawing_has_every_sketched_position(wiring: Wiring) -> None:
    record = wiring_record(wiring)
    selector = next(part for part in record["parts"] if part["name"] == "selector")
    assert list(selector["networks"]) == selector["positions"] == ["1", "2"]
    assert record["labels"] == {"1": "Both"}
