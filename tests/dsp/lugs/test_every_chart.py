"""The best range on lean switches: the proved answer against every chart by brute force."""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import count, pairwise

import numpy as np
import pytest
from every_chart import EveryChart
from places import DEMO
from tenor import tenor

from dsp.lugs.best_set import BestSet, find_best_set, sketch_of
from dsp.lugs.exhaustive.free_throws import find_poles
from dsp.lugs.exhaustive.heard import sounds_of_joinings
from dsp.lugs.exhaustive.joinings import joinings
from dsp.lugs.exhaustive.search import is_searchable
from dsp.lugs.make import verify
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import targets_of
from dsp.parts.library.index import LIBRARY
from dsp.parts.switch import Switch, bridging, on_on, on_on_on, shorthand
from dsp.sound.timbre import timbre_distance
from dsp.sounds.areas import allowed_candidates
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.conditions import NECK
from dsp.sounds.order import order_ranks
from dsp.sounds.pins import find_pinned
from dsp.sounds.rules import SetRules
from dsp.wiring.model import Wiring
from server.wirings.switches import load_switch
from server.wirings.text import load_wiring

TWO = ("pa", "ns")
FULL = pytest.mark.skipif(
    os.environ.get("PRESOLDER_FULL") != "1", reason="PRESOLDER_FULL=1 tries every chart of five positions"
)
"""Of what takes minutes on its own; its like of three positions runs always."""


def best_of(wiring: Wiring, found: Candidates, rules: SetRules, switch: Switch) -> BestSet:
    return find_best_set(wiring, found, rules, switch, left_s=lambda: 600.0)


def distances_of(found: Candidates, rules: SetRules) -> np.ndarray:
    """Return all distances; those of sounds that are not allowed are -1."""
    apart = timbre_distance(found.timbre[:, None], found.timbre[None, :])
    banned = np.setdiff1d(np.arange(len(found)), allowed_candidates(found, rules))
    apart[banned] = -1.0
    apart[:, banned] = -1.0
    return np.asarray(apart)


def any_better(found: Candidates, rules: SetRules, switch: Switch, than_db: float) -> tuple[int, ...] | None:
    """Return the sounds of a chart with a larger smallest distance, by brute force, or None."""

    def fits(row: Sequence[int]) -> bool:
        quiet = sum(found.hum_db[i] <= rules.quiet_db for i in row)
        return quiet >= rules.quiet and set(rules.pinned) <= set(row)

    return EveryChart(found).any_above(switch, than_db, fits, distances_of(found, rules))


def hold(wiring: Wiring, found: Candidates, rules: SetRules, switch: Switch, answer: BestSet) -> None:
    """Check an answer by itself: both verifiers, its distance, and its rules."""
    assert answer.chart is not None
    wanted = targets_of(sketch_of(wiring, [found.expression_text(i) for i in answer.sounds]))
    verify(wanted, answer.chart, ChartRules())
    apart = distances_of(found, rules)
    assert len(set(answer.sounds)) == rules.count
    assert min(apart[a, b] for a in answer.sounds for b in answer.sounds if a != b) == pytest.approx(
        answer.choice.distance_db, abs=1e-9
    )
    assert sum(found.hum_db[i] <= rules.quiet_db for i in answer.sounds) >= rules.quiet
    assert set(rules.pinned) <= set(answer.sounds)
    assert answer.proved
    assert answer.every_chart


SMALL = {
    "one pole, on/on": on_on(1),
    "one pole, middle joins both": bridging(1, 3),
    "one pole, three throws": shorthand(1, 3),
    "two poles changing in turn": on_on_on(2),
}


@pytest.mark.parametrize("name", SMALL)
def test_no_chart_of_two_coils_is_better(name: str) -> None:
    switch, found = SMALL[name], find_candidates(tenor(), coils=TWO)
    rules = SetRules(len(switch.positions), level_window_db=60.0)
    answer = best_of(tenor(), found, rules, switch)
    hold(tenor(), found, rules, switch, answer)
    assert any_better(found, rules, switch, answer.choice.distance_db + 1e-6) is None
    there = any_better(found, rules, switch, answer.choice.distance_db - 1e-6)
    assert there is not None, "the answer itself is among the charts"


