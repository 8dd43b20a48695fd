"""What a wiring is made of: every part counted once, every joint of the file."""

from __future__ import annotations

from dataclasses import replace

import pytest
from places import DEMO

from dsp.sheet.contents import TO_DESIGN, count_parts, list_joints, pickup_coils
from dsp.wiring.model import Joint
from server.wirings.text import load_wiring


@pytest.mark.parametrize("name", ["baritone", "twelve", "tenor"])
def test_every_part_is_counted_once_and_every_joint_listed(name: str) -> None:
    wiring = load_wiring(DEMO / f"{name}.yaml")
    found = count_parts(wiring, wiring.parts.keys())
    assert sorted(part for one in found for part in one.names) == sorted(wiring.parts)
    joints = list_joints(wiring)
    soldered = [joint.terminals for joint in wiring.joints if len(joint.terminals) > 1]
    assert sorted(one.points for one in joints) == sorted(len(terminals) for terminals in soldered)
    assert sum(one.ground for one in joints) == 1


def test_parts_alike_are_one_row_and_others_are_not() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    names = [name for name in wiring.parts if name not in pickup_coils(wiring)]
    found = {one.names: (one.count, one.text) for one in count_parts(wiring, names)}
    assert found["volume", "tone"] == (2, "pot, 250 kΩ, audio taper")
    assert found["bypass_cap",] == (1, "capacitor, 1 nF")
    assert found["tone_cap",] == (1, "capacitor, 33 nF")
    assert not any("neck" in names for names in found)


def test_a_joint_written_in_pieces_is_one() -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")
    first, *others = wiring.joints
    pieces = (Joint(first.terminals[:2]), Joint(first.terminals[1:]), *others)
    assert {one.points for one in list_joints(replace(wiring, joints=pieces))} == {
        one.points for one in list_joints(wiring)
    }


def test_a_sketch_is_a_switch_to_be_designed() -> None:
    wiring = load_wiring(DEMO / "baritone_sketch.yaml")
    assert [one.text for one in count_parts(wiring, ["selector"])] == [TO_DESIGN]
