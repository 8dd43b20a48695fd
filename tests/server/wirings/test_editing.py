"""Things done at the bench as edits of a text: exact results, comments kept, any sequence undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from places import DEMO

from dsp.errors import InputError
from dsp.parts.kinds import KINDS, terminals_of
from dsp.parts.library.index import LIBRARY
from dsp.parts.load import Load
from dsp.wiring.editing import choosing, joints, parts, renaming
from dsp.wiring.editing.additions import ADDITIONS
from dsp.wiring.editing.document import Document, Edit, Edited
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import coils_alone, read_unfinished, read_wiring
from server.commissions.starters import STARTERS
from server.files.yaml_text import parse_tree
from server.wirings.drafts import document_of
from server.wirings.edit_names import edit_names
from server.wirings.text import WiringText

BLANK = STARTERS["blank"].text()
HUMBUCKERS = STARTERS["two_humbuckers"].text()
TEXTS = {
    "blank": BLANK,
    "two humbuckers": HUMBUCKERS,
    "baritone": (DEMO / "baritone.yaml").read_text("utf-8"),
    "twelve": (DEMO / "twelve.yaml").read_text("utf-8"),
    "sketch": (DEMO / "baritone_sketch.yaml").read_text("utf-8"),
}

Operation = Callable[[Document], Edited]


@dataclass
class Draft:
    """A draft to which one thing after another is done."""

    saved: str
    edits: tuple[Edit, ...] = ()
    names: list[str] = field(default_factory=list)
    notes: tuple[str, ...] = ()

    def do(self, operation: Operation) -> Draft:
        done = operation(document_of(self.saved, self.edits, "wiring"))
        self.edits, self.notes = done.edits, done.notes
        self.names.append(done.name)
        return self

    @property
    def text(self) -> str:
        return text_with(self.saved, self.edits)

    @property
    def wiring(self) -> Wiring:
        return read_unfinished(parse_tree(self.text, "wiring"), "wiring")[0]

    @property
    def lacking(self) -> list[str]:
        return [one.got for one in read_unfinished(parse_tree(self.text, "wiring"), "wiring")[1]]

    def joints(self) -> list[set[str]]:
        return [{".".join(one) for one in joint.terminals} for joint in self.wiring.joints]


def text_with(saved: str, edits: tuple[Edit, ...]) -> str:
    edited = WiringText(saved, "wiring")
    edited.change(edits)
    return edited.dump() if edits else saved


def comments(text: str) -> list[str]:
    return [line.partition("#")[2].strip() for line in text.splitlines() if " #" in f" {line}"]


def test_a_guitar_is_built_from_blank_and_every_deed_has_a_name() -> None:
    draft = Draft(BLANK)
    draft.do(lambda one: parts.add(one, "pot")).do(lambda one: parts.add(one, "pot"))
    draft.do(lambda one: parts.add(one, "capacitor"))
    draft.do(lambda one: joints.unsolder(one, "coil.start"))
    assert draft.notes == ("output.tip is loose now",)
    for first, second in (
        ("coil.start", "volume.3"), ("volume.2", "output.tip"), ("volume.1", "output.sleeve"),
        ("tone.3", "volume.3"), ("tone.2", "tone_cap.a"), ("tone_cap.b", "volume.1"),
    ):  # fmt: skip
        draft.do(lambda one, a=first, b=second: joints.solder(one, a, b))
    assert draft.joints() == [
        {"coil.finish", "output.sleeve", "volume.1", "tone_cap.b"},
        {"coil.start", "volume.3", "tone.3"},
        {"volume.2", "output.tip"},
        {"tone.2", "tone_cap.a"},
    ]
    assert draft.names[:4] == [
        "Added volume, a pot of 500 kΩ",
        "Added tone, a pot of 500 kΩ",
        "Added tone_cap, a capacitor of 22 nF",
        "Unsoldered coil.start",
    ]
    assert draft.names[4] == "Soldered coil.start to volume.3"
    assert comments(draft.text) == comments(BLANK)
    assert not draft.lacking


@pytest.mark.parametrize("what", list(ADDITIONS))
def test_everything_can_be_added_and_reads(what: str) -> None:
    draft = Draft(BLANK)
    if what == "sketch":
        draft.do(lambda one: parts.add(one, "coil"))
    before = set(draft.wiring.parts)
    draft.do(lambda one: parts.add(one, what))
    new = set(draft.wiring.parts) - before
    assert len(new) == (2 if what == "pickup" else 1)
    assert all(name in draft.names[-1] for name in new)
    assert set(KINDS) <= {one.kind for one in ADDITIONS.values()}


def test_a_pickup_is_two_coupled_coils_at_a_free_place() -> None:
    draft = Draft(BLANK).do(lambda one: parts.add(one, "pickup"))
    neck_a, neck_b = draft.wiring.coils["bridge_a"], draft.wiring.coils["bridge_b"]
    assert (neck_a.winding, neck_b.winding, neck_a.magnet, neck_b.magnet) == (1, -1, 1, -1)
    assert neck_a.at_m is not None
    assert neck_b.at_m is not None
    assert neck_a.at_m - neck_b.at_m == pytest.approx(0.018)
    (coupling,) = draft.wiring.couplings
    assert (coupling.first, coupling.second, coupling.coefficient) == ("bridge_a", "bridge_b", 0.18)
    assert draft.names == ["Added bridge_a and bridge_b, a two-coil pickup, coupled by 0.18"]


def test_a_stacked_pickup_is_at_one_place() -> None:
    draft = Draft(BLANK).do(lambda one: parts.add(one, "pickup", name="deep", like="stacked_upper_coil"))
    upper, lower = draft.wiring.coils["deep_a"], draft.wiring.coils["deep_b"]
    assert upper.at_m == lower.at_m
    assert upper.winding == -lower.winding
    assert draft.wiring.couplings[0].coefficient == -0.3


def test_what_is_removed_leaves_everything_that_named_it() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: parts.remove(one, "tone"))
    assert draft.names == ["Removed tone: off 2 joints, split has a shaft of its own"]
    assert draft.notes == ("tone_cap.a is loose now",)
    assert "tone" not in draft.wiring.parts
    assert not draft.wiring.ganged
    assert {"selector.A0", "volume.3"} in draft.joints()
    draft.do(lambda one: parts.remove(one, "selector"))
    assert draft.names[-1] == "Removed selector: off 3 joints, its labels too"
    assert not draft.wiring.labels
    draft.do(lambda one: parts.remove(one, "neck_b"))
    assert "its coupling with neck_a too" in draft.names[-1]
    assert len(draft.wiring.couplings) == 1
    assert "# the series links, pulled to ground when the switch is up" in draft.text


def test_what_was_joined_through_a_removed_part_stays_joined() -> None:
    text = BLANK.replace(
        "  - [coil.start, output.tip]\n", "  - [coil.start, spare.a]\n  - [spare.a, output.tip]\n"
    ).replace("output: {kind: jack}", "output: {kind: jack}\n  spare: {kind: capacitor, capacitance: 1 nF}")
    draft = Draft(text).do(lambda one: parts.remove(one, "spare"))
    assert {"coil.start", "output.tip"} in draft.joints()


def test_a_removed_part_goes_out_of_sketches_and_off_metal() -> None:
    draft = Draft(TEXTS["sketch"])
    draft.do(lambda one: parts.add(one, "metal"))
    draft.edits = (*draft.edits, Edit(("parts", "strings", "on"), "[neck_a, neck_b]"))
    first = next(iter(draft.wiring.sketches["selector"].positions))
    draft.do(lambda one: parts.remove(one, "neck_a"))
    assert "neck_a" not in draft.text
    assert draft.wiring.parts["strings"].on == ("neck_b",)  # type: ignore[attr-defined]
    assert f"out of position {first} of selector" in draft.names[-1]


def test_a_wiring_without_jack_or_coil_says_so_and_stays_editable() -> None:
    draft = Draft(BLANK).do(lambda one: parts.remove(one, "output"))
    assert draft.lacking == ["no jack"]
    draft.do(lambda one: parts.remove(one, "coil"))
    assert draft.lacking == ["no jack", "no coil"]
    with pytest.raises(InputError, match="no jack"):
        read_wiring(parse_tree(draft.text, "wiring"), "wiring")
    draft.do(lambda one: parts.add(one, "jack")).do(lambda one: parts.add(one, "coil"))
    draft.do(lambda one: joints.solder(one, "neck.start", "output.tip"))
    assert not draft.lacking
    assert draft.joints() == [{"neck.start", "output.tip"}]


def test_a_second_jack_leaves_the_sound_where_it_was() -> None:
    text = BLANK.replace("output", "socket")
    draft = Draft(text).do(lambda one: parts.add(one, "jack", name="second"))
    assert draft.wiring.hot == ("socket", "tip")
    draft.do(lambda one: parts.remove(one, "second"))
    draft.do(lambda one: parts.remove(one, "socket"))
    assert draft.lacking == ["no jack"]


def test_a_name_changes_everywhere_and_comments_stay() -> None:
    draft = Draft(HUMBUCKERS)
    draft.edits = (Edit(("parts", "tone", "taper"), "linear"), Edit(("joints", "5"), "[tone.1, tone_cap.a]"))
    draft.do(lambda one: renaming.rename_part(one, "tone", "treble"))
    assert draft.names == ["Renamed tone to treble"]
    assert "tone:" not in draft.text
    assert "tone.1" not in draft.text
    assert draft.wiring.ganged == {"split": "treble"}
    assert "treble: {kind: pot, resistance: 500 kΩ, taper: linear}" in draft.text
    assert list(draft.wiring.parts)[5] == "treble"
    assert comments(draft.text) == comments(HUMBUCKERS)
    draft.do(lambda one: renaming.rename_part(one, "treble", "tone"))
    assert "treble" not in draft.text
    assert all(edit.path[0] != "renamed" for edit in draft.edits)


def test_a_renamed_selector_stays_the_selector() -> None:
    draft = Draft(TEXTS["sketch"]).do(lambda one: renaming.rename_part(one, "selector", "wheel"))
    assert draft.wiring.selector == "wheel"
    draft.do(lambda one: renaming.rename_part(one, "neck_a", "upper"))
    assert "neck_a" not in draft.text
    assert next(iter(draft.wiring.coils)) == "upper"


def test_a_new_name_is_one_that_the_saved_version_has_not() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: parts.remove(one, "tone"))
    for name, why in (
        ("tone", "saved version"),
        ("volume", "another part"),
        ("2nd", "starting with a letter"),
    ):
        with pytest.raises(InputError, match=why):
            draft.do(lambda one, new=name: renaming.rename_part(one, "tone_cap", new))
    draft.do(lambda one: parts.add(one, "pot"))  # but a new part may have the name of a removed one
    assert "tone" in draft.wiring.parts


def test_leads_are_swapped_in_every_joint() -> None:
    draft = Draft(BLANK).do(lambda one: joints.swap_leads(one, "coil"))
    assert draft.joints() == [{"coil.finish", "output.tip"}, {"coil.start", "output.sleeve"}]
    assert draft.names == ["Swapped the leads of coil"]
    draft.do(lambda one: joints.swap_leads(one, "coil"))
    assert draft.edits == ()  # as it was saved
    pots = Draft(HUMBUCKERS).do(lambda one: joints.swap_leads(one, "volume"))
    assert pots.names == ["Swapped the lugs 1 and 3 of volume"]
    with pytest.raises(InputError, match="two leads"):
        draft.do(lambda one: joints.swap_leads(one, "output"))


def test_joints_that_are_soldered_together_become_one() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: joints.solder(one, "volume.2", "tone_cap.a"))
    assert draft.notes == ("their joints are one now",)
    assert {"volume.2", "output.tip", "tone.1", "tone_cap.a"} in draft.joints()
    with pytest.raises(InputError, match="already"):
        draft.do(lambda one: joints.solder(one, "volume.2", "tone.1"))
    with pytest.raises(InputError, match=r"volume\.1"):
        draft.do(lambda one: joints.solder(one, "volume.4", "tone.1"))
    with pytest.raises(InputError, match="loose"):
        Draft(BLANK).do(lambda one: parts.add(one, "pot")).do(lambda one: joints.unsolder(one, "volume.2"))


def test_a_wire_taken_out_leaves_what_hangs_on_either_end() -> None:
    draft = Draft(HUMBUCKERS)
    ground = next(joint for joint in draft.joints() if "output.sleeve" in joint)
    near = ["volume.1", "neck_b.finish", "bridge_b.finish"]
    draft.do(lambda one: joints.unsolder_wire(one, "volume.1", "output.sleeve", near))
    assert draft.names == ["Unsoldered volume.1 from output.sleeve"]
    assert set(near) in draft.joints()
    assert ground - set(near) in draft.joints()
    assert comments(draft.text) == comments(HUMBUCKERS)
    draft.do(lambda one: joints.unsolder_wire(one, "volume.2", "output.tip", []))
    assert draft.notes == ("volume.2, output.tip are loose now",)
    assert not any("volume.2" in joint for joint in draft.joints())
    draft.do(lambda one: joints.unsolder_wire(one, "neck_b.finish", "volume.1", []))
    assert draft.notes == ("neck_b.finish is loose now",)
    with pytest.raises(InputError, match="one joint"):
        draft.do(lambda one: joints.unsolder_wire(one, "volume.1", "output.sleeve", []))
    with pytest.raises(InputError, match=r"joint of bridge_b\.finish"):
        draft.do(lambda one: joints.unsolder_wire(one, "bridge_b.finish", "volume.1", ["output.tip"]))
    with pytest.raises(InputError, match="ends of a wire"):
        draft.do(lambda one: joints.unsolder_wire(one, "bridge_b.finish", "volume.1", ["volume.1"]))


def test_a_wire_taken_out_and_soldered_again_changes_nothing_that_sounds() -> None:
    draft = Draft(BLANK).do(lambda one: joints.unsolder_wire(one, "coil.start", "output.tip", []))
    draft.do(lambda one: joints.solder(one, "coil.start", "output.tip"))
    assert sorted(map(sorted, draft.joints())) == sorted(map(sorted, Draft(BLANK).joints()))


def test_the_runs_that_one_solders_are_kept_with_the_drawing() -> None:
    draft = Draft(BLANK).do(lambda one: parts.add(one, "pot"))
    draft.do(lambda one: joints.solder(one, "coil.start", "volume.3", run=True))
    draft.do(lambda one: joints.solder(one, "volume.2", "output.tip", run=True))
    assert "wires: [[coil.start, volume.3], [volume.2, output.tip]]" in draft.text
    assert comments(draft.text) == comments(BLANK)
    draft.do(lambda one: joints.unsolder_wire(one, "volume.2", "output.tip", ["volume.2"]))
    assert "wires: [[coil.start, volume.3]]" in draft.text
    draft.do(lambda one: joints.unsolder(one, "volume.3"))
    assert "wires: []" in draft.text


def test_another_switch_keeps_the_leads_that_it_has_lugs_for() -> None:
    draft = Draft(HUMBUCKERS)
    assert set(terminals_of(draft.wiring.parts["selector"])) == {"A0", "A1", "A2"}
    draft.do(lambda one: choosing.choose(one, "selector", "rotary_6_two_pole"))
    assert draft.names == ["selector is a rotary 6 two pole now"]
    assert draft.wiring.positions == tuple("123456")
    assert {"neck_a.start", "selector.A1"} in draft.joints()
    draft.do(lambda one: choosing.choose(one, "split", "toggle_3_selector"))
    assert "it has no B0, B2: what was there came off" in draft.notes
    assert {"bridge_a.finish", "bridge_b.start"} in draft.joints()
    assert draft.wiring.ganged == {"split": "tone"}
    draft.do(lambda one: choosing.choose(one, "selector", "toggle_on_on"))
    assert "no label for position 3 any more" in draft.notes
    assert set(draft.wiring.labels) == {"1", "2"}


def test_a_switch_with_a_table_of_its_own_becomes_one_of_the_library() -> None:
    draft = Draft(TEXTS["baritone"]).do(lambda one: choosing.choose(one, "selector", "rotary_6_four_pole"))
    assert len(terminals_of(draft.wiring.parts["selector"])) == 28
    assert "contacts" not in draft.text.partition("joints:")[0].partition("selector:")[2]


def test_shafts_and_couplings_are_set_and_taken_out() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: choosing.gang(one, "split", "volume"))
    assert draft.wiring.ganged == {"split": "volume"}
    draft.do(lambda one: choosing.gang(one, "split", None))
    assert not draft.wiring.ganged
    draft.do(lambda one: choosing.couple(one, "neck_b", "neck_a", "0.12"))
    assert draft.wiring.couplings[0].coefficient == 0.12
    draft.do(lambda one: choosing.couple(one, "neck_a", "neck_b", None))
    assert [one.first for one in draft.wiring.couplings] == ["bridge_a"]
    draft.do(lambda one: choosing.couple(one, "neck_a", "bridge_a", "0.01"))
    assert draft.wiring.couplings[-1].coefficient == 0.01
    assert draft.names[-1] == "Coupled neck_a and bridge_a: 0.01"
    with pytest.raises(InputError, match="a switch or a pot"):
        draft.do(lambda one: choosing.gang(one, "tone_cap", "volume"))


def test_a_part_takes_its_values_from_the_library() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: choosing.choose(one, "neck_a", "double_hot_coil"))
    assert "neck_a: {kind: coil, like: double_hot_coil, at: 156 mm}" in draft.text
    assert draft.notes == ("couple it with its twin: 0.15",)
    draft.do(lambda one: choosing.choose(one, "volume", "pot_1M_linear"))
    assert draft.wiring.parts["volume"].resistance_ohm == 1e6  # type: ignore[attr-defined]
    load = next(entry.name for entry in LIBRARY.values() if entry.kind == "load")
    draft.do(lambda one: choosing.choose(one, "load", load))
    assert draft.names[-1].startswith("load like")


def load_after(load: str, *likes: str) -> tuple[str, Load]:
    """Return the load's text and what is read, after entries of the library were chosen."""
    draft = Draft(HUMBUCKERS.split("\nload:")[0] + "\n" + load)
    for like in likes:
        draft.do(partial(choosing.choose, name="load", like=like))
    return draft.text.partition("\nload:")[2], draft.wiring.load


