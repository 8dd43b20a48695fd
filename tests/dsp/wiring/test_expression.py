"""Sketches: the meaning of an expression, against the same wiring soldered by hand."""

from __future__ import annotations

import numpy as np
import pytest
from tolerances import SOLVERS

from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.parts.expression import Group, Leaf, names_in, parse_expression
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree

PARTS = """
format: 1
parts:
  a: {kind: coil, resistance: 4 kΩ, inductance: 2.3 H, capacitance: 70 pF, winding: reverse}
  b: {kind: coil, resistance: 5 kΩ, inductance: 3.1 H, capacitance: 90 pF}
  c: {kind: coil, resistance: 6 kΩ, inductance: 3.6 H, capacitance: 85 pF, eddy: [{share: 20 %, corner: 3k}]}
  cap: {kind: capacitor, capacitance: 4.7 nF}
  pad: {kind: resistor, resistance: 47 kΩ}
  output: {kind: jack}
"""
SKETCH = "  selector: {{kind: sketch, positions: {{1: '{}'}}}}\njoints:\n"
SKETCH += "  - [selector.hot, output.tip]\n  - [selector.cold, output.sleeve]\n"
FREQS = np.geomspace(20.0, 20e3, 40)
TIP, SLEEVE = "output.tip", "output.sleeve"

# An expression, and the joints a technician would make for it: one list per solder point.
BY_HAND = [
    ("a", [[TIP, "a.start"], ["a.finish", SLEEVE]]),
    ("-a", [[TIP, "a.finish"], ["a.start", SLEEVE]]),
    ("a + b", [[TIP, "a.start"], ["a.finish", "b.start"], ["b.finish", SLEEVE]]),
    ("a | b", [[TIP, "a.start", "b.start"], ["a.finish", "b.finish", SLEEVE]]),
    ("a | -b", [[TIP, "a.start", "b.finish"], ["a.finish", "b.start", SLEEVE]]),
    ("a + -b", [[TIP, "a.start"], ["a.finish", "b.finish"], ["b.start", SLEEVE]]),
    ("-(a + b)", [[TIP, "b.finish"], ["b.start", "a.finish"], ["a.start", SLEEVE]]),
    ("-(a | -b)", [[TIP, "a.finish", "b.start"], ["a.start", "b.finish", SLEEVE]]),
    ("a + b | c", [[TIP, "a.start", "c.start"], ["a.finish", "b.start"], ["b.finish", "c.finish", SLEEVE]]),
    ("a + (b | c)", [[TIP, "a.start"], ["a.finish", "b.start", "c.start"], ["b.finish", "c.finish", SLEEVE]]),
    ("(a | -b) + cap", [[TIP, "a.start", "b.finish"], ["a.finish", "b.start", "cap.a"], ["cap.b", SLEEVE]]),
    (
        "a + -(b + c + pad) | cap",
        [
            [TIP, "a.start", "cap.a"],
            ["a.finish", "pad.b"],
            ["pad.a", "c.finish"],
            ["c.start", "b.finish"],
            ["b.start", "cap.b", SLEEVE],
        ],
    ),
]


def wiring_of(text: str) -> Wiring:
    return read_wiring(parse_tree(text, "sketch.yaml"), "sketch.yaml")


def by_hand(joints: list[list[str]]) -> Wiring:
    return wiring_of(PARTS + "joints:\n" + "".join(f"  - [{', '.join(one)}]\n" for one in joints))


def levels(wiring: Wiring) -> np.ndarray:
    return respond(wiring, [wiring.setting("1")], FREQS).coil[0]


@pytest.mark.parametrize(("text", "joints"), BY_HAND, ids=[text for text, _ in BY_HAND])
def test_a_sketch_means_what_one_would_solder(text: str, joints: list[list[str]]) -> None:
    got = levels(wiring_of(PARTS + SKETCH.format(text)))
    np.testing.assert_allclose(got, levels(by_hand(joints)), rtol=0, atol=SOLVERS)


def test_no_two_hand_made_wirings_are_equal() -> None:
    found = [levels(by_hand(joints)) for _, joints in BY_HAND]
    for i, one in enumerate(found):
        for other in found[i + 1 :]:
            assert np.max(np.abs(one - other)) > 1e-3


def test_reading() -> None:
    assert parse_expression("a+b|c") == Group((Group((Leaf("a"), Leaf("b")), True), Leaf("c")), False)
    assert parse_expression("-( a | -b )") == Group((Leaf("a"), Leaf("b", True)), False, True)
    assert parse_expression("−a") == Leaf("a", True)
    assert parse_expression("((a))") == Leaf("a")
    assert parse_expression("-(-a)") == Leaf("a")
    assert list(names_in(parse_expression("(a + b) | c"))) == ["a", "b", "c"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "+",
        "a +",
        "a b",
        "a | | b",
        "(a",
        "a)",
        "()",
        "--a",
        "a + a",
        "a & b",
        "2 + a",
        "a.start",
        "a" * 401,
        "(" * 60 + "a" + ")" * 60,
        "-(" * 45 + "a" + ")" * 45,
    ],
)
def test_texts_that_are_not_expressions(text: str) -> None:
    with pytest.raises(InputError):
        parse_expression(text)


def test_the_error_says_where_and_quotes() -> None:
    with pytest.raises(InputError) as caught:
        parse_expression("neck + * bridge", "guitar.yaml:7: selector.positions.1")
    (problem,) = caught.value.problems
    assert problem.where == "guitar.yaml:7: selector.positions.1"
    assert "'*'" in problem.got
    assert "neck + * bridge" in problem.got
