"""The best range on a switch: sets in turn and random charts, against small cases in full."""

from __future__ import annotations

import time
from copy import copy
from itertools import combinations, count, islice, product

import numpy as np
import pytest
from places import DEMO
from tenor import tenor

from dsp.errors import InputError
from dsp.lugs import best_set
from dsp.lugs.annealing import COLD, FREE_NETS, HOT, Annealer, network_of
from dsp.lugs.best_set import find_best_set, try_sets_in_turn
from dsp.parts.switch import Switch, bridging, on_on, shorthand
from dsp.sound.timbre import timbre_distance
from dsp.sounds.alternatives import take_better
from dsp.sounds.areas import allowed_candidates, find_allowed
from dsp.sounds.best_first import sets_by_distance
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.choose import Choice, choose_sets
from dsp.sounds.rules import SetRules
from dsp.sounds.topology import canonical_form, relative_phases, topologies
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring


@pytest.fixture(scope="module")
def sketch() -> Wiring:
    return load_wiring(DEMO / "baritone_sketch.yaml")


@pytest.fixture(scope="module")
def two(sketch: Wiring) -> Candidates:
    return find_candidates(sketch, coils=["neck_a", "bridge_a"])


@pytest.fixture(scope="module")
def three(sketch: Wiring) -> Candidates:
    return find_candidates(sketch, coils=["neck_a", "neck_b", "bridge_b"])


def smallest(found: Candidates, members: tuple[int, ...]) -> float:
    return min(float(timbre_distance(found.timbre[a], found.timbre[b])) for a, b in combinations(members, 2))


def test_sets_come_in_turn_and_none_is_missed(two: Candidates) -> None:
    rules = SetRules(3)
    came = [(one.chosen, one.distance_db) for one in sets_by_distance(two, rules)]
    every = {
        members: smallest(two, members)
        for members in combinations(allowed_candidates(two, rules).tolist(), rules.count)
    }
    assert {members for members, _ in came} == set(every)
    assert len(came) == len(every)
    distances = [distance for _, distance in came]
    np.testing.assert_allclose(distances, sorted(every.values(), reverse=True), atol=1e-9)


def test_the_first_of_many_sets(three: Candidates) -> None:
    turns = sets_by_distance(three, SetRules(4, quiet=1))
    came = [next(turns) for _ in range(30)]
    distances = [one.distance_db for one in came]
    np.testing.assert_allclose(distances, sorted(distances, reverse=True), atol=1e-9)
    assert len({one.chosen for one in came}) == 30


def every_chart_s_sounds(found: Candidates, switch: Switch, n_nets: int) -> set[frozenset[int]]:
    """Return the sets of sounds of every chart on so many nets, without hanging or shorted coils."""
    n_coils = found.signs.shape[1]
    rules = SetRules(len(switch.positions))
    machine = Annealer(found, list(range(len(found))), rules, switch)
    sets = set()
    for chart in product(range(n_nets), repeat=2 * n_coils + len(switch.lugs)):
        sounds = machine._worth(chart)[1]
        if min(sounds) >= 0 and len(set(sounds)) == len(sounds):
            sets.add(frozenset(sounds))
    return sets


def test_the_best_on_a_tiny_switch_against_every_chart(sketch: Wiring, two: Candidates) -> None:
    """One pole, a change-over toggle, two coils: all charts on four nets, one by one."""
    switch = on_on(1)
    rules = SetRules(2, level_window_db=60.0)
    possible = every_chart_s_sounds(two, switch, 4)
    best_db = max(smallest(two, tuple(sorted(members))) for members in possible)
    *_, final = try_sets_in_turn(sketch, two, rules, switch)
    assert final.chart is not None
    assert final.proved
    assert final.choice.distance_db == pytest.approx(best_db, abs=1e-9)
    assert frozenset(final.choice.chosen) in possible
    start = time.monotonic()
    sounds, distance_db, looked = Annealer(
        two, allowed_candidates(two, rules).tolist(), rules, switch
    ).search(lambda: time.monotonic() - start > 1.5)
    assert looked > 1000
    assert distance_db == pytest.approx(best_db, abs=1e-9)
    assert frozenset(sounds) in possible


