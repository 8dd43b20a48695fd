"""Conditions of a set against every set there is: phase, levels, order along the selector."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import combinations, pairwise, permutations

import numpy as np
import pytest
from tenor import tenor

from dsp.errors import InputError
from dsp.sound.timbre import timbre_distance
from dsp.sounds import areas, choose
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.choose import Choice, choose_sets
from dsp.sounds.conditions import ORDERS, least_of
from dsp.sounds.order import order_positions
from dsp.sounds.pins import find_pinned
from dsp.sounds.rules import SetRules, set_in_order


@pytest.fixture(scope="module")
def found() -> Candidates:
    return find_candidates(tenor())


@pytest.fixture(scope="module")
def apart(found: Candidates) -> np.ndarray:
    return np.asarray(timbre_distance(found.timbre[:, None], found.timbre[None, :]))


def last(found: Candidates, rules: SetRules) -> Choice:
    *_, final = choose_sets(found, rules)
    return final


AT_M = {name: coil.at_m or 0.0 for name, coil in tenor().coils.items()}


def line_of(found: Candidates, apart: np.ndarray, rules: SetRules, members: Sequence[int]) -> list[int]:
    """Return a set along the selector, by the meaning of each order and no code of the search."""

    def mean_place(i: int) -> float:
        playing = [AT_M[name] for name, sign in zip(found.names, found.signs[i], strict=True) if sign]
        return sum(playing) / len(playing)

    keys: dict[str, Callable[[int], tuple[float, float]]] = {
        "dark": lambda i: (0.0, found.brightness_hz[i]),
        "neck": lambda i: (-round(mean_place(i), 6), found.brightness_hz[i]),
        "thick": lambda i: (-round(float(found.low_share[i]), 6), found.brightness_hz[i]),
    }
    placed = dict(rules.places)
    free = [i for i in members if i not in placed.values()]
    if rules.order == "near":
        darkest = min(free, key=lambda i: found.brightness_hz[i])
        ways = ([darkest, *way] for way in permutations([i for i in free if i != darkest]))
        free = min(ways, key=lambda way: sum(apart[a, b] for a, b in pairwise(way)))
    else:
        free = sorted(free, key=keys[rules.order])
    return [placed[n] if n in placed else free.pop(0) for n in range(1, len(members) + 1)]


@cache
def sets_of(count: int, n: int) -> np.ndarray:
    return np.array(list(combinations(range(n), count)))


def best_of_all(found: Candidates, apart: np.ndarray, rules: SetRules) -> float:
    """Return the largest smallest distance of all sets that keep the rules, 0 if none does."""
    level = found.clean_level_db if rules.levels == "clean" else found.level_db
    loud = (level >= level.max() - rules.level_window_db) | np.isin(np.arange(len(found)), rules.pinned)
    every = sets_of(rules.count, len(found))
    keep = loud[every].all(axis=1)
    for one in rules.pinned:
        keep &= (every == one).any(axis=1)
    keep &= (~found.opposed[every]).sum(axis=1) >= rules.in_phase
    keep &= (found.hum_db[every] <= rules.quiet_db).sum(axis=1) >= rules.quiet
    keep &= np.ptp(level[every], axis=1) <= rules.spread_db
    every = every[keep]
    pairs = [apart[every[:, a], every[:, b]] for a, b in combinations(range(rules.count), 2)]
    smallest = np.min(pairs, axis=0)
    for k in np.argsort(-smallest):
        line = line_of(found, apart, rules, every[k].tolist())
        if all(abs(level[a] - level[b]) <= rules.step_db for a, b in pairwise(line)):
            return float(smallest[k])
    return 0.0


CASES = {
    "two in phase": SetRules(4, in_phase=2),
    "all in phase, two quiet": SetRules(4, in_phase=4, quiet=2),
    "spread": SetRules(4, spread_db=4.0),
    "spread and phase": SetRules(3, spread_db=3.0, in_phase=2, level_window_db=40.0),
    **{
        f"step, {order}": SetRules(
            3 if order == "near" else 4, step_db=2.0, level_window_db=30.0, order=order
        )
        for order in ORDERS
    },
    "step, one quiet": SetRules(4, step_db=1.0, order="neck", quiet=1, in_phase=1),
    "step and spread": SetRules(4, step_db=2.5, spread_db=5.0, order="thick", level_window_db=40.0),
    "spread through clean": SetRules(4, spread_db=3.0, levels="clean"),
    "step through clean": SetRules(4, step_db=1.5, levels="clean", order="neck", level_window_db=40.0),
    "by hand": SetRules(
        4, (3, 20), step_db=2.0, order="neck", places=((2, 3), (4, 20)), level_window_db=40.0
    ),
    "by hand, near": SetRules(3, (5,), step_db=3.0, order="near", places=((3, 5),), level_window_db=40.0),
    "a pin in the line": SetRules(4, (7, 30), step_db=2.0, order="neck", level_window_db=40.0),
}


@pytest.mark.parametrize("name", CASES)
def test_the_best_set_is_the_best_of_all_that_keep_the_conditions(
    found: Candidates, apart: np.ndarray, name: str
) -> None:
    rules = CASES[name]
    expected = best_of_all(found, apart, rules)
    if expected == 0.0:
        with pytest.raises(InputError, match="larger differences in level"):
            last(found, rules)
        return
    final = last(found, rules)
    assert final.proved
    assert final.distance_db == pytest.approx(expected, abs=1e-9)
    line = line_of(found, apart, rules, final.chosen)
    assert tuple(line) == set_in_order(found, rules, final.chosen)
    level = found.clean_level_db if rules.levels == "clean" else found.level_db
    assert max(abs(level[a] - level[b]) for a, b in pairwise(line)) <= rules.step_db


def test_most_cases_have_a_set_and_the_condition_costs_something(
    found: Candidates, apart: np.ndarray
) -> None:
    free = best_of_all(found, apart, SetRules(4, level_window_db=40.0))
    costs = {
        name: free - best_of_all(found, apart, rules) for name, rules in CASES.items() if rules.count == 4
    }
    assert sum(0.1 < cost < free for cost in costs.values()) >= 8, costs


@pytest.mark.parametrize("seed", range(3))
def test_levels_count_in_the_search_among_all_too(
    found: Candidates, apart: np.ndarray, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """Thinned to a few candidates: the bound never lies, and the end is the best of all."""
    monkeypatch.setattr(areas, "MOST_EXACT", 16)
    rng = np.random.default_rng(seed)
    rules = SetRules(
        3,
        spread_db=float(rng.uniform(2.0, 6.0)),
        step_db=float(rng.uniform(1.0, 4.0)),
        in_phase=1,
        levels=("wired", "clean", "wired")[seed],
        order=("neck", "thick", "near")[seed],
    )
    expected = best_of_all(found, apart, rules)
    answers = list(choose_sets(found, rules))
    assert all(one.bound_db >= expected - 1e-9 for one in answers)
    assert answers[-1].proved
    assert answers[-1].distance_db == pytest.approx(expected, abs=2.0 * choose.LEAST_GAIN_DB)


def test_the_orders_of_the_tenor(found: Candidates) -> None:
    chosen = [find_pinned(found, text) for text in ("pa", "pa + pb", "ns", "pb | ns", "pa + pb + ns")]

    def texts(order: str, *places: tuple[int, int]) -> list[str]:
        return [found.expression_text(i) for i in order_positions(found, chosen, order, places)]

    assert texts("neck") == ["ns", "pb | ns", "pa + pb + ns", "pa", "pa + pb"]
    thick = order_positions(found, chosen, "thick")
    assert sorted(found.low_share[list(thick)], reverse=True) == list(found.low_share[list(thick)])
    assert texts("neck", (1, chosen[1]), (5, chosen[2]))[::4] == ["pa + pb", "ns"]
    assert texts("neck", (2, chosen[0])) == ["ns", "pa", "pb | ns", "pa + pb + ns", "pa + pb"]


def test_coils_without_a_place_stand_where_the_others_average(found: Candidates) -> None:
    assert find_candidates(tenor(), coils=["pa", "ns"]).place_m.tolist() == pytest.approx(
        [0.057, 0.148, 0.1025, 0.1025, 0.1025, 0.1025]
    )


@pytest.mark.parametrize(
    ("rules", "message"),
    [
        (SetRules(3, in_phase=4), "at most the 3 positions"),
        (SetRules(3, (1,), places=((4, 1),)), "a position, 1 to 3"),
        (SetRules(3, (1, 2), places=((1, 1), (1, 2))), "each once"),
        (SetRules(3, places=((1, 1),)), "a pinned sound"),
        (SetRules(3, order="near", in_order=True), "depends on the set"),
        (SetRules(4, (0, 46), spread_db=0.001), "larger differences in level"),
    ],
)
def test_conditions_that_make_no_sense(found: Candidates, rules: SetRules, message: str) -> None:
    with pytest.raises(InputError, match=message):
        list(choose_sets(found, rules))


@pytest.mark.parametrize("text", ["", "half", "101 %", "-1", "1.5", "%"])
def test_shares_that_make_no_sense(text: str) -> None:
    with pytest.raises(InputError, match="a share such as 60 %"):
        least_of(text, 5, "quiet")
