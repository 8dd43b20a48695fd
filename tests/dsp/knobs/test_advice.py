"""Networks for a knob: its place, the effect of a change, and whether the best are the best."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from places import DEMO
from small_wirings import COIL

from dsp.circuit.response import respond
from dsp.knobs import advice
from dsp.knobs.advice import (
    LEAST_WIDTH_DB,
    MOST_DROP_DB,
    Suggestion,
    best_of_kinds,
    pareto_front,
    suggest_networks,
    thin_out,
)
from dsp.knobs.bypass import try_bypasses
from dsp.knobs.networks import BESIDE, CAPACITOR, IN_LINE, KINDS, network_variants, preferred_values
from dsp.knobs.place import parts_across, pot_place, why_no_place
from dsp.knobs.travel import compute_travel
from dsp.parts.capacitor import Capacitor
from dsp.parts.choke import Inductor
from dsp.wiring.change import Change
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.changed import EditedText
from server.wirings.text import load_wiring

SAME_TRAVEL = 1e-6
"""dB and shares: one network computed over two pots differs by rounding alone."""


@pytest.fixture(scope="module")
def baritone() -> Wiring:
    return load_wiring(DEMO / "baritone.yaml")


@pytest.fixture(scope="module")
def found(baritone: Wiring) -> tuple[Suggestion, ...]:
    return suggest_networks(baritone, baritone.setting("5"), "tone")


def small(joints: str, parts: str = "") -> Wiring:
    text = (
        f"format: 1\nparts:\n  a: {{{COIL}}}\n  tone: {{kind: pot, resistance: 250 kΩ}}\n"
        f"  cap: {{kind: capacitor, capacitance: 22 nF}}\n{parts}  output: {{kind: jack}}\njoints: {joints}\n"
    )
    return read_wiring(parse_tree(text, "small"), "small")


# --- the place of a knob


def test_a_tone_knob_hangs_between_hot_and_ground_over_its_capacitor(baritone: Wiring) -> None:
    stand = pot_place(baritone, "tone")
    assert stand is not None
    assert (stand.lugs, stand.line) == ((("2",), ("1",)), ("tone_cap",))
    assert stand.ends[1][0] in ("neck_b", "bridge_b")
    assert pot_place(baritone, "volume") is None, "three joints: a divider"


@pytest.mark.parametrize(
    ("joints", "line"),
    [
        ("[[a.start, output.tip, cap.a], [cap.b, tone.3], [tone.2, a.finish, output.sleeve]]", ("cap",)),
        (
            "[[a.start, output.tip, tone.1, tone.3], [tone.2, cap.a], [cap.b, a.finish, output.sleeve]]",
            ("cap",),
        ),
        ("[[a.start, output.tip], [a.start, tone.2, tone.1], [tone.3, a.finish, output.sleeve]]", ()),
    ],
)
def test_places_in_other_wirings(joints: str, line: tuple[str, ...]) -> None:
    stand = pot_place(small(joints), "tone")
    assert stand is not None
    assert stand.line == line


def test_a_knob_that_leads_nowhere_has_no_place() -> None:
    assert pot_place(small("[[a.start, output.tip, tone.1], [a.finish, output.sleeve]]"), "tone") is None


def test_parts_that_bridge_a_volume(baritone: Wiring) -> None:
    twelve = load_wiring(DEMO / "twelve.yaml")
    assert parts_across(twelve, ("volume", "3"), ("volume", "2")) == ("bypass_cap", "bypass_resistor")
    assert parts_across(baritone, ("volume", "3"), ("volume", "2")) == ()


GANGED = """\
format: 1
instrument: {scale: 650 mm}
parts:
  a: {kind: coil, resistance: 6 kΩ, inductance: 2.5 H, capacitance: 110 pF, at: 40 mm}
  b: {kind: coil, resistance: 5 kΩ, inductance: 2.0 H, capacitance: 100 pF, at: 150 mm}
  selector: {kind: switch, poles: 1, positions: 2}
  tone: {kind: pot, resistance: 500 kΩ, taper: audio}
  tone_b: {kind: pot, resistance: 500 kΩ, taper: audio, ganged: {part: tone}}
  cap: {kind: capacitor, capacitance: 22 nF}
  cap_b: {kind: capacitor, capacitance: 22 nF}
  volume: {kind: pot, resistance: 500 kΩ, taper: audio}
  volume_b: {kind: pot, resistance: 500 kΩ, taper: audio, ganged: {part: volume}}
  output: {kind: jack}
