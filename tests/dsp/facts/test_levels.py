"""Levels and directions that findings tell, against the facts of a position and a hand's count."""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import pytest
from places import DEMO, NETWORKS
from small_wirings import wiring_of

from dsp.circuit.response import respond
from dsp.facts.findings.check import check
from dsp.facts.findings.states import LOOK_HZ
from dsp.facts.findings.table import ALONE_DB, JUMP_DB
from dsp.facts.position import position_facts
from server.wirings.text import load_wiring

NEAR_DB = 0.2
"""The finding interpolates 32 frequencies; the facts compute every partial."""


@pytest.mark.parametrize(
    "path",
    [
        DEMO / "baritone.yaml",
        DEMO / "twelve.yaml",
        NETWORKS / "baritone_rotary.yaml",
        NETWORKS / "twelve_slides.yaml",
    ],
    ids=lambda path: path.stem,
)
def test_jumps_are_the_differences_of_the_facts_levels(path: object) -> None:
    wiring = load_wiring(path)  # type: ignore[arg-type]
    facts = position_facts(wiring, [wiring.setting(position) for position in wiring.positions])
    level = {one.setting.position: one.level_db for one in facts}
    want = {(a, b): level[b] - level[a] for a, b in pairwise(wiring.positions)}
    told = [one.detail for one in check(wiring) if one.finding == "loudness jump"]
    found = re.findall(r"(\w+) to (\w+): ([+-][\d.]+) dB", told[0]) if told else []
    got = {(a, b): float(db) for a, b, db in found}
    assert set(got) == {move for move, db in want.items() if abs(db) > JUMP_DB}
    assert all(abs(db - want[move]) <= NEAR_DB for move, db in got.items())
    clean = {one.setting.position: one.clean_level_db for one in facts}
    heard = {(a, b): clean[b] - clean[a] for a, b in pairwise(wiring.positions)}
    told_lu = re.findall(
        r"(\w+) to (\w+): (?:[^;,]+, )?([+-][\d.]+) LU through clean", told[0] if told else ""
    )
    got_lu = {(a, b): float(lu) for a, b, lu in told_lu}
    assert set(got_lu) == {move for move in want if max(abs(want[move]), abs(heard[move])) > JUMP_DB}
    assert all(abs(lu - heard[move]) <= NEAR_DB for move, lu in got_lu.items())


def test_the_change_of_another_coil_is_the_one_computed() -> None:
    wiring = load_wiring(NETWORKS / "baritone_two_volumes.yaml")
    (told,) = (one for one in check(wiring) if one.finding == "volume independent")
    settings = [wiring.setting("2", {"bridge_volume": value}) for value in (0.0, 2.5, 5.0, 7.5, 10.0)]
    found = respond(wiring, settings, LOOK_HZ)
    level = np.sqrt(np.mean(np.abs(found.coil[:, [found.coils.index("neck_a")]]) ** 2, axis=2))
    change_db = np.max(20.0 * np.log10(level / level[-1]))
    assert np.min(20.0 * np.log10(level / level[-1])) > -ALONE_DB
    assert told.lugs == ("bridge_volume",)
    assert told.detail == f"neck_a and neck_b up to {change_db:.1f} dB louder"


BLEND = "a: {COIL}\nb: {COIL}\nblend: {kind: pot, resistance: 500k}\noutput: {kind: jack}"


@pytest.mark.parametrize("ends", [("a", "b"), ("b", "a")])
def test_a_blend_turns_neither_way_round(ends: tuple[str, str]) -> None:
    low, high = ends
    joints = (
        f"{low}.start, blend.1\n{high}.start, blend.3\nblend.2, output.tip\na.finish, b.finish, output.sleeve"
    )
    found = {one.finding for one in check(wiring_of(BLEND, joints))}
    assert "knob the wrong way round" not in found


@pytest.mark.parametrize(("lug", "wrong"), [("1", False), ("3", True)])
def test_a_bass_cut_that_cuts_at_ten_is_the_wrong_way_round(lug: str, wrong: bool) -> None:
    """A capacitor in line, bridged by the pot: all bass where the track is short."""
    parts = (
        "a: {COIL}\ncap: {kind: capacitor, capacitance: 1n}\nbass: {kind: pot, resistance: 1M}\n"
        "output: {kind: jack}"
    )
    other = "3" if lug == "1" else "1"
    joints = f"a.start, cap.a, bass.{other}\ncap.b, bass.2, output.tip\na.finish, output.sleeve"
    found = {one.finding for one in check(wiring_of(parts, joints))}
    assert ("knob the wrong way round" in found) == wrong
