"""Sets of positions: the best against brute force, rules and bounds that hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from places import DEMO

from dsp.errors import InputError
from dsp.sound.timbre import timbre_distance
from dsp.sounds import areas, choose
from dsp.sounds.areas import allowed_candidates
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.choose import Choice, choose_sets
from dsp.sounds.rules import SetRules
from server.wirings.text import load_wiring


@pytest.fixture(scope="module")
def three() -> Candidates:
    wiring = load_wiring(DEMO / "baritone_sketch.yaml")
    return find_candidates(wiring, coils=["neck_a", "neck_b", "bridge_b"])


@pytest.fixture(scope="module")
def four() -> Candidates:
    return find_candidates(load_wiring(DEMO / "baritone_sketch.yaml"))


def last(found: Candidates, rules: SetRules) -> Choice:
    *_, final = choose_sets(found, rules)
    return final


def smallest(found: Candidates, members: tuple[int, ...]) -> float:
    return min(float(timbre_distance(found.timbre[a], found.timbre[b])) for a, b in combinations(members, 2))


def brute(found: Candidates, rules: SetRules) -> float:
    loudest = found.level_db.max()
    allowed = [
        i
        for i in range(len(found))
        if i in rules.pinned
        or (
            found.level_db[i] >= loudest - rules.level_window_db
            and found.low_share[i] >= rules.thinnest
            and (rules.opposed or not found.opposed[i])
        )
    ]
    sets = (
        members
        for members in combinations(allowed, rules.count)
        if set(rules.pinned) <= set(members)
        and sum(found.hum_db[i] <= rules.quiet_db for i in members) >= rules.quiet
    )
    return max(smallest(found, members) for members in sets)


@pytest.mark.parametrize(
    "rules",
    [
        SetRules(2),
        SetRules(3),
        SetRules(4),
        SetRules(4, quiet=2),
        SetRules(3, opposed=False),
        SetRules(3, pinned=(5,)),
        SetRules(4, pinned=(0, 9), quiet=1, level_window_db=10.0),
        SetRules(3, thinnest=0.5),
    ],
)
def test_the_best_set_against_brute_force(three: Candidates, rules: SetRules) -> None:
    final = last(three, rules)
    assert final.proved
    assert final.distance_db == pytest.approx(brute(three, rules), abs=1e-9)
    assert smallest(three, final.chosen) == pytest.approx(final.distance_db, abs=1e-9)
    assert set(rules.pinned) <= set(final.chosen)
    assert len(final.chosen) == rules.count


def test_each_answer_is_no_worse_and_the_bound_never_below(four: Candidates) -> None:
    answers = list(choose_sets(four, SetRules(6, quiet=3)))
    distances = [one.distance_db for one in answers]
    assert distances == sorted(distances)
    assert all(one.bound_db >= answers[-1].distance_db - 1e-9 for one in answers)
    assert answers[-1].proved
    assert sum(four.hum_db[i] <= -15.0 for i in answers[-1].chosen) >= 3


def test_many_candidates_are_thinned_with_an_honest_bound(
    four: Candidates, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = last(four, SetRules(5))
    monkeypatch.setattr(areas, "MOST_EXACT", 120)
    thinned = last(four, SetRules(5))
    assert thinned.distance_db <= whole.distance_db + 1e-9 <= thinned.bound_db + 2e-9
    assert thinned.distance_db >= 0.8 * whole.distance_db


def test_too_many_for_a_proof_are_swapped_among_all(
    four: Candidates, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As with six coils: a first set of all candidates, no worse ones after it, and an honest bound."""
    whole = last(four, SetRules(5, quiet=2))
    for name, few in {"MOST_EXACT": 60, "MOST_WHOLE": 100, "MOST_COVER": 40}.items():
        monkeypatch.setattr(areas, name, few)
    answers = list(choose_sets(four, SetRules(5, quiet=2)))
    distances = [one.distance_db for one in answers]
    assert distances == sorted(distances)
    assert distances[0] >= 0.9 * whole.distance_db
    assert distances[-1] <= whole.distance_db + 1e-9
    assert all(one.bound_db >= whole.distance_db for one in answers)
    assert not answers[-1].proved
    for one in answers:
        assert smallest(four, one.chosen) == pytest.approx(one.distance_db, abs=1e-9)
        assert sum(four.hum_db[i] <= -15.0 for i in one.chosen) >= 2
    looks: list[int] = []
    assert next(choose_sets(four, SetRules(5, quiet=2), stop=lambda: bool(looks.append(1)))) == answers[0]
    assert not looks  # the clock has no say in the first set
    monkeypatch.setattr(choose, "MOST_LOOKS", 0)
    assert list(choose_sets(four, SetRules(5, quiet=2)))[-1].bound_db >= answers[-1].bound_db


