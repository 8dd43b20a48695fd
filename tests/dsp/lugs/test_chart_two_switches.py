"""A selector times a second switch, and poles that do not move together."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from charts import SOUNDS, cheapest_charts, wanted

from dsp.errors import InputError
from dsp.lugs.between import (
    BREAKS,
    KINDS,
    MAKES,
    find_transitions,
    transition_words,
)
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.make import verify
from dsp.lugs.rules import FIXED, ChartRules
from dsp.lugs.solve import IMPOSSIBLE, PROVED, solve
from dsp.lugs.targets import Targets
from dsp.lugs.two_switches import CombinedSwitch, combine, lug_name, possible_moves, settings_at
from dsp.lugs.uneven import COIL_SHORT, HANGS, SHORT, SILENT, find_uneven, uneven_words
from dsp.lugs.verify_nodal import _Draw
from dsp.lugs.verify_partition import merge_terminals
from dsp.parts.switch import bridging, on_on, push_pull, push_to_make, shorthand
from dsp.wiring.passage import combined_contacts, common_contacts
from dsp.wiring.union import Merge

BOTH = combine({"selector": on_on(1), "split": push_to_make()})
USUAL = ChartRules(order=FIXED, spare_joints=3)


# --- the product


def test_every_combination_closes_the_contacts_of_both() -> None:
    assert isinstance(BOTH, CombinedSwitch)
    assert dict(BOTH.contacts) == {
        "1+out": (("1-A0", "1-A1"),),
        "1+in": (("1-A0", "1-A1"), ("2-A0", "2-A1")),
        "2+out": (("1-A0", "1-A2"),),
        "2+in": (("1-A0", "1-A2"), ("2-A0", "2-A1")),
    }
    assert settings_at(BOTH, "2+in") == ("2", {"split": "in"})
    assert lug_name(BOTH, "2-A1") == "split.A1"
    assert combine({"selector": on_on(1)}) == on_on(1)


def test_one_switch_moves_at_a_time() -> None:
    both = combine({"selector": shorthand(1, 3), "split": push_pull()})
    assert set(possible_moves(both)) == {
        *((f"{a}+{s}", f"{b}+{s}") for a, b in (("1", "2"), ("2", "3")) for s in ("down", "up")),
        *((f"{a}+down", f"{a}+up") for a in "123"),
    }
    assert possible_moves(shorthand(1, 3)) == (("1", "2"), ("2", "3"))


@pytest.mark.parametrize(
    ("members", "message"),
    [
        ({"a": shorthand(1, 12), "b": shorthand(1, 3)}, "12 x 3 positions; allowed: up to 24"),
        ({name: on_on(1) for name in "abcd"}, "4; allowed: 1 to 3"),
    ],
)
def test_products_too_large(members: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        combine(members)  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.long
def test_search_on_a_product_finds_what_trying_everything_finds() -> None:
    """All charts of a change-over and a make-only switch with two coils: possible rows and others."""
    table = cheapest_charts(BOTH, USUAL)
    upright = {row: cost for row, cost in table.items() if len(set(row)) > 2}
    given = sorted({tuple(name for name, _ in row) for row in upright})
    assert len(given) > 20
    impossible = [row for row in product(SOUNDS, repeat=4) if len(set(row)) > 2 and row not in given]
    for row in (*given[:: len(given) // 8], *impossible[:: len(impossible) // 6]):
        costs = [
            cost
            for turned, cost in table.items()
            if tuple(name for name, _ in turned) == row and len(set(turned)) == len(set(row))
        ]
        sounds = wanted(row, coils="ab")
        got = solve(sounds, BOTH, USUAL, time_s=30.0)
        if not costs:
            assert got.outcome == IMPOSSIBLE, row
            continue
        assert got.chart is not None, row
        assert (got.outcome, got.chart.poles, got.chart.wires) == (PROVED, *min(costs)), row
        verify(sounds, got.chart, USUAL)


# --- poles out of step


def chart_on_two_poles() -> tuple[Targets, Chart]:
    sounds = wanted(("a + b", "a | b", "b"), coils="ab")
    chart = solve(sounds, shorthand(3, 3), ChartRules(order=FIXED), time_s=10.0).chart
    assert chart is not None
    return sounds, chart


def states(chart: Chart, move: tuple[str, str], kind: str) -> dict[tuple[int, ...], list[tuple[str, ...]]]:
    """Return every combination of stages of the poles A, B and C, independently of dsp."""
    way = common_contacts if kind == BREAKS else combined_contacts
    tables = [chart.switch.contacts[move[0]], way(chart.switch, *move), chart.switch.contacts[move[1]]]
    found = {}
    for state in product(range(3), repeat=3):
        stands = zip("ABC", state, strict=True)
        found[state] = [group for pole, stage in stands for group in tables[stage] if group[0][0] == pole]
    return found


def nodal_events(sounds: Targets, chart: Chart, groups: list[tuple[str, ...]]) -> set[tuple[str, str]]:
    """Find shorts and silences by solving the circuit with random impedances."""
    lugs = [(SWITCH, lug) for lug in chart.switch.lugs]
    merge: Merge[tuple[str, str]] = Merge([COLD_END, HOT_END, *sounds.leads, *lugs])
    for net in chart.nets:
        merge.join(net)
    for group in groups:
        merge.join((SWITCH, lug) for lug in group)
    if merge.same(HOT_END, COLD_END):
        return {(SHORT, "")}
    numbers = {merge.root(COLD_END): 0, merge.root(HOT_END): 1}
    ends = {}
    for part in sounds.parts:
        first, last = (numbers.setdefault(merge.root((part.name, lead)), len(numbers)) for lead in part.leads)
        ends[part.name] = (first, last)
    solved = _Draw(sounds, np.random.default_rng(3)).solve(ends)
    return {(SILENT, "")} if np.max(np.abs(solved[:-1])) < 1e-9 else set()


@pytest.mark.parametrize("kind", KINDS)
def test_shorts_and_silences_out_of_step_against_nodal_solutions(kind: str) -> None:
    """Every order of three poles, each state solved with random impedances."""
    sounds, chart = chart_on_two_poles()
    events = find_uneven(sounds, chart)
    for move in pairwise(chart.switch.positions):
        every = states(chart, move, kind)
        known = set().union(*(nodal_events(sounds, chart, every[s, s, s]) for s in range(3)))
        want = set().union(*(nodal_events(sounds, chart, groups) for groups in every.values())) - known
        mine = [one for one in events if (one.positions, one.kind) == (move, kind)]
        assert {(one.what, one.coil) for one in mine if one.what in (SHORT, SILENT)} == want
    assert any(one.what in (SHORT, SILENT, HANGS, COIL_SHORT) for one in events)


def test_a_pole_that_is_late_shorts_the_output() -> None:
    """By hand: pole A brings hot to coil a or to the lug that pole B, in position 1, holds at ground."""
    switch = on_on(2)
    sounds = wanted(("a", "b"), coils="ab")
    nets = (
        (HOT_END, (SWITCH, "A0")),
        (COLD_END, ("a", "finish"), ("b", "finish"), (SWITCH, "B0")),
        (("a", "start"), (SWITCH, "A1"), (SWITCH, "B2")),
        (("b", "start"), (SWITCH, "A2"), (SWITCH, "B1")),
    )
    chart = Chart(switch, nets, {"1": "1", "2": "2"})
    verify(sounds, chart, ChartRules())
    assert not any(one.shorted for one in find_transitions(sounds, chart) if one.kind == BREAKS)
    (short,) = (one for one in find_uneven(sounds, chart) if (one.kind, one.what) == (BREAKS, SHORT))
    assert (short.early, short.late) in {(("A0",), ()), ((), ("A0",)), (("B0",), ()), ((), ("B0",))}
    said = " ".join(uneven_words(find_uneven(sounds, chart)))
    assert "poles move one after another the output may be shorted between 1 and 2 (pole of" in said


def test_one_pole_cannot_be_out_of_step() -> None:
    sounds = wanted(("a", "a | b", "b"), coils="ab")
    chart = solve(sounds, bridging(1, 3)).chart
    assert chart is not None
    assert find_uneven(sounds, chart) == ()


def chart_through_two_poles() -> tuple[Targets, Chart]:
    """By hand: each coil hangs between pole A at hot and pole B at ground."""
    sounds = wanted(("a", "b"), coils="ab")
    nets = (
        (HOT_END, (SWITCH, "A0")),
        (COLD_END, (SWITCH, "B0")),
        (("a", "start"), (SWITCH, "A1")),
        (("a", "finish"), (SWITCH, "B1")),
        (("b", "start"), (SWITCH, "A2")),
        (("b", "finish"), (SWITCH, "B2")),
    )
    return sounds, Chart(on_on(2), nets, {"1": "1", "2": "2"})


def test_a_pole_that_is_early_silences_the_output() -> None:
    """In step, some coil always sounds; with one pole ahead no coil has both its ends."""
    sounds, chart = chart_through_two_poles()
    assert not any(one.silent for one in find_transitions(sounds, chart) if one.kind == MAKES)
    (silent,) = (one for one in find_uneven(sounds, chart) if (one.kind, one.what) == (MAKES, SILENT))
    assert (silent.early, silent.late) in {(("A0",), ()), ((), ("A0",)), (("B0",), ()), ((), ("B0",))}


def test_an_untied_output_is_reported_as_an_open_input() -> None:
    found = find_uneven(*chart_through_two_poles())
    assert "left open" in " ".join(uneven_words(found, tied=False))
    assert "left open" not in " ".join(uneven_words(found))
    sounds, chart = chart_on_two_poles()
    said = " ".join(transition_words(find_transitions(sounds, chart), tied=False))
    assert "the amplifier's input is left open, a loud pop or hum" in said
    assert "left open" not in " ".join(transition_words(find_transitions(sounds, chart)))


def test_both_verifiers_look_at_every_combination() -> None:
    """A fault in only one combination: the second switch off."""
    sounds = wanted(("a", "a | b"), coils="ab")
    chart = solve(sounds, BOTH, ChartRules(), time_s=10.0).chart
    assert chart is not None
    assert set(chart.sounds) == set(BOTH.positions)
    assert all(not merge_terminals(sounds, chart, p).same(HOT_END, COLD_END) for p in BOTH.positions)