def keeps(found: Candidates, rules: SetRules, row: Sequence[int]) -> bool:
    """Return whether sounds along a switch keep every condition."""
    level, rank = found.level_db, order_ranks(found, rules.order)
    placed = dict(rules.places)
    free = [i for n, i in enumerate(row, 1) if n not in placed]
    return (
        sum(found.hum_db[i] <= rules.quiet_db for i in row) >= rules.quiet
        and sum(not found.opposed[i] for i in row) >= rules.in_phase
        and set(rules.pinned) <= set(row)
        and max(level[i] for i in row) - min(level[i] for i in row) <= rules.spread_db
        and all(abs(level[a] - level[b]) <= rules.step_db for a, b in pairwise(row))
        and all(row[n - 1] == i for n, i in rules.places)
        and (not rules.in_order or all(rank[a] <= rank[b] for a, b in pairwise(free)))
    )


ALONG = {
    "neighbours": SetRules(3, step_db=3.0, level_window_db=60.0),
    "neighbours, neck to bridge, kept": SetRules(
        3, step_db=6.0, level_window_db=60.0, order=NECK, in_order=True
    ),
    "in order": SetRules(3, level_window_db=60.0, order=NECK, in_order=True),
    "in phase and level": SetRules(3, in_phase=3, spread_db=9.0, level_window_db=60.0),
    "by hand": SetRules(3, (1,), level_window_db=60.0, places=((3, 1),), step_db=12.0),
}


@pytest.mark.parametrize(
    "switch",
    [
        "one pole, middle joins both",
        "one pole, three throws",
        pytest.param("bridging", marks=pytest.mark.long),
    ],
)
@pytest.mark.parametrize("name", ALONG)
def test_no_chart_that_keeps_the_conditions_along_the_switch_is_better(name: str, switch: str) -> None:
    table = bridging(2, 3) if switch == "bridging" else SMALL[switch]
    found, rules = find_candidates(tenor(), coils=TWO), ALONG[name]
    answer = best_of(tenor(), found, rules, table)
    brute, apart = EveryChart(found), distances_of(found, rules)

    def above(limit_db: float) -> tuple[int, ...] | None:
        return brute.any_above(table, limit_db, lambda row: keeps(found, rules, row), apart)

    if answer.chart is None:
        assert answer.impossible
        assert above(1e-9) is None
        return
    hold(tenor(), found, rules, table, answer)
    sketch = answer.chart.sounds
    row = [answer.sounds[int(sketch[position]) - 1] for position in table.positions]
    assert keeps(found, rules, row)
    assert above(answer.choice.distance_db - 1e-6) is not None
    assert above(answer.choice.distance_db + 1e-6) is None


BRIEF = {
    "none": SetRules(5),
    "two quiet": SetRules(5, quiet=2),
    "pinned": SetRules(5, quiet=2, pinned=("pa | ns",)),  # type: ignore[arg-type]
    "in phase": SetRules(5, quiet=3, opposed=False, pinned=("pa | ns",)),  # type: ignore[arg-type]
}


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    ("switch", "name"),
    [
        pytest.param("blade_5_two_pole", "none", marks=FULL),
        ("blade_3_two_pole", "two quiet"),
    ],
)
def test_no_chart_of_three_coils_is_better(name: str, switch: str) -> None:
    """All 4,140 joinings, in-between contacts and joints of lugs alone, one by one."""
    found, table = find_candidates(tenor()), load_switch(switch)
    given = BRIEF[name]
    pins = tuple(find_pinned(found, str(one)) for one in given.pinned)
    n = len(table.positions)
    rules = SetRules(n, pins, min(given.quiet, n - 1), opposed=given.opposed)
    answer = best_of(tenor(), found, rules, table)
    hold(tenor(), found, rules, table, answer)
    assert any_better(found, rules, table, answer.choice.distance_db + 1e-6) is None


