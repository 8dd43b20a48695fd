"""Two verifiers that share no code with the search or with each other must agree."""

from __future__ import annotations

import ast
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from charts import wanted

import dsp.lugs as room
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart, Net
from dsp.lugs.make import ChartFault, trim, turn_upright, verify
from dsp.lugs.rules import FIXED, ChartRules
from dsp.lugs.solve import solve
from dsp.lugs.targets import Targets
from dsp.lugs.verify_nodal import find_wrong_positions
from dsp.lugs.verify_partition import find_faults
from dsp.parts.switch import Switch, bridging, on_on, on_on_on, shorthand

MUTATED = 1000
LOOSE = ChartRules(hanging=True, shorted=True)
CASES: dict[str, tuple[Targets, Switch]] = {
    "blade": (wanted(("a", "a | b", "b", "b | c", "c"), coils="abc"), bridging(2, 5)),
    "rotary": (wanted(("a + b", "a | b", "a | c", "c + d", "c | d"), coils="abcd"), shorthand(4, 5)),
    "coupled": (wanted(("a + b", "a", "a | b"), coils="ab", coupled=("ab",)), shorthand(3, 3)),
    "toggle": (wanted(("a + b", "a | b", "a"), coils="ab"), on_on_on(2)),
    "capacitor": (wanted(("a", "a + k", "(a | b) + k"), coils="ab", others="k"), shorthand(3, 3)),
    "phase": (wanted(("a | b", "a | -b"), coils="ab"), on_on(2)),
}


@pytest.fixture(scope="module")
def charts() -> dict[str, Chart]:
    found = {name: solve(w, s, time_s=2.0).chart for name, (w, s) in CASES.items()}
    assert all(found.values())
    return {name: chart for name, chart in found.items() if chart is not None}


def mutated(chart: Chart, rng: np.random.Generator) -> Chart:
    """Move one or two terminals to another joint, or to none."""
    nets = [list(net) for net in chart.nets]
    for _ in range(rng.integers(1, 3)):
        everything = [(i, t) for i, net in enumerate(nets) for t in net if t not in (HOT_END, COLD_END)]
        spare = [(SWITCH, lug) for lug in chart.switch.lugs if not any((SWITCH, lug) in net for net in nets)]
        if spare and rng.random() < 0.3:
            terminal = spare[rng.integers(len(spare))]
        else:
            at, terminal = everything[rng.integers(len(everything))]
            nets[at].remove(terminal)
        to = rng.integers(len(nets) + 1)
        if to < len(nets):
            nets[to].append(terminal)
    return replace(chart, nets=tuple(tuple(net) for net in nets if net))


def test_both_accept_what_was_made(charts: dict[str, Chart]) -> None:
    for name, chart in charts.items():
        assert not find_faults(CASES[name][0], chart, ChartRules()), name
        assert not find_wrong_positions(CASES[name][0], chart), name


def test_they_agree_on_a_thousand_mutated_charts(charts: dict[str, Chart]) -> None:
    """Position by position; most mutants are faulty, and some positions of most are not."""
    rng = np.random.default_rng(7)
    seen: Counter[bool] = Counter()
    faulty_charts = 0
    for i in range(MUTATED):
        name = list(CASES)[i % len(CASES)]
        sounds, chart = CASES[name][0], mutated(charts[name], rng)
        by_partition = {f.position for f in find_faults(sounds, chart, LOOSE) if f.kind == "sound"}
        by_nodal = set(find_wrong_positions(sounds, chart, seed=i))
        assert by_partition == by_nodal, (name, chart.nets)
        faulty_charts += bool(by_nodal)
        seen.update(position in by_nodal for position in chart.switch.positions)
    assert faulty_charts > MUTATED / 2
    assert min(seen.values()) > MUTATED / 4


def chart_of(
    switch: Switch, *nets: str, sounds: tuple[str, ...], turned: frozenset[str] = frozenset()
) -> Chart:
    """Make a chart by hand: "hot a.start A0" is a joint; lugs have no dot."""
    names = {"hot": HOT_END, "cold": COLD_END}

    def terminal(word: str) -> tuple[str, str]:
        part, dot, lead = word.partition(".")
        return names.get(word) or ((part, lead) if dot else (SWITCH, word))

    joints: tuple[Net, ...] = tuple(tuple(map(terminal, net.split())) for net in nets)
    return Chart(switch, joints, dict(zip(switch.positions, sounds, strict=True)), turned)


ON_ON = on_on(1)
A_OR_B = wanted(("a", "b"), coils="ab")
GOOD = ("hot A0", "cold a.finish b.finish", "a.start A1", "b.start A2")


def test_a_chart_by_hand_passes() -> None:
    verify(A_OR_B, chart_of(ON_ON, *GOOD, sounds=("1", "2")), ChartRules())


