"""What a player would want: pickups and plain sounds found, and the price of each condition."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from places import DEMO
from tenor import TENOR, tenor

from dsp.errors import InputError
from dsp.facts.position import position_facts
from dsp.lugs.best_set import sketch_of
from dsp.sounds.alternatives import find_best, take_better
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.choose import Choice, choose_sets
from dsp.sounds.pins import find_pinned
from dsp.sounds.prices import without_each
from dsp.sounds.request import SetRequest, rules_of
from dsp.sounds.rules import SetRules, set_in_order
from dsp.sounds.useful import find_pickups, find_plain_sounds, find_usual_sounds, with_plain_sounds
from dsp.wiring.model import Wiring
from server.cli import main
from server.wirings.text import load_wiring


def plain_texts(wiring: Wiring, found: Candidates) -> list[str]:
    return [found.expression_text(i) for i in find_plain_sounds(wiring, found)]


def test_a_pickup_of_two_coils_and_a_single_one() -> None:
    """As a builder names them: the neck; the neck with the coil that opposes its hum; the pair."""
    assert find_pickups(tenor(), ["pa", "pb", "ns"]) == [("ns",), ("pa", "pb")]
    assert plain_texts(tenor(), find_candidates(tenor())) == ["ns", "pb | ns", "pa + pb"]


def test_two_pickups_of_two_coils_each() -> None:
    wiring = load_wiring(DEMO / "baritone_sketch.yaml")
    assert find_pickups(wiring, list(wiring.coils)) == [("neck_a", "neck_b"), ("bridge_a", "bridge_b")]
    found = find_candidates(wiring)
    sounds = plain_texts(wiring, found)
    assert len(sounds) == 3
    facts = position_facts(sketch := sketch_of(wiring, sounds), [sketch.setting(p) for p in sketch.positions])
    assert all(not one.against for one in facts), "all coils are in phase"
    assert all(found.hum_db[find_pinned(found, one)] <= -15.0 for one in sounds)


@pytest.mark.parametrize("turned", ["pa", "pb", "ns"])
def test_plain_sounds_are_in_phase_whatever_way_a_coil_is_made(turned: str) -> None:
    wiring = tenor()
    coil = replace(wiring.coils[turned], magnet=-wiring.coils[turned].magnet)
    wiring = replace(wiring, parts={**wiring.parts, turned: coil})
    found = find_candidates(wiring)
    assert len(find_plain_sounds(wiring, found)) == 3
    for one in find_plain_sounds(wiring, found):
        assert not found.opposed[one], found.expression_text(one)


def test_usual_connections_of_a_pair_and_a_single_coil() -> None:
    """The pair whole, in parallel or with one coil; beside the neck with the coil that opposes its hum."""
    found = find_candidates(tenor())

    def texts(*, in_series: bool) -> set[str]:
        usual = find_usual_sounds(tenor(), found, in_series=in_series)
        return {found.expression_text(i) for i in usual if not found.opposed[i]}

    parallel = {"pa", "pb", "ns", "pa + pb", "pa | pb", "pb | ns", "pa | pb | ns", "(pa + pb) | ns"}
    assert texts(in_series=False) == parallel
    assert texts(in_series=True) == parallel | {"pb + ns", "pa + pb + ns", "(pa | pb) + ns"}


@pytest.mark.parametrize(
    ("count", "expected"),
    [
        (3, ["ns", "pb | ns", "pa + pb"]),
        (5, ["ns", "pb | ns", "pa | pb | ns", "pa", "pa + pb"]),
    ],
)
def test_the_useful_set_is_what_a_builder_solders(count: int, expected: list[str]) -> None:
    """The neck; one coil with it, without hum; all three; one coil; the pair."""
    found = find_candidates(tenor())
    rules, notes = rules_of(tenor(), found, SetRequest(count, "useful"))
    best = find_best(found, rules)
    assert (best.proved, notes) == (True, [])
    assert [found.expression_text(i) for i in set_in_order(found, rules, best.chosen)] == expected


def test_pinned_sounds_leave_the_quietest_of_equally_wide_sets() -> None:
    wiring = load_wiring(DEMO / "baritone_sketch.yaml")
    found = find_candidates(wiring)
    rules, _ = rules_of(wiring, found, SetRequest(5, "useful"))
    *_, first = choose_sets(found, rules)
    best = find_best(found, rules)
    assert best.distance_db == pytest.approx(first.distance_db, abs=1e-6)
    assert all(found.hum_db[i] <= -15.0 for i in best.chosen)
    assert not all(found.hum_db[i] <= -15.0 for i in first.chosen)


def test_an_equally_wide_set_is_no_better_one() -> None:
    """The same distance, added up in another order, differs in its last digits."""
    best = Choice((0, 1, 2), 2.0, 2.0)
    other = Choice((0, 1, 3), 2.0 + 1e-12, 2.0)
    assert take_better(best, [other]) == (best, [other])


def test_as_few_conditions_of_the_profile_give_way_as_must() -> None:
    """Nine usual sounds in phase there are not, but with pickups in series and larger steps."""
    found = find_candidates(tenor())
    rules, notes = rules_of(tenor(), found, SetRequest(9, "useful"))
    assert ["parallel" in note or "dB" in note for note in notes] == [True] * len(notes)
    assert "pickups in parallel" in notes[0]
    assert not rules.opposed
    with pytest.raises(InputError):
        find_best(found, rules_of(tenor(), found, SetRequest(9, "useful", in_phase="all", usual=True))[0])


def test_coils_without_a_place_are_single() -> None:
    wiring = tenor()
    parts = {name: replace(coil, at_m=None) for name, coil in wiring.coils.items()}
    wiring = replace(wiring, parts={**wiring.parts, **parts})
    assert find_pickups(wiring, ["pa", "pb", "ns"]) == [("pa",), ("pb",), ("ns",)]


def test_each_condition_is_dropped_alone_and_then_all() -> None:
    rules = SetRules(5, pinned=(3,), quiet=2, opposed=False, without=(4,), thinnest=0.1)
    dropped = without_each(rules)
    assert len(dropped) == 7
    assert dropped["coils in phase"] == replace(rules, opposed=True)
    assert dropped["sounds kept"] == replace(rules, pinned=())
    free = dropped["all of these"]
    assert (free.pinned, free.quiet, free.opposed, free.without, free.thinnest) == ((), 0, True, (), 0.0)
    assert without_each(SetRules(5, level_window_db=200.0)) == {}


def test_the_useful_set_of_the_tenor_can_be_soldered_and_says_its_price(tmp_path: Path) -> None:
    """In phase, the plain sounds in it, proved; a condition less never makes the range smaller."""
    file = tmp_path / "tenor.yaml"
    file.write_text(TENOR, encoding="utf-8")
    words = ["range", str(file), "-n", "5", "--switch", "blade_5_two_pole", "--profile", "useful", "--costs"]
    done = CliRunner().invoke(main, [*words, "--time", "300", "--json"], catch_exceptions=False)
    answer = json.loads(done.stdout)
    sounds = {row["expression"] for row in answer["positions"]}
    assert {"ns", "pb | ns", "pa + pb"} <= sounds
    assert not any(row["opposed"] for row in answer["positions"])
    assert answer["proved"]
    costs = {row["condition"]: row for row in answer["costs"]}
    assert set(costs) == {
        "coils in phase",
        "sounds kept",
        "usual connections",
        "levels 12 dB apart at most",
        "neighbours 6 dB apart at most",
        "all of these",
    }
    for row in costs.values():
        assert row["proved"]
        assert row["without_db"] >= answer["distance_db"] - 1e-4
        assert row["costs_db"] == pytest.approx(row["without_db"] - answer["distance_db"], abs=2e-4)
    assert costs["all of these"]["without_db"] == max(row["without_db"] for row in costs.values())


def test_a_dummy_coil_is_no_pickup_and_no_plain_sound() -> None:
    wiring = with_dummy(tenor(), "pb")
    assert find_pickups(wiring, ["pa", "pb", "ns"]) == [("ns",), ("pa",)]
    found = find_candidates(wiring)
    assert plain_texts(wiring, found) == ["ns", "pa | ns", "pa"]
    assert len(with_plain_sounds(wiring, found, 3, (), ())) == 3  # none of them is refused as not searched


def with_dummy(wiring: Wiring, name: str) -> Wiring:
    coil = replace(wiring.coils[name], sensitivity=0.0, at_m=None)
    return replace(wiring, parts={**wiring.parts, name: coil})