joints:
  - [a.start, volume.3, tone.2]
  - [b.start, volume_b.3, tone_b.2]
  - [tone.1, cap.a]
  - [tone_b.1, cap_b.a]
  - [volume.2, selector.A1]
  - [volume_b.2, selector.A2]
  - [selector.A0, output.tip]
  - [a.finish, b.finish, volume.1, volume_b.1, cap.b, cap_b.b, output.sleeve]
"""


@pytest.fixture
def few_networks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every twentieth network is enough to see that the suggestion is what is built."""
    monkeypatch.setattr(advice, "network_variants", lambda *words: list(network_variants(*words))[::20])


@pytest.mark.usefixtures("few_networks")
def test_knobs_of_two_tracks_get_the_same_parts_on_each() -> None:
    """Each coil has a track of both knobs: what is suggested in one position is done in the other."""
    wiring = read_wiring(parse_tree(GANGED, "ganged"), "ganged")
    assert set(wiring.knobs) == {"tone", "volume"}
    networks = list(network_variants(wiring, wiring.setting("1"), "tone"))
    assert {one.kind for one in networks} == set(KINDS) - {BESIDE, IN_LINE}
    assert networks[0].text == "1 nF on each track"
    for tried in networks[::60]:
        done = tried.change.apply(wiring)
        for track in ("tone", "tone_b"):
            place = pot_place(done, track)
            assert place is not None
            assert len(place.line) == len(tried.text.split(" in line with "))
    (first, *_) = (
        one for one in suggest_networks(wiring, wiring.setting("1"), "tone") if one.taper == "linear"
    )
    built = first.change(wiring).apply(wiring)
    assert built.pots["tone"] == built.pots["tone_b"] != wiring.pots["tone"]
    again = compute_travel(built, built.setting("1"), "tone")
    assert again.width_db == pytest.approx(first.travel.width_db, abs=SAME_TRAVEL)
    own, *others = try_bypasses(wiring, wiring.setting("2"), "volume")
    best = min(others, key=lambda one: one.wander_db)
    assert best.wander_db < own.wander_db - 0.5, "the coil of the other track is heard: it has its bypass too"
    assert {"volume_bypass_cap", "volume_b_bypass_cap"} <= set(best.change.parts)


@pytest.mark.usefixtures("few_networks")
def test_a_tap_that_nothing_is_soldered_to_is_no_hindrance() -> None:
    text = GANGED.replace(
        "tone: {kind: pot, resistance: 500 kΩ,", "tone: {kind: pot, resistance: 500 kΩ, tap: 40 %,"
    )
    free = read_wiring(parse_tree(text, "tapped"), "tapped")
    assert why_no_place(free, "tone") == ""
    for one in list(suggest_networks(free, free.setting("1"), "tone"))[::31]:
        built = one.change(free).apply(free)
        again = compute_travel(built, built.setting("1"), "tone")
        assert again.width_db == pytest.approx(one.travel.width_db, abs=SAME_TRAVEL)
    used = text.replace("- [tone.1, cap.a]", "- [tone.1, cap.a]\n  - [tone.4, volume.1]")
    taken = read_wiring(parse_tree(used, "tapped"), "tapped")
    assert why_no_place(taken, "tone") == "its track tone has parts on its tap"
    assert why_no_place(free, "volume") == "its track volume is not a variable resistor between two joints"


# --- changes