@pytest.mark.parametrize(
    ("nets", "position"),
    [
        (("hot A0", "cold a.finish b.finish", "a.start A1", "b.start"), "2"),  # a lead left off
        (("hot A0", "cold a.finish b.finish", "a.start A2", "b.start A1"), "1"),  # lugs exchanged
        (("hot A0", "cold a.finish b.finish A1", "a.start", "b.start A2"), "1"),  # output shorted
        (("hot A0", "cold a.start b.finish", "a.finish A1", "b.start A2"), "1"),  # a coil turned round
        (("hot A0 b.start", "cold a.finish b.finish", "a.start A1"), "1"),  # the other coil always on
        (("hot A0", "cold a.finish", "a.start A1", "b.start A2", "b.finish"), "2"),  # no way to ground
    ],
)
def test_faults_by_hand_are_seen_by_both(nets: tuple[str, ...], position: str) -> None:
    chart = chart_of(ON_ON, *nets, sounds=("1", "2"))
    assert position in {fault.position for fault in find_faults(A_OR_B, chart, LOOSE)}
    assert position in find_wrong_positions(A_OR_B, chart)
    with pytest.raises(ChartFault, match=f"position {position}"):
        verify(A_OR_B, chart, LOOSE)


def test_a_turned_sound_must_be_declared() -> None:
    nets = ("hot A0", "cold a.start b.finish", "a.finish A1", "b.start A2")
    verify(A_OR_B, chart_of(ON_ON, *nets, sounds=("1", "2"), turned=frozenset({"1"})), ChartRules())


def test_rules_on_unused_coils() -> None:
    hangs = chart_of(ON_ON, "hot a.start b.start", "cold A0", "a.finish A1", "b.finish A2", sounds=("1", "2"))
    (first, second) = find_faults(A_OR_B, hangs, ChartRules())
    assert (first.kind, first.text) == ("rule", "unused b hangs from a live point")
    assert (second.position, second.text) == ("2", "unused a hangs from a live point")
    assert not find_faults(A_OR_B, hangs, ChartRules(hanging=True))
    short = chart_of(
        on_on(2),
        *("hot A0", "cold a.finish b.finish B0", "a.start A1 B2", "b.start A2 B1"),
        sounds=("1", "2"),
    )
    assert not find_faults(A_OR_B, short, ChartRules())
    texts = [fault.text for fault in find_faults(A_OR_B, short, ChartRules(shorted=False))]
    assert texts == ["unused b is shorted", "unused a is shorted"]


def test_a_shorted_coil_loads_one_it_is_coupled_to() -> None:
    coupled = wanted(("a", "b"), coils="ab", coupled=("ab",))
    nets = ("hot A0", "cold a.finish b.finish B0", "a.start A1 B2", "b.start A2 B1")
    short = chart_of(on_on(2), *nets, sounds=("1", "2"))
    assert {fault.kind for fault in find_faults(coupled, short, ChartRules())} == {"sound"}
    assert find_wrong_positions(coupled, short) == ("1", "2")
    assert find_wrong_positions(A_OR_B, short) == ()


def test_trimming_removes_only_what_nothing_depends_on() -> None:
    extra = chart_of(
        on_on(2), "hot A0 B1", "cold a.finish b.finish", "a.start A1", "b.start A2 B2", sounds=("1", "2")
    )
    verify(A_OR_B, extra, ChartRules())
    assert trim(A_OR_B, extra, ChartRules()).lugs == ("A0", "A1", "A2")


def test_leads_are_exchanged_where_most_sounds_are_turned() -> None:
    nets = ("hot A0", "cold a.start b.start", "a.finish A1", "b.finish A2")
    turned = chart_of(ON_ON, *nets, sounds=("1", "2"), turned=frozenset({"1", "2"}))
    verify(A_OR_B, turned, ChartRules())
    better = turn_upright(A_OR_B, turned)
    assert not better.turned
    verify(A_OR_B, better, ChartRules())


def imported(module: str) -> set[str]:
    """Return the modules of the room that a module imports anywhere in its text."""
    path = Path(room.__file__).parent / f"{module}.py"
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    names = {node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)}
    return {name.rpartition(".")[2] for name in names if name.startswith("dsp.lugs")}


def test_the_verifiers_import_neither_the_search_nor_each_other() -> None:
    assert imported("verify_partition") <= {"chart", "rules", "targets"}
    assert imported("verify_nodal") <= {"chart", "targets"}
    assert {"verify_nodal", "verify_partition", "solve"} <= imported("make")


def test_fixed_order_keeps_the_order() -> None:
    chart = solve(wanted(("b", "a | b", "a"), coils="ab"), bridging(1, 3), ChartRules(order=FIXED)).chart
    assert chart is not None
    assert dict(chart.sounds) == {"1": "1", "2": "2", "3": "3"}