@pytest.mark.parametrize(
    ("load", "likes", "want"),
    [
        ("", ("valve_input",), Load(5.0, 100e-12, 1e6, 150e-12)),
        ("load: {like: cable_10m}\n", ("valve_input",), Load(10.0, 100e-12, 1e6, 150e-12)),
        ("load: {like: cable_10m}\n", ("low_input", "cable_3m"), Load(3.0, 100e-12, 136e3, 32e-12)),
        ("load: {like: interface, cable: {length: 2 m, capacitance: 80 pF/m}}\n", ("low_input",),
         Load(2.0, 80e-12, 136e3, 32e-12)),
        ("load: {cable: {length: 2 m, capacitance: 80 pF/m}}\n", ("buffer_after_cable",),
         Load(2.0, 80e-12, 500e3, 20e-12)),
        ("load: {amplifier: {resistance: 470 kΩ, capacitance: 90 pF}}\n", ("cable_6m",),
         Load(6.0, 100e-12, 470e3, 90e-12)),
        ("load: {like: cable_10m}\n", ("buffer_at_jack",), Load(0.0, 100e-12, 1e6, 20e-12)),
        ("load: {like: valve_input}\n", ("sweep_load",), Load(0.0, 100e-12, 200e3, 470e-12)),
        ("load: {like: sweep_load}\n", ("valve_input",), Load(0.0, 100e-12, 1e6, 150e-12)),
    ],
)  # fmt: skip
def test_an_input_keeps_the_cable_and_a_cable_the_input(
    load: str, likes: tuple[str, ...], want: Load
) -> None:
    assert load_after(load, *likes)[1] == want


