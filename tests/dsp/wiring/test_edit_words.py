"""Edits and differences of wirings in a few words."""

from __future__ import annotations

import pytest
from places import DEMO

from dsp.documents.field import Field
from dsp.parts.kinds import KINDS
from dsp.wiring.edit_words import LONGEST
from dsp.wiring.editing.document import Edit
from server.wirings.edit_names import MOST_NAMED, difference_names, edit_names
from server.wirings.text import WiringText

TEXT = (DEMO / "baritone_sketch.yaml").read_text(encoding="utf-8")
SOUNDS = "1: neck_a + neck_b, 2: neck_a | neck_b, 3: neck_a, 4: neck_b, 5: bridge_a"
CASES = [
    ("parts.tone_cap.capacitance", "1 nF", "tone capacitor 1 nF"),
    ("parts.volume.resistance", "250 kΩ", "volume 250 kΩ"),
    ("parts.volume.taper", "[[0, 0], [1, 1]]", "volume taper changed"),
    ("parts.neck_a.winding", "reverse", "neck a winding reverse"),
    ("parts.neck_a.string_balance", None, "neck a string balance taken out"),
    ("parts.neck_a.like", "narrow_single_hot", "neck a from the library: narrow single hot"),
    ("parts.drain", "{kind: resistor, resistance: 1 MΩ}", "drain resistor 1 MΩ added"),
    ("parts.bass_cut", None, "bass cut capacitor taken out"),
    ("parts.selector", f"{{kind: sketch, positions: {{{SOUNDS}}}}}", "five sounds sketched"),
    ("parts.selector", "{kind: switch, poles: 2, positions: 5}", "selector now a switch"),
    ("parts.selector.positions", f"{{{SOUNDS}}}", "five sounds sketched"),
    ("parts.selector.positions.2", "neck_a | -bridge_a",
     "position 2: neck a and bridge a reversed in parallel"),
    ("parts.selector.positions.2", "neck_a + (neck_b | bridge_a)",
     "position 2: neck a and (neck b and bridge a in parallel) in series"),
    ("parts.selector.positions.2", None, "position 2 taken out"),
    ("labels.2", "Warm", "position 2 called “Warm”"),
    ("labels.2", None, "position 2 without a label"),
    ("joints.0", "[volume.2, output.tip]", "joint 1 changed"),
    ("joints.40", "[volume.2, output.tip]", "volume.2 soldered to output.tip"),
    ("joints.1", None, "joint 2 taken out"),
    ("couplings.0.coefficient", "0.14", "coupling of neck a and neck b 0.14"),
    ("couplings.2", "{coils: [neck_a, bridge_a], coefficient: 0}", "coupling of neck a and bridge a added"),
    ("instrument.scale", "650 mm", "scale 650 mm"),
    ("instrument.strings.0.gauge", "0.062 in", "string 1 gauge 0.062 in"),
    ("instrument.strings.0.wound", "false", "string 1 plain"),
    ("load.cable.length", "3 m", "cable length 3 m"),
    ("load.like", "cable_3m", "load from the library: cable 3m"),
    ("name", "Mine", "name Mine"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "words"), CASES, ids=[f"{p} {v}"[:50] for p, v, _ in CASES])
def test_an_edit_in_words(path: str, value: str | None, words: str) -> None:
    assert edit_names(TEXT, [Edit(tuple(path.split(".")), value)]) == (words,)


@pytest.mark.parametrize(
    ("kind", "field"), [(name, field) for name, kind in KINDS.items() for field in kind.fields],
    ids=lambda one: one if isinstance(one, str) else one.name,
)  # fmt: skip
def test_no_field_of_any_kind_shows_the_syntax_of_a_file(kind: str, field: Field) -> None:
    text = f"format: 1\nparts:\n  my_part: {{kind: {kind}}}\n"
    for value in ("7", "{a: [1, {b: 2}], c: d}", "[[A0, A1], [B0, B1]]", None):
        (words,) = edit_names(text, [Edit(("parts", "my_part", field.name), value)])
        assert words
        assert not set(words) & set("{}[]")
        assert len(words) <= LONGEST


def test_what_goes_with_new_sounds_has_no_name_of_its_own() -> None:
    """A switch replaced by a sketch is one thing that was done, and so are sounds with their labels."""
    edits = [
        Edit(("parts", "selector"), f"{{kind: sketch, positions: {{{SOUNDS}}}}}"),
        Edit(("joints",), "[[selector.hot, output.tip]]"),
        Edit(("labels",), "{1: Warm}"),
    ]
    assert edit_names(TEXT, edits) == ("five sounds sketched", "", "")
    assert edit_names(TEXT, edits[1:]) == ("joints soldered anew", "other labels")


def test_the_same_sounds_in_another_order_are_said_to_be_so() -> None:
    rows = [line.split(": ")[1] for line in TEXT.splitlines() if line.startswith("      ") and ": " in line]
    assert len(rows) == 6
    value = ", ".join(f'{n}: "{sound}"' for n, sound in enumerate(reversed(rows), 1))
    edit = Edit(("parts", "selector", "positions"), f"{{{value}}}")
    assert edit_names(TEXT, [edit]) == ("the sounds in another order",)


def changed(*edits: tuple[str, str | None]) -> str:
    text = WiringText(TEXT, "w")
    text.change([(path.split("."), value) for path, value in edits])
    return text.dump()


def test_two_versions_differ_by_what_was_edited() -> None:
    after = changed(
        ("parts.tone_cap.capacitance", "1 nF"),
        ("joints.0", "[selector.hot, volume.3]"),
        ("parts.drain", "{kind: resistor, resistance: 1 MΩ}"),
        ("load.cable.length", "3 m"),
    )
    assert sorted(difference_names(TEXT, after)) == [
        "cable length 3 m", "drain resistor 1 MΩ added", "tone capacitor 1 nF", "tone.2 off joint 1",
    ]  # fmt: skip
    assert difference_names(TEXT, f"# a comment\n{TEXT}") == []


def test_sounds_that_differ_are_one_difference_with_their_labels() -> None:
    after = changed(("parts.selector.positions", f"{{{SOUNDS}}}"), ("labels", "{1: Warm}"))
    assert difference_names(TEXT, after) == ["five sounds sketched"]


def test_many_differences_are_counted() -> None:
    rotary = (DEMO / "baritone.yaml").read_text(encoding="utf-8")
    found = difference_names(TEXT, rotary)
    assert len(found) == MOST_NAMED + 1
    assert found[-1].endswith(" more")
    assert "selector now a switch" in found