def test_a_joint_that_only_the_knob_tied_stays_tied() -> None:
    """Two joints that name one lug are one joint; they stay so when the lug is unsoldered."""
    wiring = small(
        "[[a.start, tone.2], [tone.2, output.tip], [tone.1, cap.a], [cap.b, a.finish, output.sleeve]]"
    )
    change = Change(removed=("cap",), unsolder=(("tone", "2"), ("tone", "1")))
    assert [set(joint.terminals) for joint in change.apply(wiring).joints] == [
        {("a", "start"), ("output", "tip")},
        {("a", "finish"), ("output", "sleeve")},
    ]


def test_a_change_is_described_in_the_order_of_work(baritone: Wiring, found: tuple[Suggestion, ...]) -> None:
    choke = best_of_kinds(found)["choke"]
    remove, unsolder, fit, solder = choke.change(baritone).instructions(baritone)
    assert remove == "take out tone_cap"
    assert unsolder == "unsolder tone.2, tone.1"
    assert fit.startswith("fit tone_choke (")
    assert "tone.2 to volume.3 (with selector.A0)" in solder


def test_a_change_written_is_the_change_applied(
    tmp_path: Path, baritone: Wiring, found: tuple[Suggestion, ...]
) -> None:
    for i, one in enumerate(best_of_kinds(found).values()):
        text = EditedText.of(DEMO / "baritone.yaml")
        text.put_change(baritone, one.change(baritone))
        text.save(tmp_path / f"{i}.yaml")
        again = load_wiring(tmp_path / f"{i}.yaml")
        done = one.change(baritone).apply(baritone)
        assert {frozenset(j.terminals) for j in again.joints} == {frozenset(j.terminals) for j in done.joints}
        assert again.parts == done.parts
        assert "# The workshop" in (tmp_path / f"{i}.yaml").read_text(encoding="utf-8"), "comments are kept"


# --- what is suggested


def test_every_kind_is_tried(baritone: Wiring, found: tuple[Suggestion, ...]) -> None:
    assert {one.kind for one in network_variants(baritone, baritone.setting("5"), "tone")} == set(KINDS)
    assert {one.variant.kind for one in found} == set(KINDS)


def test_the_edited_wiring_does_what_was_promised(baritone: Wiring, found: tuple[Suggestion, ...]) -> None:
    """The search reads tapers and pots off one linear track; here each wiring is computed as built."""
    for one in (*best_of_kinds(found).values(), *thin_out(pareto_front(found), 4)):
        built = one.change(baritone).apply(baritone)
        again = compute_travel(built, built.setting("5"), "tone")
        assert again.width_db == pytest.approx(one.travel.width_db, abs=SAME_TRAVEL)
        assert again.evenness == pytest.approx(one.travel.evenness, abs=SAME_TRAVEL)
        np.testing.assert_allclose(again.level_db, one.travel.level_db, atol=SAME_TRAVEL)
        twin = replace(built, load=replace(built.load, cable_length_m=4.0))
        assert compute_travel(twin, twin.setting("5"), "tone").width_db != pytest.approx(
            one.travel.width_db, abs=SAME_TRAVEL
        )


def test_nothing_beats_the_front(found: tuple[Suggestion, ...]) -> None:
    best = pareto_front(found)
    for one in found:
        beaten = any(
            o.worth[0] >= one.worth[0] and o.worth[1] >= one.worth[1] and o.worth != one.worth for o in best
        )
        assert beaten != any(o.worth == one.worth for o in best)
    widths = [one.worth[0] for one in best]
    assert widths == sorted(widths, reverse=True)
    few = thin_out(best, 3)
    assert (few[0], few[-1], len(few)) == (best[0], best[-1], 3)


def test_no_suggestion_is_a_volume_or_does_nothing(found: tuple[Suggestion, ...]) -> None:
    assert all(one.drop_db <= MOST_DROP_DB and one.travel.width_db >= LEAST_WIDTH_DB for one in found)