@pytest.mark.parametrize("name", BRIEF)
def test_a_lean_blade_gives_one_answer_whatever_the_clock_says(name: str) -> None:
    """The same on a clock that races as on one that stands, and nothing is left unproved."""
    found, given = find_candidates(tenor()), BRIEF[name]
    pins = tuple(find_pinned(found, str(one)) for one in given.pinned)
    rules = SetRules(5, pins, given.quiet, opposed=given.opposed)
    ticks = count()
    slow = find_best_set(tenor(), found, rules, bridging(2, 5), left_s=lambda: 1e9 - 1e3 * next(ticks))
    hold(tenor(), found, rules, bridging(2, 5), slow)
    assert slow == best_of(tenor(), found, rules, bridging(2, 5))


def test_when_the_time_is_up_the_bound_is_honest() -> None:
    """Cut at many places: what is claimed as a bound is never below the proved best."""
    found, rules = find_candidates(tenor()), SetRules(5)
    whole = best_of(tenor(), found, rules, bridging(2, 5))
    proved = 0
    for looks in (1, 5, 9, 20, 40):
        ticks = count()
        cut = find_best_set(
            tenor(),
            found,
            rules,
            bridging(2, 5),
            left_s=lambda ticks=ticks, looks=looks: 1.0 if next(ticks) < looks else 0.0,
        )
        assert cut.choice.bound_db >= whole.choice.distance_db - 1e-9
        assert cut.choice.distance_db <= whole.choice.distance_db + 1e-9 or cut.chart is None
        proved += cut.proved
    assert proved < 5


def test_a_set_of_fewer_sounds_than_positions() -> None:
    """Three sounds on five positions: two of them come twice."""
    found, rules = find_candidates(tenor(), coils=TWO), SetRules(3)
    answer = best_of(tenor(), found, rules, bridging(1, 5))
    hold(tenor(), found, rules, bridging(1, 5), answer)
    assert answer.chart is not None
    assert len(set(answer.chart.sounds.values())) == 3
    assert len(answer.chart.sounds) == 5


def test_nothing_can_be_made_where_no_chart_keeps_the_rules() -> None:
    found = find_candidates(tenor(), coils=TWO)
    pins = tuple(find_pinned(found, text) for text in ("pa + ns", "pa + -ns", "pa | ns"))
    answer = best_of(tenor(), found, SetRules(3, pins, level_window_db=60.0), bridging(1, 3))
    assert answer.chart is None


def test_four_coils_on_the_usual_switches_are_searched_in_full() -> None:
    wiring = load_wiring(DEMO / "baritone_sketch.yaml")
    wanted = targets_of(sketch_of(wiring, [" + ".join(wiring.coils)]))
    usual = {
        name
        for name, entry in LIBRARY.items()
        if entry.kind == "switch" and is_searchable(wanted, load_switch(name))
    }
    assert {"blade_3_two_pole", "blade_5_two_pole", "blade_5_four_pole"} <= usual
    assert {"rotary_6_two_pole", "rotary_6_four_pole", "rotary_5_two_pole", "toggle_on_on_on"} <= usual


def test_joinings_are_counted_right() -> None:
    """Bell's numbers (OEIS A000110: 1, 2, 5, 15, 52, 203, 877, 4140), less those with hot on ground."""
    bell = [1, 1, 2, 5, 15, 52, 203, 877, 4140, 21147, 115975]
    for n_ends in range(2, 11):
        every = joinings(n_ends)
        assert len(every) == bell[n_ends] - bell[n_ends - 1]
        assert len(np.unique(every.labels, axis=0)) == len(every)
        assert (every.find(every.labels) == np.arange(len(every))).all()


def test_a_joining_sounds_as_its_circuit_does() -> None:
    """Every joining of three coils, by expression and by a nodal solution of the test's own."""
    found, wiring = find_candidates(tenor()), tenor()
    wanted = targets_of(sketch_of(wiring, [" + ".join(found.names)]))
    expressions = [found.expression(i) for i in range(len(found))]
    every, brute = joinings(8), EveryChart(found)
    sound, _ = sounds_of_joinings(every, wanted, expressions, ChartRules())  # type: ignore[arg-type]
    assert (sound >= 0).sum() > 500
    for labels, mine in zip(every.labels.tolist(), sound.tolist(), strict=True):
        assert brute.sound(tuple(labels)) == mine, labels


def test_which_throws_are_free() -> None:
    assert find_poles(shorthand(4, 5)) is not None
    assert find_poles(bridging(2, 5)) is None
    assert find_poles(on_on_on(2)) is None
