"""Switches as they are soldered: against the demo's file, read by hand."""

from __future__ import annotations

from places import DEMO

from dsp.lugs.existing import wired_switches
from server.wirings.text import WiringText, load_wiring


def test_the_rotary_of_the_baritone_as_its_file_says() -> None:
    (rotary,) = wired_switches(load_wiring(DEMO / "baritone.yaml"))
    assert (rotary.name, rotary.selects, rotary.poles) == ("selector", True, 4)
    assert "A5" not in rotary.lugs
    assert rotary.lugs["C0"] == (("neck_a", "finish"), ("neck_b", "start"))
    by_position = {row.position: row for row in rotary.positions}
    assert by_position["5"].contacts == (("B0", "B5"),)
    assert by_position["6"].contacts == (("B0", "B6"), ("D0", "D6"))
    assert by_position["1"].sound == "neck_a + neck_b"
    assert by_position["1"].reading.endswith("kΩ")


def test_the_selector_stands_first_and_others_have_contacts_alone() -> None:
    found = wired_switches(load_wiring(DEMO / "twelve.yaml"))
    assert [one.selects for one in found] == [True, False]
    for one in found[1:]:
        assert one.lugs
        assert {row.sound for row in one.positions} == {""}
        assert any(row.contacts for row in one.positions)


def test_a_wiring_without_coils_has_contacts_all_the_same() -> None:
    text = (
        "format: 1\nname: Bare\nparts:\n  r: {kind: resistor, resistance: 1 kΩ}\n"
        "  coil: {kind: coil, like: narrow_single_medium, at: 45 mm}\n"
        "  selector: {kind: switch, like: toggle_on_on}\n  output: {kind: jack}\n"
        "joints:\n  - [selector.A0, output.tip]\n  - [selector.A2, r.a]\n  - [r.b, output.sleeve]\n"
    )
    (one,) = wired_switches(WiringText(text, "bare").wiring())
    assert dict(one.lugs) == {"A0": (("output", "tip"),), "A2": (("r", "a"),)}
    readings = {row.contacts: (row.sound, row.reading) for row in one.positions}
    assert readings == {(): ("no coil", "open"), (("A0", "A2"),): ("no coil", "1 kΩ")}
