"""Items of lists and entries of maps changed, added and removed; comments stay."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from places import DEMO

from dsp.documents.tree import Entries, Items, Node
from dsp.errors import InputError
from server.files import yaml_splice, yaml_text
from server.files.yaml_splice import added, cut
from server.files.yaml_text import composed, parse_tree
from server.wirings.text import WiringText

BARITONE = (DEMO / "baritone.yaml").read_text("utf-8")
STYLES = {
    "dashes": "all: # a\n  # of x\n  - x  # x\n  # of y\n  - [y, y]\n\n  - {z: 1} # z\n# end\nafter: 2\n",
    "one line": "before: 1\nall: [x, [y, y], {z: 1}] # a\nafter: 2\n",
    "lines in brackets": "all: [\n  x, # x\n  [y,\n   y],\n  {z: 1}\n  ]\nafter: 2\n",
    "maps of lines": "all:\n- a: 1\n  b: 2 # b\n  # c\n- a: 3\n- a: 4\n  c:\n  - 5\n  # end\nafter: 2\n",
    "a map": "all:\n  x: 1 # x\n  # of y\n  y: [2,\n      3]\n  z: # z\n    - 4\n    # in z\nafter: 2\n",
    "a map in a line": "all: {x: 1, y: [2, 3], z: {w: 4}} # a\nafter: 2\n",
    "the last of the text": "after: 2\nall:\n  - x\n  - y\n  - z",
}


def plain(node: Node | None) -> Any:
    """Return a tree without its lines."""
    if isinstance(node, Items):
        return [plain(item) for item in node.items]
    if isinstance(node, Entries):
        return {key.text: plain(value) for key, value in node.entries}
    return None if node is None else node.text


def read(text: str) -> Any:
    return plain(parse_tree(text, "text"))


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("which", [(0,), (1,), (2,), (2, 0), (2, 1), (2, 1, 0)])
def test_only_the_removed_item_is_gone(style: str, which: tuple[int, ...]) -> None:
    text = STYLES[style]
    want = read(text)
    names = list(want["all"]) if isinstance(want["all"], dict) else ["0", "1", "2"]
    for k in which:
        text = cut(text, [("all", names[k])])
        if isinstance(want["all"], dict):
            del want["all"][names[k]]
        else:
            del want["all"][k]
    assert read(text) == want


def comments(text: str) -> list[str]:
    return [line.partition("#")[2].strip() for line in text.splitlines() if line.partition("#")[1]]


def test_comments_between_items_stay_and_those_of_an_item_go_with_it() -> None:
    assert comments(cut(STYLES["dashes"], [("all", "1")])) == ["a", "of x", "x", "of y", "z", "end"]
    assert comments(cut(STYLES["dashes"], [("all", "0")])) == ["a", "of x", "of y", "z", "end"]
    assert comments(cut(STYLES["a map"], [("all", "y")])) == ["x", "of y", "z", "in z"]


@pytest.mark.parametrize("style", [name for name in STYLES if "map" not in name or name == "maps of lines"])
def test_an_item_is_added_behind_the_last_before_what_follows(style: str) -> None:
    want = read(STYLES[style])
    text = added(STYLES[style], ("all",), ["new"])
    assert read(text) == {**want, "all": [*want["all"], "new"]}
    assert comments(text) == comments(STYLES[style])


@settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(range(8)), unique=True), st.integers(0, 3), st.randoms())
def test_numbers_are_those_of_the_text_whatever_the_order(gone: list[int], more: int, random: Any) -> None:
    """Joints removed, changed and added in any order equal the same changes to a list."""
    want: list[Any] = read(BARITONE)["joints"]
    edits: list[tuple[tuple[str, ...], str | None]] = [(("joints", str(k)), None) for k in gone]
    for k in range(8, 8 + more):
        want.append([f"volume.{k}", "tone.1"])
        edits.append((("joints", str(k)), f"[volume.{k}, tone.1]"))
    changed = random.randrange(8)
    if changed not in gone:
        want[changed] = ["tone.1", "tone_cap.a"]
        edits.append((("joints", str(changed)), "[tone.1, tone_cap.a]"))
    random.shuffle(edits)
    text = WiringText(BARITONE, "w")
    text.change(edits)
    assert read(text.dump())["joints"] == [joint for k, joint in enumerate(want) if k not in gone]
    assert len(comments(text.dump())) == len(comments(BARITONE))


def changed(*edits: tuple[str, str | None], text: str = BARITONE) -> str:
    wiring = WiringText(text, "w")
    wiring.change([(tuple(path.split("/")), value) for path, value in edits])
    return wiring.dump()


def test_one_change_changes_its_line_alone() -> None:
    text = changed(("instrument/strings/1/gauge", "0.047 in"))
    before, after = BARITONE.splitlines(), text.splitlines()
    assert [k for k, line in enumerate(after) if line != before[k]] == [8]
    assert after[8] == "    - {note: E2, gauge: 0.047 in, wound: true}"


def test_an_added_item_can_be_changed_and_removed() -> None:
    add = ("instrument/strings/6", "{note: E4, gauge: 0.010 in}")
    text = changed(
        ("instrument/strings/7", "{note: A4, gauge: 0.008 in}"), add, ("instrument/strings/6/wound", "true")
    )
    strings = read(text)["instrument"]["strings"]
    assert strings[6:] == [
        {"note": "E4", "gauge": "0.010 in", "wound": "true"},
        {"note": "A4", "gauge": "0.008 in"},
    ]
    assert changed(("instrument/strings/6", None)) == BARITONE
    text = changed(("instrument/strings/6", None), ("instrument/strings/7", "{note: A4, gauge: 0.008 in}"))
    assert len(read(text)["instrument"]["strings"]) == 7
    assert changed(("instrument/strings/0/gauge", "1 mm"), ("instrument/strings/0", None)).count("note:") == 5


def test_lists_and_maps_are_made_where_they_are_missing() -> None:
    bare = "format: 1\nparts: {neck: {kind: coil}}\n"
    text = changed(
        ("labels/1", "Neck"), ("joints/0", "[neck.start, neck.finish]"), ("instrument/scale", "648 mm"),
        ("instrument/strings/0", "{note: E2, gauge: 1 mm}"),
        ("couplings/0", "{coils: [a, b], coefficient: 0}"),
        text=bare,
    )  # fmt: skip
    found = read(text)
    assert found["labels"] == {"1": "Neck"}
    assert found["joints"] == [["neck.start", "neck.finish"]]
    assert found["instrument"] == {"scale": "648 mm", "strings": [{"note": "E2", "gauge": "1 mm"}]}
    assert found["couplings"][0]["coefficient"] == "0"


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("joints/9", "up to 8"),
        ("joints/x", "an item's number"),
        ("joints/-1", "an item's number"),
        ("joints/99999999999999999999", "an item's number"),
        ("joints/0/0/0", "joints.0.0"),
        ("parts/none/resistance", "'none'"),
        ("name/0", "'name'"),
    ],
)
def test_an_impossible_place_is_refused(path: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        changed((path, "x"))


def test_removing_a_missing_item_changes_nothing() -> None:
    for path in ("joints/9", "labels/9", "none", "parts/none/x", "joints/x"):
        assert changed((path, None)) == BARITONE


def test_a_list_or_map_can_be_emptied_and_filled_again() -> None:
    text = changed(*[(f"joints/{k}", None) for k in range(8)], *[(f"labels/{k}", None) for k in range(1, 7)])
    assert (read(text)["joints"], read(text)["labels"]) == ([], {})
    assert comments(text) == comments(BARITONE)
    again = changed(("joints/0", "[volume.2, output.tip]"), ("labels/2", "Both"), text=text)
    assert (read(again)["joints"], read(again)["labels"]) == ([["volume.2", "output.tip"]], {"2": "Both"})
    assert comments(again) == comments(BARITONE)


def test_many_are_cut_as_if_one_after_another() -> None:
    """Every set of items of every style; the last goes first, so that no number moves."""
    for style, text in STYLES.items():
        want = read(text)["all"]
        names = list(want) if isinstance(want, dict) else ["0", "1", "2"]
        for gone in itertools.chain.from_iterable(itertools.combinations(names, n) for n in range(4)):
            one_by_one = text
            for name in reversed(gone):
                one_by_one = cut(one_by_one, [("all", name)])
            at_once = cut(text, [("all", name) for name in gone])
            assert at_once == one_by_one, (style, gone)


def test_five_hundred_edits_parse_the_text_a_few_times(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps are counted, not seconds: a text of 20 KB takes 0.2 s to read."""
    rows = range(250)
    parts = "".join(f"  r{k}: {{kind: resistor, resistance: 1 MΩ}}  # {k}\n" for k in rows)
    joints = "".join(f"  - [r{k}.a, r{k}.b]\n" for k in rows)
    text = f"format: 1\nparts:\n{parts}joints:\n{joints}"
    read_whole: list[int] = []

    def counted(given: str, file: str) -> Any:
        if len(given) > 1000:
            read_whole.append(len(given))
        return composed(given, file)

    for module in (yaml_splice, yaml_text):
        monkeypatch.setattr(module, "composed", counted)
    wiring = WiringText(text, "w")
    wiring.change([(("parts", f"r{k}"), None) for k in rows] + [(("joints", str(k)), None) for k in rows])
    assert read(wiring.dump()) == {"format": "1", "parts": {}, "joints": []}
    assert len(read_whole) <= 4
    wiring = WiringText(text, "w")
    wiring.change([(("joints", str(k)), "[r1.a, r2.b]") for k in range(250, 750)])
    assert read(wiring.dump())["joints"][250:] == [["r1.a", "r2.b"]] * 500
    assert len(read_whole) <= 4 + 5


def test_a_newer_line_on_sensitivity_takes_the_place_of_the_older_one() -> None:
    above = "parts:\n  # the louder one\n  # sensitivity 2026-11-01: older\n  # read 2026-11-02: a rig\n"
    below = "  neck:\n    kind: coil\n"
    text = WiringText(
        above + below + "  # sensitivity 2026-11-01: its own\n  bridge:\n    kind: coil\n", "wiring"
    )
    text.change([(("parts", "neck", "#"), "sensitivity 2026-11-30: newer")])
    assert text.dump() == (
        "parts:\n  # the louder one\n  # read 2026-11-02: a rig\n  # sensitivity 2026-11-30: newer\n  neck:\n"
        "    kind: coil\n  # sensitivity 2026-11-01: its own\n  bridge:\n    kind: coil\n"
    )
    text.comment(("parts", "neck"), "read 2026-11-30: a rig")
    assert "# read 2026-11-02: a rig\n" in text.dump(), "of other lines every one stays"
