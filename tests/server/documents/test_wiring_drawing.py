"""Drawings of whole wirings, measured in the documents by geometry of their own."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import random_wirings
from drawn_paths import crossings, lug_places, overlaps, through_bodies, wires_of
from places import DEMO, NETWORKS, ROOT, TESTS

from dsp.drawing.wiring_record import wiring_record
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge
from server.documents import page_modules
from server.documents.wiring_drawing import document_style, draw_wiring, drawing_words
from server.wirings.text import load_wiring

HARD = TESTS / "server" / "documents" / "three_humbuckers.yaml"
CROSSINGS = {DEMO / "baritone.yaml": 2, DEMO / "twelve.yaml": 1, HARD: 14}
"""Most crossings of each drawing. A sketch of this drawing by hand-tuned rules had as many."""


def check(wiring: Wiring, *, grounds: bool = False) -> int:
    """Hold a drawing to its rules; return its crossings."""
    drawing = draw_wiring(wiring, grounds=grounds)
    wires = wires_of(drawing.svg)
    assert overlaps(wires) == []
    assert through_bodies(drawing.svg, wires) == []
    assert drawing.broken == ()
    check_joints(wiring, drawing.wires)
    assert {wire.key for wire in wires} == {
        f"{one['from']}~{one['to']}" for one in drawing.wires if one["to"] is not None
    }
    return crossings(wires)


def check_joints(wiring: Wiring, wires: list[dict]) -> None:
    """The wires of a drawing solder the joints of the wiring and nothing else."""
    record = wiring_record(wiring)
    terminals = {one for joint in record["joints"] for one in joint}
    ends = {end for wire in wires for end in (wire["from"], wire["to"] or "ground")}
    merge = Merge(terminals | ends)
    for wire in wires:
        merge.join((wire["from"], wire["to"] or "ground"))
    drawn = {frozenset(set(group) & terminals) for group in merge.classes()}
    wanted = Merge(terminals)
    for joint in record["joints"]:
        wanted.join(joint)  # two joints may share a terminal: they are one
    assert drawn == {frozenset(group) for group in wanted.classes()}


@pytest.mark.parametrize("path", CROSSINGS, ids=lambda path: path.stem)
def test_a_drawing_is_calm(path) -> None:
    assert check(load_wiring(path)) <= CROSSINGS[path]


@pytest.mark.parametrize("path", [DEMO / "baritone.yaml", HARD], ids=lambda path: path.stem)
def test_every_ground_wire_runs_on_its_own(path) -> None:
    check(load_wiring(path), grounds=True)


@pytest.mark.parametrize("seed", range(6))
def test_random_wirings_are_drawn_without_overlaps(seed: int) -> None:
    check_random(seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(6, 120))
def test_many_random_wirings_are_drawn_without_overlaps(seed: int) -> None:
    check_random(seed)


def check_random(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wiring = (random_wirings.structured if seed % 2 else random_wirings.chaotic)(rng)
    check(wiring, grounds=seed % 3 == 0)


@pytest.mark.long
@pytest.mark.parametrize("path", sorted(NETWORKS.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_reference_network_is_drawn(path) -> None:
    check(load_wiring(path))
    check(load_wiring(path), grounds=True)


def test_a_position_shows_what_sounds() -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")
    svg = draw_wiring(wiring, wiring.setting("3", {"tone": 5.0})).svg
    root = ElementTree.fromstring(svg)
    coils = {
        one.get("data-drawn"): one.get("class") for one in root.iter() if "coil" in (one.get("class") or "")
    }
    assert coils == {
        "neck_a": "coil heard",
        "neck_b": "coil shorted",
        "bridge_a": "coil shorted",
        "bridge_b": "coil heard",
    }
    levels = {
        one.get("data-wire"): re.findall(r"level-(\d)", one.get("class") or "")
        for one in root.iter()
        if one.get("data-wire")
    }
    assert levels["volume.2~output.tip"] == ["2"]
    assert levels["tone.1~tone_cap.a"] == ["1"]
    assert len(lug_places(svg)) == 46


def test_a_sketch_is_one_block_with_the_sound_of_the_position() -> None:
    wiring = load_wiring(DEMO / "baritone_sketch.yaml")
    svg = draw_wiring(wiring, wiring.setting("3")).svg
    assert "to be designed" in svg
    assert "neck_a | neck_b" in svg


def test_the_words_name_every_joint_and_wire() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    words = list(drawing_words(wiring, draw_wiring(wiring)))
    assert "  tone_cap: capacitor, 33 nF" in words
    assert any(line.startswith("  ground: neck.finish, phase.A2") for line in words)
    wires = words[words.index("Wires, from lug to lug") + 1 :]
    assert "  selector.C to tone.2" in wires
    assert len(wires) == len(draw_wiring(wiring).wires)


def test_the_style_has_no_variables_left() -> None:
    style = document_style()
    assert "var(" not in style
    assert "--" not in style
    assert ".drawing .wire .outer{stroke: #15242a" in style


def test_pure_modules_can_be_loaded_on_the_server() -> None:
    """A drawing module uses no page, and imports and exports only as the loader reads them."""
    folder = ROOT / "web" / "js" / "drawing"
    for path in sorted(folder.glob("*.js")):
        text = path.read_text()
        code = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
        assert not re.search(r"\b(?:document|window|fetch|localStorage)\.", code), path.name
        if path.name != "types.js":
            page_modules.as_function(text, f"js/drawing/{path.name}")


def test_a_module_that_the_engine_cannot_load_is_refused() -> None:
    with pytest.raises(ValueError, match="export default"):
        page_modules.as_function("export default 3;\n", "js/a.js")


def test_a_module_keeps_the_code_behind_a_comment_and_its_async_functions() -> None:
    text = """import { a } from "../b.js";
/** Gone. */
export async function one() {
  return (
    /** @type {number} */ (a)
  );
  /** @param {number} it */
}
"""
    found = page_modules.as_function(text, "js/c/d.js")
    assert 'const { a } = modules["js/b.js"];' in found
    assert "async function one() {" in found
    assert "(a)\n" in found
    assert "Gone" not in found
    assert "return {one};" in found