def test_a_coil_faded_in_is_named(baritone: Wiring, found: tuple[Suggestion, ...]) -> None:
    """In position 5 the neck humbucker's hot end hangs free, and so does its series link."""
    beside = {one.variant.text: one.coils for one in found if one.variant.kind == BESIDE}
    assert beside["from neck_a.start"] == ("neck_a", "neck_b")
    in_line = {one.variant.text: one.coils for one in found if one.variant.kind == IN_LINE}
    assert in_line["across bridge_a"] == ("bridge_a",)
    assert "across neck_a" not in in_line, "it is not heard"


@pytest.mark.long
def test_common_practice_larger_capacitors_take_more_and_a_dual_resonance_dips() -> None:
    """Common practice: the larger the capacitor the wider the knob; a choke in line with a capacitor takes
    most at 1/(2 pi sqrt(LC)) (exact for parts without loss)."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    widths = [
        next(
            one.travel.width_db
            for one in suggest_networks(wiring, wiring.setting("3"), "tone")
            if one.variant.text == text and one.taper == "audio" and one.resistance_ohm == 250e3
        )
        for text in ("4.7 nF", "10 nF", "22 nF")
    ]
    assert widths == sorted(widths)
    tried = network_variants(wiring, wiring.setting("3"), "tone")
    one = next(one for one in tried if one.text.startswith("choke 1 H") and "10 nF" in one.text)
    built = one.change.apply(wiring)
    hz = np.geomspace(300.0, 10_000.0, 2001)
    shut, alone = (
        respond(w, [w.setting("3", {"tone": v})], hz).coil[0, 1] for w, v in ((built, 0.0), (built, 10.0))
    )
    dip = hz[np.argmin(np.abs(shut) / np.abs(alone))]
    assert dip == pytest.approx(1.0 / (2.0 * np.pi * np.sqrt(1.0 * 10e-9)), rel=0.01)


def test_a_sketch_s_coils_are_left_where_it_places_them() -> None:
    sketch = load_wiring(DEMO / "baritone_sketch.yaml")
    kinds = {one.kind for one in network_variants(sketch, sketch.setting("2"), "tone")}
    assert kinds == set(KINDS) - {BESIDE, IN_LINE}


def test_an_own_choke_sets_the_windings_resistance(baritone: Wiring) -> None:
    parts = {**baritone.parts, "spare": Inductor(2.0, 500.0)}
    chokes = [
        part
        for one in network_variants(replace(baritone, parts=parts), baritone.setting("5"), "tone")
        for part in one.change.parts.values()
        if isinstance(part, Inductor)
    ]
    assert all(part.resistance_ohm == pytest.approx(250.0 * part.inductance_h, rel=0.01) for part in chokes)


def test_values_are_preferred_ones(baritone: Wiring) -> None:
    """IEC 60063, E12."""
    tried = [
        one for one in network_variants(baritone, baritone.setting("5"), "tone") if one.kind == CAPACITOR
    ]
    values = {
        part.capacitance_f
        for one in tried
        for part in one.change.parts.values()
        if isinstance(part, Capacitor)
    }
    e12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
    assert sorted(values) == pytest.approx([*(v * d for d, v in product((1e-9, 1e-8), e12)), 1e-7])
    assert preferred_values("E3", 1e3, 47e3) == (1e3, 2.2e3, 4.7e3, 10e3, 22e3, 47e3)


def test_a_bypass_that_is_there_is_exchanged_not_added_to() -> None:
    twelve = load_wiring(DEMO / "twelve.yaml")
    own, none, *others = try_bypasses(twelve, twelve.setting("3"), "volume")
    assert own.change == Change()
    assert none.change.removed == ("bypass_cap", "bypass_resistor")
    assert none.treble_db.min() < own.treble_db.min() - 1.0, "without it treble is lost (common practice)"
    same = next(
        one for one in others
        if (one.capacitance_f, one.resistance_ohm, one.parallel) == (1.2e-9, 150e3, False)
    )  # fmt: skip
    built = same.change.apply(twelve)
    assert built.parts["bypass_cap"] == Capacitor(1.2e-9)
    assert {frozenset(j.terminals) for j in built.joints} == {frozenset(j.terminals) for j in twelve.joints}
    assert any(one.parallel for one in others)
