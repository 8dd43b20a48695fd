"""Metal: what is known of the strings' ground, and rings of joints."""

from __future__ import annotations

import pytest
from small_wirings import wiring_of

from dsp.circuit.meter import jack_reading_ohm
from dsp.facts.findings.check import check
from dsp.facts.findings.table import Finding
from dsp.knobs.place import merge_joints, pot_place
from dsp.lugs.targets import targets_of
from dsp.wiring.model import Wiring
from server.documents.lug_chart import CAUTIONS, SHOWN, cautions_of
from server.searches.sketch import sketch_edits

PARTS = "a: {COIL}\nstrings: {kind: metal, of: strings}\noutput: {kind: jack}"
PLAIN = "a.start, output.tip\na.finish, output.sleeve"
ABOUT_METAL = {
    "strings grounded",
    "strings not grounded",
    "metal live",
    "metal floating",
    "ground made twice",
}


def told(wiring: Wiring) -> list[Finding]:
    """Return the findings about metal, without their lines."""
    return [
        Finding(one.finding, one.lugs, one.positions, 0, one.detail)
        for one in check(wiring)
        if one.finding in ABOUT_METAL
    ]


def test_a_file_without_metal_is_reminded_and_one_with_strings_is_told() -> None:
    assert told(wiring_of("a: {COIL}\noutput: {kind: jack}", PLAIN)) == [Finding("strings not grounded")]
    grounded = wiring_of(PARTS, PLAIN + "\nstrings.a, output.sleeve")
    assert told(grounded) == [Finding("strings grounded", ("strings",))]
    assert told(wiring_of(PARTS, PLAIN)) == [Finding("metal floating", ("strings",))]


def test_strings_may_be_grounded_through_parts() -> None:
    """Common practice: a capacitor and a resistor between strings and sleeve against mains faults."""
    parts = PARTS + "\nc: {kind: capacitor, capacitance: 10n}\nr: {kind: resistor, resistance: 220k}"
    for names in ("cr", "c", "r"):
        ends = [", ".join((*(f"{name}.{end}" for name in names), to)) for end, to in
                (("a", "strings.b"), ("b", "output.sleeve"))]  # fmt: skip
        found = told(wiring_of(parts, "\n".join([PLAIN, *ends])))
        assert found == [Finding("strings grounded", ("strings",), detail="through other parts")], names


def test_strings_on_the_hot_side_are_live() -> None:
    assert told(wiring_of(PARTS, PLAIN.replace("output.tip", "output.tip, strings.a"))) == [
        Finding("metal live", ("strings",))
    ]


@pytest.mark.parametrize(
    ("joints", "rings"),
    [
        ("c.a, d.a\nd.b, output.sleeve", []),
        ("c.a, d.a\nd.b, output.sleeve\nc.b, output.sleeve", [("c", "d")]),
        ("c.a, d.a\nd.b, c.b\nc.a, output.sleeve", [("c", "d")]),
        ("c.a, c.b, d.a, output.sleeve", []),
        ("c.a, d.a\nd.b, c.b", []),  # a ring, but none to ground
        ("c.a, output.sleeve\nc.b, a.finish\na.finish, output.sleeve", [("c",)]),
    ],
)
def test_a_ring_of_joints_through_metal_is_a_ground_made_twice(
    joints: str, rings: list[tuple[str, ...]]
) -> None:
    metal = "".join(f"\n{name}: {{kind: metal, of: plate}}" for name in "cd")
    wiring = wiring_of("a: {COIL}\noutput: {kind: jack}" + metal, f"{PLAIN}\n{joints}")
    found = [one.lugs for one in told(wiring) if one.finding == "ground made twice"]
    assert [tuple(sorted(names)) for names in found] == rings


CONTROLS = """
hot: {kind: pot, resistance: 500k}
tone: {kind: pot, resistance: 500k}
cap: {kind: capacitor, capacitance: 22n}
casing: {kind: metal, of: casing, on: [hot]}
"""
GROUND_BY_CASING = """
hot.1, casing.a
casing.b, output.sleeve
hot.2, output.tip
tone.3, cap.a
cap.b, casing.a
"""


def test_the_ground_may_run_through_a_casing() -> None:
    parts = "a: {COIL}\noutput: {kind: jack}" + CONTROLS
    joints = "a.start, hot.3, tone.2\na.finish, casing.b" + GROUND_BY_CASING
    wiring = wiring_of(parts, joints)
    assert jack_reading_ohm(wiring, wiring.setting("1")) == pytest.approx(500e3 * 4e3 / 504e3)
    place = pot_place(wiring, "tone")
    assert place is not None
    assert place.line == ("cap",)
    assert merge_joints(wiring).same(place.ends[1], ("output", "sleeve"))
    by_path = {tuple(edit["path"]): edit["value"] for edit in sketch_edits(wiring)}
    assert "casing.b, output.sleeve" in by_path["joints",]
    assert "selector.cold" in by_path["joints",]


def test_charts_count_metal_as_a_way_to_ground_and_mind_its_strings() -> None:
    parts = "a: {COIL}\nb: {COIL}\nselector: {kind: sketch, positions: {1: a, 2: b}}\noutput: {kind: jack}"
    joints = "selector.hot, hot.3, tone.2\nselector.cold, output.sleeve" + GROUND_BY_CASING
    wiring = wiring_of(parts + CONTROLS, joints)
    assert targets_of(wiring).tied
    assert not targets_of(
        wiring_of(parts + CONTROLS, joints.replace("casing.b, output", "selector.cold, output"))
    ).tied
    assert cautions_of(wiring) == CAUTIONS
    assert SHOWN in cautions_of(wiring_of(PARTS, PLAIN))
    assert len(cautions_of(wiring_of(PARTS, PLAIN))) == len(CAUTIONS)
