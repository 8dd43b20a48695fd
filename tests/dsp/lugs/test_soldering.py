"""Steps of soldering and the parts for them. Common practice, no source."""

from __future__ import annotations

from collections import Counter

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.soldering import JOIN, LEAD, TIE, WIRE, shopping_list, steps_of
from dsp.parts.switch import shorthand

LEADS = (("a", "start"), ("b", "start"), ("c", "start"))
CHART = Chart(
    shorthand(1, 3),
    (
        (HOT_END, (SWITCH, "A0")),
        (COLD_END, ("a", "finish"), ("b", "finish")),
        ((SWITCH, "A1"), (SWITCH, "A2"), *LEADS),
        (("c", "finish"), ("d", "start")),
    ),
    {"1": "1"},
)


def test_leads_are_spread_over_the_lugs_of_their_net() -> None:
    steps = [step for step in steps_of(CHART) if step.kind == LEAD and step.net == 2]
    assert [step.ends[0] for step in steps] == list(LEADS)
    used = Counter(step.ends[1] for step in steps)
    assert used == {(SWITCH, "A1"): 2, (SWITCH, "A2"): 1}


def test_leads_without_a_lug_go_to_the_end_of_the_circuit_or_are_joined() -> None:
    steps = steps_of(CHART)
    assert [step.ends for step in steps if step.net == 1] == [
        (("a", "finish"), COLD_END),
        (("b", "finish"), COLD_END),
    ]
    assert [(step.kind, step.ends) for step in steps if step.net == 3] == [(JOIN, CHART.nets[3])]


def test_steps_go_from_the_bench_to_the_controls_and_the_list_counts_them() -> None:
    steps = steps_of(CHART)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert list(dict.fromkeys(step.kind for step in steps)) == [TIE, LEAD, JOIN, WIRE]
    assert shopping_list(CHART) == {
        "poles used": 1,
        "lugs to solder": 3,
        "short wires between lugs": 1,
        "wires from switch to switch": 0,
        "wires to the controls and to ground": 1,
        "joints of leads, with sleeving": 1,
    }
