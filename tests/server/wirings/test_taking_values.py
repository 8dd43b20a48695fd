"""Measured values become one deed with a comment, whatever else is done to the part."""

from __future__ import annotations

import pytest

from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.wiring.edit_words import edit_words
from dsp.wiring.editing.document import COMMENT, Document, Edit
from dsp.wiring.editing.measured import take_sensitivities, take_values
from dsp.wiring.editing.parts import remove
from dsp.wiring.editing.renaming import rename_part
from server.files.yaml_text import parse_tree
from server.wirings.drafts import document_of
from server.wirings.edit_names import node_of
from server.wirings.text import WiringText

VALUES = {
    "resistance": "6.2 kΩ",
    "inductance": "2.35 H",
    "capacitance": "118 pF",
    "eddy": [{"share": "50 %", "corner": "9 kHz"}],
}
TOLD = "read 2026-11-03: impedance at the leads, open-short-known"
TEXT = """format: 1
parts:
  # the hot one
  bridge: {kind: coil, resistance: 8 kΩ, inductance: 3 H, capacitance: 100 pF, cover: metal}
  neck: {kind: coil, like: narrow_single_medium, cover: metal, at: 150 mm}
  output: {kind: jack}
joints:
  - [bridge.start, output.tip]
  - [bridge.finish, neck.start]
  - [neck.finish, output.sleeve]
"""


def text_of(edits: tuple[Edit, ...], text: str = TEXT) -> str:
    edited = WiringText(text, "w")
    edited.change(edits)
    return edited.dump()


def take(part: str) -> tuple[Edit, ...]:
    return take_values(document_of(TEXT, (), "w"), {part: VALUES}, TOLD).edits


def read(part: str) -> Coil:
    return WiringText(TEXT, "w").wiring().coils[part]


def test_values_replace_those_of_the_file_and_the_comment_stands_above() -> None:
    text = text_of(take("bridge"))
    assert (
        f"  # the hot one\n  # {TOLD}\n  bridge: {{kind: coil, resistance: 6.2 kΩ, inductance: 2.35 H,"
        in text
    )
    bridge = WiringText(text, "w").wiring().coils["bridge"]
    assert (bridge.inductance_h, bridge.covered) == (2.35, False)
    assert [(one.share, one.corner_hz) for one in bridge.eddy] == [(0.5, 9000.0)]


def test_a_coil_of_the_library_keeps_what_was_not_measured() -> None:
    neck = WiringText(text_of(take("neck")), "w").wiring().coils["neck"]
    assert neck.resistance_ohm == 6200.0
    assert neck.at_m == pytest.approx(0.15)
    assert not neck.covered, "the cover's loss is in the values"
    assert neck.sensitivity == WiringText(TEXT, "w").wiring().coils["neck"].sensitivity


def test_a_comment_follows_a_renamed_part_and_goes_with_a_removed_one() -> None:
    renamed = rename_part(document_of(TEXT, take("bridge"), "w"), "bridge", "hot").edits
    assert f"  # {TOLD}\n  hot: " in text_of(renamed)
    removed = remove(document_of(TEXT, take("bridge"), "w"), "bridge").edits
    assert TOLD not in text_of(removed)
    assert not [edit for edit in removed if edit.path[-1] == COMMENT]


def test_a_comment_for_a_part_that_is_not_there_is_left_out() -> None:
    assert text_of((Edit(("parts", "gone", COMMENT), TOLD),)) == text_of(())


def test_taken_twice_it_is_said_once() -> None:
    again = take_values(document_of(TEXT, take("bridge"), "w"), {"bridge": VALUES}, TOLD).edits
    assert text_of(again).count(TOLD) == 1
    assert set(again) == set(take("bridge"))


def test_a_comment_has_no_name_of_its_own() -> None:
    edits = take("bridge")
    names = edit_words(parse_tree(TEXT, "w"), [(edit.path, node_of(edit.value)) for edit in edits])
    assert [name for name, edit in zip(names, edits, strict=True) if edit.path[-1] == COMMENT] == [""]
    assert "bridge inductance 2.35 H" in names


def test_two_coils_of_a_housing_are_taken_with_their_coupling() -> None:
    both = {"bridge": VALUES, "neck": {**VALUES, "inductance": "2.5 H"}}
    first = take_values(document_of(TEXT, (), "w"), both, TOLD, "0.1600")
    assert first.name == "bridge and neck as measured"
    wiring = WiringText(text_of(first.edits), "w").wiring()
    assert [pair.coefficient for pair in wiring.couplings] == [0.16]
    assert wiring.coils["neck"].inductance_h == 2.5
    again = take_values(document_of(TEXT, first.edits, "w"), both, TOLD, "0.1700")
    assert [pair.coefficient for pair in WiringText(text_of(again.edits), "w").wiring().couplings] == [0.17]


HEARD = "sensitivity 2026-11-30: plucked strings, positions compared, against neck, within 2.0 dB"


def heard(document: Document, part: str = "bridge", then: float = Coil.sensitivity) -> tuple[Edit, ...]:
    values = {part: {"sensitivity": 0.08, "string_balance": [0.5, -0.5]}}
    return take_sensitivities(document, values, {part: HEARD}, {"neck": (then, ())}).edits


def test_sensitivities_are_written_beside_what_was_measured() -> None:
    """Each method keeps its comment, whichever came first, and says itself once."""
    of_neck = read("neck").sensitivity
    first = heard(document_of(TEXT, take("bridge"), "w"), then=of_neck)
    text = text_of(first)
    assert f"  # {TOLD}\n  # {HEARD}\n  bridge: " in text
    bridge = WiringText(text, "w").wiring().coils["bridge"]
    assert (bridge.sensitivity, bridge.string_balance_db, bridge.inductance_h) == (0.08, (0.5, -0.5), 2.35)
    again = heard(document_of(TEXT, first, "w"), then=of_neck)
    assert text_of(again) == text
    turned = take_values(document_of(TEXT, again, "w"), {"bridge": VALUES}, TOLD).edits
    assert (text_of(turned).count(HEARD), text_of(turned).count(TOLD)) == (1, 1)


def test_sensitivities_count_from_a_coil_that_is_as_it_was() -> None:
    with pytest.raises(InputError, match="find the values again"):
        heard(document_of(TEXT, (), "w"), then=0.5)
    with pytest.raises(InputError, match="bridge"):
        heard(document_of(TEXT, (), "w"), "output", then=read("neck").sensitivity)


@pytest.mark.parametrize("part", ["output", "nobody"])
def test_values_go_into_coils_alone(part: str) -> None:
    with pytest.raises(InputError, match="bridge"):
        take(part)