def test_pins_and_weights_hold_where_there_are_too_many(
    four: Candidates, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, few in {"MOST_EXACT": 60, "MOST_WHOLE": 100, "MOST_COVER": 40}.items():
        monkeypatch.setattr(areas, name, few)
    factors = np.ones(len(four))
    factors[[7, 300]] = 0.5, 1.6
    rules = SetRules(4, pinned=(7,), weights=((7, 0.5), (300, 1.6)), level_window_db=60.0)
    for one in choose_sets(four, rules):
        assert 7 in one.chosen
        assert weighted(four, one.chosen, factors) == pytest.approx(one.distance_db, abs=1e-9)


def test_a_favourite_is_taken_for_its_weight(three: Candidates) -> None:
    plain = last(three, SetRules(3))
    favourite = next(i for i in range(len(three)) if i not in plain.chosen)
    assert favourite in last(three, SetRules(3, weights=((favourite, 50.0),))).chosen
    light = last(three, SetRules(3, weights=tuple((i, 0.01) for i in plain.chosen)))
    assert not set(light.chosen) & set(plain.chosen)


@pytest.mark.parametrize("seed", range(6))
def test_weights_count_in_the_search_among_all(
    three: Candidates, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """Thinned to a few candidates, the search among all still ends at the best weighted set."""
    rng = np.random.default_rng(seed)
    factors = rng.uniform(0.5, 2.0, len(three))
    rules = SetRules(3, weights=tuple(enumerate(factors.tolist())))
    monkeypatch.setattr(areas, "MOST_EXACT", 12)
    final = last(three, rules)
    assert final.proved
    best = max(
        weighted(three, members, factors)
        for members in combinations(allowed_candidates(three, rules).tolist(), 3)
    )
    assert final.distance_db == pytest.approx(best, abs=2.0 * choose.LEAST_GAIN_DB)
    assert weighted(three, final.chosen, factors) == pytest.approx(final.distance_db, abs=1e-9)


def weighted(found: Candidates, members: Sequence[int], factors: Sequence[float]) -> float:
    """Smallest distance between two members, each times the factors of both."""
    return min(
        float(timbre_distance(found.timbre[a], found.timbre[b])) * factors[a] * factors[b]
        for a, b in combinations(members, 2)
    )


@pytest.mark.parametrize(
    ("rules", "message"),
    [
        (SetRules(0), "1 to 47"),
        (SetRules(48), "1 to 47"),
        (SetRules(3, pinned=(1, 1)), "each once"),
        (SetRules(2, pinned=(1, 2, 3)), "no more than there are positions"),
        (SetRules(3, quiet=4), "at most the 3 positions"),
        (SetRules(40, level_window_db=1.0), "sounds that keep the rules"),
        (SetRules(20, quiet=20, quiet_db=-80.0), "at most as many as there are"),
    ],
)
def test_rules_that_cannot_be_kept(three: Candidates, rules: SetRules, message: str) -> None:
    with pytest.raises(InputError, match=message):
        list(choose_sets(three, rules))


def test_pins_and_quiet_ones_that_contradict(three: Candidates) -> None:
    loud = tuple(np.flatnonzero(three.hum_db > -15.0)[:3].tolist())
    with pytest.raises(InputError, match="some set can keep"):
        list(choose_sets(three, SetRules(4, pinned=loud, quiet=2)))


def test_two_equal_sounds_have_no_distance(three: Candidates) -> None:
    twice = replace(
        three,
        networks=three.networks[:1] * 2,
        signs=three.signs[[0, 0]],
        energy=three.energy[[0, 0]],
        hum_db=three.hum_db[[0, 0]],
        reading_ohm=three.reading_ohm[[0, 0]],
        opposed=three.opposed[[0, 0]],
    )
    final = last(twice, SetRules(2))
    assert final.distance_db == pytest.approx(0.0, abs=1e-6)
    assert final.proved
