"""Evenness of knobs against known cases, order of positions, pins, the map."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest
from places import DEMO

from dsp.errors import InputError
from dsp.knobs.bypass import try_bypasses
from dsp.knobs.travel import Travel, compute_travel, suggest_values
from dsp.parts.pot import Pot
from dsp.parts.taper import named
from dsp.sound.timbre import timbre_distance
from dsp.sounds.alternatives import NEARLY, find_alternatives, map_on_plane
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.choose import choose_sets
from dsp.sounds.order import order_positions
from dsp.sounds.pins import find_pinned
from dsp.sounds.rules import SetRules
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring


@pytest.fixture(scope="module")
def twelve() -> Wiring:
    return load_wiring(DEMO / "twelve.yaml")


@pytest.fixture(scope="module")
def found() -> Candidates:
    return find_candidates(load_wiring(DEMO / "baritone_sketch.yaml"), coils=["neck_a", "neck_b", "bridge_a"])


def stepped(steps: list[float]) -> Travel:
    return Travel("k", np.arange(len(steps) + 1.0), np.array(steps), np.zeros(len(steps) + 1), 1.0, 2.0)


def test_evenness_of_known_steps() -> None:
    assert stepped([2.0] * 20).evenness == pytest.approx(1.0)
    assert stepped([0.0] * 19 + [5.0]).evenness == pytest.approx(1.0 / 20.0)
    assert stepped([1.0, 1.0, 0.0, 0.0]).evenness == pytest.approx(0.5)
    assert stepped([0.0] * 4).evenness == 1.0


def test_what_a_tone_knob_does(twelve: Wiring) -> None:
    """An audio taper as a rheostat spreads the change of a tone control better than a linear one, the
    reason for its use (common practice)."""
    parts = dict(twelve.parts)
    tone = parts["tone"]
    assert isinstance(tone, Pot)
    straight = replace(twelve, parts={**parts, "tone": replace(tone, taper=named("linear"))})
    audio = compute_travel(twelve, twelve.setting("3"), "tone")
    linear = compute_travel(straight, straight.setting("3"), "tone")
    assert audio.evenness > linear.evenness + 0.05
    assert audio.width_db == pytest.approx(linear.width_db)
    assert audio.width_db > 6.0


def test_a_knob_that_does_nothing(twelve: Wiring) -> None:
    aside = replace(twelve, joints=tuple(j for j in twelve.joints if ("tone_cap", "a") not in j.terminals))
    idle = compute_travel(aside, aside.setting("1"), "tone")
    assert idle.width_db < 1e-6
    assert idle.evenness <= 1.0


def test_advice_names_its_knob(twelve: Wiring) -> None:
    own, *tried = suggest_values(twelve, twelve.setting("3"), "tone", "tone_cap")
    assert own.changes == {}
    assert max(one.travel.evenness for one in tried) > own.travel.evenness
    assert {"tone_cap.capacitance": "10 nF"} in [dict(one.changes) for one in tried]
    assert len({tuple(one.changes.items()) for one in tried}) == len(tried)


def test_a_bypass_keeps_the_treble_of_a_volume(twelve: Wiring) -> None:
    """Common practice: a small capacitor, better with a resistor in series, from hot to the wiper."""
    bare = replace(
        twelve,
        joints=tuple(
            replace(j, terminals=tuple(t for t in j.terminals if not t[0].startswith("bypass")))
            for j in twelve.joints
        ),
    )
    none, *tried = try_bypasses(bare, bare.setting("3"), "volume")
    assert none.treble_db.min() < -1.5
    best = min(tried, key=lambda one: one.wander_db)
    assert best.wander_db < none.wander_db
    alone = [one for one in tried if one.resistance_ohm is None]
    assert min(one.wander_db for one in alone) > best.wander_db


def test_orders_along_the_selector(found: Candidates) -> None:
    *_, best = choose_sets(found, SetRules(5))
    dark = order_positions(found, best.chosen, "dark")
    assert sorted(dark) == list(best.chosen)
    assert list(found.brightness_hz[list(dark)]) == sorted(found.brightness_hz[list(dark)])
    near = order_positions(found, best.chosen, "near")

    def way(order: tuple[int, ...]) -> float:
        return sum(float(timbre_distance(found.timbre[a], found.timbre[b])) for a, b in pairwise(order))

    assert near[0] == dark[0]
    assert way(near) == pytest.approx(min(way((dark[0], *rest)) for rest in permutations(dark[1:])))


def test_alternatives_are_nearly_as_good_and_others(found: Candidates) -> None:
    rules = SetRules(4, quiet=1)
    *_, best = choose_sets(found, rules)
    for other in find_alternatives(found, rules, best):
        assert set(other.chosen) != set(best.chosen)
        assert other.distance_db >= NEARLY * best.distance_db
        assert sum(found.hum_db[i] <= rules.quiet_db for i in other.chosen) >= 1


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("neck_a + neck_b", "neck_b + neck_a"),
        ("neck_a + -neck_b", "-neck_a + neck_b"),
        ("(neck_a | neck_b) + bridge_a", "bridge_a + (neck_b | neck_a)"),
        ("neck_a + neck_b + bridge_a", "-(neck_a + (neck_b + bridge_a))"),
    ],
)
def test_a_pin_is_found_however_it_is_written(found: Candidates, written: str, same: str) -> None:
    assert find_pinned(found, written) == find_pinned(found, same)
    other = find_pinned(found, "neck_a")
    assert find_pinned(found, written) != other


@pytest.mark.parametrize(
    ("written", "message"),
    [("neck", "did you mean"), ("neck_a + neck_a", "each part once"), ("neck_a +", "pin 'neck_a +'")],
)
def test_pins_that_name_nothing(found: Candidates, written: str, message: str) -> None:
    with pytest.raises(InputError, match=message.replace("+", r"\+")):
        find_pinned(found, written)


def test_the_map_keeps_distances_that_lie_in_its_plane(found: Candidates) -> None:
    """Distances on the map are never larger than the timbres', and brightness rises to the right."""
    plane = map_on_plane(found)
    flat = np.linalg.norm(plane[:, None] - plane[None, :], axis=2)
    whole = timbre_distance(found.timbre[:, None], found.timbre[None, :])
    assert np.all(flat <= whole + 1e-9)
    assert np.corrcoef(plane[:, 0], found.brightness_hz)[0, 1] > 0.5