def test_an_input_chosen_says_what_stays() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: choosing.choose(one, "load", "valve_input"))
    assert draft.names == ["load like valve input of the library"]
    assert draft.notes == ("the cable stays as it was",)
    draft.do(lambda one: choosing.choose(one, "load", "buffer_at_jack"))
    assert len(draft.notes) == 0


def test_the_drawing_follows_what_is_removed_and_renamed() -> None:
    drawing = "drawing:\n  places: {coil: [10, 20], output: [3, 4]}\n  wires: [[coil.start, output.tip]]\n"
    document = document_of(BLANK + drawing, (), "wiring")
    gone = text_with(BLANK + drawing, parts.remove(document, "coil").edits)
    assert "places: {output: [3, 4]}" in gone
    assert "wires: []" in gone
    renamed = text_with(BLANK + drawing, renaming.rename_part(document, "coil", "neck").edits)
    assert "places: {neck: [10, 20], output: [3, 4]}" in renamed
    assert "wires: [[neck.start, output.tip]]" in renamed


def test_a_draft_names_its_renamings_and_joints_without_the_page() -> None:
    draft = Draft(HUMBUCKERS).do(lambda one: renaming.rename_part(one, "tone", "treble"))
    draft.do(lambda one: joints.solder(one, "volume.2", "treble.3"))
    draft.do(lambda one: joints.unsolder(one, "bridge_a.start"))
    names = edit_names(HUMBUCKERS, draft.edits)
    assert "tone called treble" in names
    assert "treble.3 soldered to joint 7" in names


