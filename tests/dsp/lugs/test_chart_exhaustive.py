"""Charts by search against all possible charts, on switches small enough to try each."""

from __future__ import annotations

from itertools import product

import pytest
from charts import SOUNDS, Given, cheapest_charts, wanted

from dsp.lugs.make import verify
from dsp.lugs.rules import FIXED, FREE, ChartRules
from dsp.lugs.solve import IMPOSSIBLE, PROVED, solve
from dsp.parts.switch import Switch, bridging, on_off_on, on_on

CROSSED = Switch(("A0", "A1", "B0", "B1"), {"1": (("A0", "A1"),), "2": (("B0", "B1"), ("A0", "A1"))})
"""A made-up table: one pole closed always, the other in one position."""
TWO_POLES = Switch(("A0", "A1", "A2", "B0", "B1"), {"1": (("A0", "A1"), ("B0", "B1")), "2": (("A0", "A2"),)})
NEVER = Switch(("P", "Q", "R"), {"1": (("P", "Q"),), "2": (), "3": (("Q", "R"),)})
EVERYTHING = Switch(("P", "Q", "R"), {"1": (("P", "Q", "R"),), "2": (("P", "Q", "R"),)})
SWITCHES = {
    "on_on": on_on(1),
    "on_off_on": on_off_on(1),
    "bridging": bridging(1, 3),
    "crossed": CROSSED,
    "two poles": TWO_POLES,
    "never": NEVER,
    "everything": EVERYTHING,
}
LONG = ("two poles", "crossed")
RULES = {
    "usual": ChartRules(order=FIXED, spare_joints=3),
    "no shorts": ChartRules(order=FIXED, shorted=False, spare_joints=3),
    "hanging": ChartRules(order=FIXED, hanging=True, spare_joints=3),
}
LONG_RULES = ("no shorts", "hanging")


def fewest(table: dict[tuple[Given, ...], tuple[int, int]], row: tuple[str, ...]) -> tuple[int, int] | None:
    """Return the cheapest chart for sounds in this order, each turned or not, equal ones alike."""
    costs = [
        table[given]
        for turns in product((False, True), repeat=len(row))
        if (given := tuple(zip(row, turns, strict=True))) in table and len(set(given)) == len(set(row))
    ]
    return min(costs, default=None)


@pytest.mark.slow
@pytest.mark.parametrize(
    "rules", ["usual", *(pytest.param(one, marks=pytest.mark.long) for one in LONG_RULES)]
)
@pytest.mark.parametrize(
    "switch", [pytest.param(name, marks=pytest.mark.long if name in LONG else ()) for name in SWITCHES]
)
def test_search_finds_what_trying_everything_finds(switch: str, rules: str) -> None:
    table = cheapest_charts(SWITCHES[switch], RULES[rules])
    rows = list(product(SOUNDS, repeat=len(SWITCHES[switch].positions)))
    # Of three positions every seventh row: 31 of 216, which no order of the sounds favours.
    for row in rows if len(rows) < 50 else rows[::7]:
        want = fewest(table, row)
        sounds = wanted(row, coils="ab")
        got = solve(sounds, SWITCHES[switch], RULES[rules], time_s=30.0)
        if want is None:
            assert got.outcome == IMPOSSIBLE, row
        else:
            assert got.chart is not None, row
            assert (got.outcome, got.chart.poles, got.chart.wires) == (PROVED, *want), row
            verify(sounds, got.chart, RULES[rules])


@pytest.mark.slow
def test_the_tables_hold_both_kinds_of_row() -> None:
    """A comparison in which every row is possible, or none, would prove little."""
    table = cheapest_charts(TWO_POLES, RULES["usual"])
    answers = [fewest(table, row) for row in product(SOUNDS, repeat=2)]
    assert 4 < sum(one is None for one in answers) < 32
    assert len({one for one in answers if one}) > 2


def test_free_order_is_the_best_of_all_orders() -> None:
    table = cheapest_charts(bridging(1, 3), RULES["usual"])
    for row in (("a | b", "a", "b"), ("a", "b", "a | b"), ("a", "a", "a | b"), ("a + b", "b", "a")):
        orders = (fewest(table, one) for one in product(set(row), repeat=3) if set(one) == set(row))
        want = min((one for one in orders if one), default=None)
        got = solve(wanted(sorted(set(row)), coils="ab"), bridging(1, 3), ChartRules(order=FREE), time_s=30.0)
        assert (None if got.chart is None else (got.chart.poles, got.chart.wires)) == want, row


def test_twin_one_wire_more_is_noticed() -> None:
    table = cheapest_charts(on_on(1), RULES["usual"])
    got = solve(wanted(("a", "a | b"), coils="ab"), on_on(1), RULES["usual"])
    assert got.chart is not None
    want = fewest(table, ("a", "a | b"))
    assert (got.chart.poles, got.chart.wires) == want
    assert (got.chart.poles, got.chart.wires + 1) != want