def test_charts_at_random_step_in_where_turns_find_nothing(
    sketch: Wiring, three: Candidates, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three poles with in-between positions, too many to search in full, and no time for sets in turn."""
    monkeypatch.setattr(best_set, "CHARTS_PER_S", 1000)
    switch, calls = bridging(3, 5), count()

    def left_s() -> float:
        """A minute at first; the half that belongs to the turns is gone at the next look."""
        return 60.0 if next(calls) == 0 else 30.0

    answer = find_best_set(
        sketch,
        three,
        SetRules(5, opposed=False),
        switch,
        left_s=left_s,
    )
    assert answer.chart is not None
    assert answer.choice.distance_db == pytest.approx(smallest(three, answer.choice.chosen), abs=1e-9)
    assert answer.choice.bound_db >= answer.choice.distance_db
    assert not answer.proved
    assert answer.choice.distance_db > 1.0


def test_more_positions_than_the_switch_has(sketch: Wiring, two: Candidates) -> None:
    with pytest.raises(InputError, match="up to the 2 positions"):
        list(try_sets_in_turn(sketch, two, SetRules(3), on_on(1)))


def test_what_a_pin_asks_for_is_kept(sketch: Wiring, three: Candidates) -> None:
    *_, final = try_sets_in_turn(sketch, three, SetRules(3, pinned=(0,)), shorthand(4, 3))
    assert final.chart is not None
    assert 0 in final.choice.chosen


@pytest.mark.parametrize("n", [2, 3, 4])
def test_networks_are_read_off_nodes(n: int) -> None:
    """Every topology and phase placed on nodes by hand is read back, whichever way it is turned."""
    rng = np.random.default_rng(n)
    every = [(network, signs) for network in topologies(n) for signs in relative_phases(network, n)]
    for i in rng.choice(len(every), min(len(every), 150), replace=False):
        network, signs = every[int(i)]
        ends = [COLD] * (2 * n)
        free = iter(range(2, 2 + FREE_NETS))

        def place(tree, a: int, b: int, ends=ends, free=free, signs=signs) -> None:  # type: ignore[no-untyped-def]
            if not tree.members:
                k = tree.coils[0]
                ends[2 * k : 2 * k + 2] = (a, b) if signs[k] > 0 else (b, a)
            elif tree.kind == "series":
                nodes = [a, *(next(free) for _ in tree.members[1:]), b]
                for member, x, y in zip(tree.members, nodes, nodes[1:], strict=False):
                    place(member, x, y)
            else:
                for member in tree.members:
                    place(member, a, b)

        place(network, HOT, COLD)
        unused = [k for k in range(n) if not network.mask >> k & 1]
        for k in unused:  # hanging from cold
            ends[2 * k : 2 * k + 2] = (COLD, 90 + k)
        assert network_of(ends, HOT, COLD, hanging=False) == (canonical_form(network), signs)
        flipped = [end for k in range(n) for end in (ends[2 * k + 1], ends[2 * k])]
        assert network_of(flipped, HOT, COLD, hanging=False) == (canonical_form(network), signs)
        for k in unused:  # hanging from hot
            hot = list(ends)
            hot[2 * k] = HOT
            assert network_of(hot, HOT, COLD, hanging=False) is None
            assert network_of(hot, HOT, COLD, hanging=True) == (canonical_form(network), signs)


def test_bridges_and_silence_are_not_sounds() -> None:
    left, right = 2, 3
    bridge = [HOT, left, HOT, right, left, right, left, COLD, right, COLD]
    assert network_of(bridge, HOT, COLD, hanging=False) is None
    assert network_of([HOT, left, right, COLD], HOT, COLD, hanging=True) is None
    assert network_of([left, right, left, right], HOT, COLD, hanging=True) is None


def test_a_coil_is_shorted_only_where_it_may_be(two: Candidates) -> None:
    """One lug pair closed: the second coil's leads become one joint."""
    switch = Switch(("L", "R"), {"1": (("L", "R"),)})
    chart = [HOT, COLD, 2, 3, 2, 3]  # the first coil to the output, the second between two nets of lugs
    for may, sound in ((frozenset(), -1), (frozenset({1}), 0)):
        machine = Annealer(two, list(range(len(two))), SetRules(1), switch, hanging=True, shorted=may)
        assert machine._worth(chart)[1] == [sound]


# --- Time, and what never comes out


def test_distances_are_the_same_both_ways_to_the_last_digit() -> None:
    distances = find_allowed(find_candidates(tenor()), SetRules(5)).distances
    assert np.array_equal(distances, distances.T)


def test_no_level_is_asked_for_twice() -> None:
    """The best set's smallest distance lies a hair below the next level, as a pair's two roundings may.

    A set found at that level was then no progress, and the same level was asked for without end.
    """
    found = copy(find_candidates(tenor()))
    n_bands = found.timbre.shape[1]
    points = np.zeros(found.timbre.shape)
    near, far = np.zeros(n_bands), np.zeros(n_bands)
    near[0] = 10.0 * np.sqrt(n_bands)
    far[0], far[1] = near[0], (10.0 + 5e-10) * np.sqrt(n_bands)
    points[1:3] = near, far
    object.__setattr__(found, "timbre", points)
    came = list(islice(choose_sets(found, SetRules(3, level_window_db=200.0)), 100))
    assert len(came) < 100
    assert {1, 2} < set(came[-1].chosen)
    assert came[-1].distance_db == pytest.approx(10.0, abs=1e-8)
    assert came[-1].proved


def test_a_stopped_search_keeps_its_best_and_its_bound() -> None:
    found = find_candidates(tenor())
    looks = []

    def stop() -> bool:
        looks.append(1)
        return len(looks) > 3

    whole = list(choose_sets(found, SetRules(5)))
    cut = list(choose_sets(found, SetRules(5), stop=lambda: True))
    assert cut[0] == whole[0]
    assert len(cut) <= len(whole)
    assert cut[-1].bound_db >= whole[-1].distance_db
    assert list(sets_by_distance(found, SetRules(5), stop=stop))


@pytest.mark.parametrize("time_s", [0.05, 1.0])
def test_no_position_comes_twice_and_no_distance_is_negative(time_s: float) -> None:
    """With hardly any time, as on a busy machine: an honest set, or none."""
    found, end = find_candidates(tenor()), time.monotonic() + time_s
    answer = find_best_set(
        tenor(), found, SetRules(5, quiet=3), bridging(2, 5), left_s=lambda: end - time.monotonic()
    )
    assert answer.choice.distance_db >= 0.0
    assert len(set(answer.sounds)) == 5


def test_charts_at_random_give_the_same_answer_however_long_they_take() -> None:
    found, rules = find_candidates(tenor()), SetRules(5, level_window_db=60.0)
    allowed = allowed_candidates(found, rules).tolist()
    one, other = (
        Annealer(found, allowed, rules, bridging(2, 5)).search(lambda: False, most=2000) for _ in range(2)
    )
    assert one == other
    assert one[2] == 2000


def test_an_alternative_that_is_better_becomes_the_best() -> None:
    best, better, worse = Choice((1, 2), 3.0, 9.0), Choice((1, 3), 4.0, 5.0), Choice((2, 3), 2.0, 5.0)
    assert take_better(best, [worse]) == (best, [worse])
    first, rest = take_better(best, [worse, better])
    assert (first.chosen, first.distance_db, first.bound_db) == ((1, 3), 4.0, 9.0)
    assert rest == []  # the old best and the worse one are no longer nearly as good