def test_takes_need_the_coils_alone() -> None:
    draft = Draft(HUMBUCKERS)
    draft.edits = (Edit(("parts", "neck_a"), None),)  # its joints still name it
    coils = read_wiring(coils_alone(parse_tree(draft.text, "wiring")), "wiring").coils
    assert list(coils) == ["neck_b", "bridge_a", "bridge_b"]


# --- any sequence


@st.composite
def operations(draw: st.DrawFn, document: Document) -> Operation:
    """Draw something to do that the bench offers for this draft."""
    names = list(document.parts)
    ends = [
        f"{name}.{lead}"
        for name, part in document.parts.items()
        if part is not None
        for lead in terminals_of(part)
    ]
    what = draw(st.sampled_from(["add", "remove", "rename", "solder", "solder", "unsolder", "swap", "choose",
                                 "gang", "couple"]))  # fmt: skip
    name = draw(st.sampled_from(names)) if names else ""
    new = draw(st.sampled_from(["one", "two", "tone", "selector", "volume", "neck-x", "ä_1", "spare"]))
    if what == "add" or not names:
        addition = draw(st.sampled_from(list(ADDITIONS)))
        return lambda one: parts.add(one, addition)
    if what == "remove":
        return lambda one: parts.remove(one, name)
    if what == "rename":
        return lambda one: renaming.rename_part(one, name, new)
    if what == "choose":
        like = draw(st.sampled_from(list(LIBRARY)))
        return lambda one: choosing.choose(one, name, like)
    if what == "gang":
        to = draw(st.sampled_from([None, *names]))
        return lambda one: choosing.gang(one, name, to)
    if what == "couple":
        other = draw(st.sampled_from(names))
        amount = draw(st.sampled_from([None, "0.1", "-0.05"]))
        return lambda one: choosing.couple(one, name, other, amount)
    if what == "swap":
        return lambda one: joints.swap_leads(one, name)
    first, second = (draw(st.sampled_from(ends)) for _ in range(2))
    if what == "unsolder":
        return lambda one: joints.unsolder(one, first)
    return lambda one: joints.solder(one, first, second)


SETTINGS: dict[str, Any] = {
    "deadline": None,
    "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large],
}


@given(data=st.data())
@settings(max_examples=6, **SETTINGS)
def test_a_few_sequences_read_again_and_are_undone_byte_for_byte(data: st.DataObject) -> None:
    do_and_undo(data, BLANK)


@pytest.mark.long
@given(data=st.data(), saved=st.sampled_from(sorted(TEXTS)))
@settings(max_examples=60, **SETTINGS)
def test_any_sequence_reads_again_and_is_undone_byte_for_byte(data: st.DataObject, saved: str) -> None:
    do_and_undo(data, TEXTS[saved])


def do_and_undo(data: st.DataObject, text: str) -> None:
    """Do up to eight things to a wiring's text; each state reads again, and each undo gives its text."""
    past: list[tuple[tuple[Edit, ...], str]] = []
    edits: tuple[Edit, ...] = ()
    for _ in range(data.draw(st.integers(1, 8))):
        document = document_of(text, edits, "wiring")
        operation = data.draw(operations(document))
        try:
            done = operation(document)
        except InputError:
            continue  # it says why; nothing is changed
        before = text_with(text, edits)
        after = text_with(text, done.edits)
        try:
            wiring, _ = read_unfinished(parse_tree(after, "wiring"), "wiring")
        except InputError:
            continue  # a coefficient beyond the possible, a second sketch: refused before it is an edit
        assert done.name
        assert set(wiring.parts) == set(document_of(text, done.edits, "wiring").parts)
        assert comments(before) == comments(after) or "Removed" in done.name
        past.append((edits, before))
        edits = done.edits
    for earlier, before in reversed(past):
        assert text_with(text, earlier) == before
    assert text_with(text, ()) == text
