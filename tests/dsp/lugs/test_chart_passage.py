"""Between positions, in soldering order, and how few poles suffice."""

from __future__ import annotations

from dataclasses import replace

import pytest
from charts import wanted

from dsp.lugs import explain as explain_module
from dsp.lugs.between import (
    BREAKS,
    KNOWN,
    MAKES,
    find_transitions,
    transition_words,
)
from dsp.lugs.bound import ideal_poles
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart, poles_of
from dsp.lugs.explain import change_pole_count, explain
from dsp.lugs.make import make_chart
from dsp.lugs.rules import FIXED, ChartRules
from dsp.lugs.soldering import JOIN, KINDS, LEAD, TIE, WIRE, shopping_list, steps_of
from dsp.lugs.solve import IMPOSSIBLE, PROVED, Solution, solve
from dsp.lugs.two_switches import combine
from dsp.lugs.uneven import find_uneven
from dsp.parts.switch import Switch, bridging, on_on, push_pull, shorthand
from dsp.wiring.passage import combined_contacts, common_contacts

SOUNDS = wanted(("a", "b"), coils="ab")
NETS = (
    (HOT_END, (SWITCH, "A0")),
    (COLD_END, ("a", "finish"), ("b", "finish")),
    (("a", "start"), (SWITCH, "A1")),
    (("b", "start"), (SWITCH, "A2")),
)
PLAIN = Chart(on_on(1), NETS, {"1": "1", "2": "2"})


def test_a_change_over_is_silent_or_plays_both() -> None:
    breaks, makes = find_transitions(SOUNDS, PLAIN)
    assert (breaks.kind, breaks.shorted, breaks.heard, breaks.silent) == (BREAKS, False, (), True)
    assert (makes.kind, makes.shorted, makes.heard, makes.silent) == (MAKES, False, ("a", "b"), False)
    first, second = transition_words((breaks, makes))
    assert first == (
        "With a switch that breaks before it makes no coil is heard between 1 and 2: "
        "a moment of silence, perhaps a click."
    )
    assert "some coil is heard all the way" in second


def test_a_shorting_switch_can_short_the_output() -> None:
    nets = ((HOT_END, (SWITCH, "A1"), ("a", "start")), (COLD_END, (SWITCH, "A2"), ("a", "finish")))
    sounds = wanted(("a",), coils="a")
    chart = Chart(on_on(1), nets, {"1": "1", "2": "1"})
    makes = find_transitions(sounds, chart)[1]
    assert (makes.shorted, makes.silent) == (True, True)
    assert "the output is shorted between 1 and 2" in transition_words((makes,))[0]


def test_a_coil_may_hang_from_a_live_point_on_the_way() -> None:
    nets = (
        (HOT_END, ("a", "start"), ("b", "start")),
        (COLD_END, (SWITCH, "A0")),
        (("a", "finish"), (SWITCH, "A1")),
        (("b", "finish"), (SWITCH, "A2")),
    )
    breaks = find_transitions(SOUNDS, Chart(on_on(1), nets, {"1": "1", "2": "2"}))[0]
    assert breaks.hanging == ("a", "b")
    assert (
        "a, b hang from a live point by one lead between 1 and 2: a short buzz or pop"
        in transition_words((breaks,))[1]
    )


def test_in_between_positions_never_let_go() -> None:
    blade = bridging(1, 3)
    assert common_contacts(blade, "1", "2") == (("A0", "A1"),)
    assert combined_contacts(blade, "1", "2") == (("A0", "A1", "A2"),)
    chart = solve(wanted(("a", "a | b", "b"), coils="ab"), blade, ChartRules(order=FIXED)).chart
    assert chart is not None
    assert not any(one.silent or one.hanging for one in find_transitions(SOUNDS, chart))


def test_neighbours_are_looked_at_in_pairs() -> None:
    chart = solve(wanted(("a", "b", "a | b"), coils="ab"), shorthand(2, 3)).chart
    assert chart is not None
    assert [one.positions for one in find_transitions(SOUNDS, chart)][::2] == [("1", "2"), ("2", "3")]


def test_of_a_switch_whose_timing_is_known_only_its_own_way_is_told() -> None:
    for timing, kind in (("non-shorting", BREAKS), ("shorting", MAKES)):
        chart = replace(PLAIN, switch=replace(on_on(1), timing=timing))
        (one,) = find_transitions(SOUNDS, chart)
        assert replace(one, known=False) in find_transitions(SOUNDS, PLAIN)
        assert (one.kind, one.known) == (kind, True)
        (said,) = transition_words((one,))
        assert said.startswith(f"As this switch {KNOWN[kind]}, ")
        assert {event.kind for event in find_uneven(SOUNDS, chart)} <= {kind}


def test_of_two_switches_each_keeps_its_own_timing() -> None:
    both = combine({"selector": replace(on_on(1), timing="shorting"), "split": push_pull(1)})
    nets = tuple(
        tuple((part, f"1-{lead}") if part == SWITCH else (part, lead) for part, lead in net) for net in NETS
    )
    chart = Chart(both, nets, {position: position[0] for position in both.positions})
    found = {(one.positions, one.kind, one.known) for one in find_transitions(SOUNDS, chart)}
    assert (("1+down", "2+down"), MAKES, True) in found
    assert (("1+down", "2+down"), BREAKS, False) not in found
    assert {(("1+down", "1+up"), kind, False) for kind in (BREAKS, MAKES)} <= found


def test_a_sketch_beside_other_coils_never_silences_them() -> None:
    """Two parts on a toggle, coils elsewhere: between the positions the rest plays on."""
    sounds = replace(wanted(("r", "c"), coils="", others="rc"), alone=False)
    nets = (
        (HOT_END, (SWITCH, "A0")),
        (COLD_END, ("r", "b"), ("c", "b")),
        (("r", "a"), (SWITCH, "A1")),
        (("c", "a"), (SWITCH, "A2")),
    )
    first, second = transition_words(find_transitions(sounds, Chart(on_on(1), nets, {"1": "1", "2": "2"})))
    assert first.endswith("the sketch is open between 1 and 2: a moment of the rest of the wiring alone.")
    assert "some part of the sketch stays in the circuit all the way" in second
    short = ((HOT_END, (SWITCH, "A1"), ("r", "a")), (COLD_END, (SWITCH, "A2"), ("r", "b"), ("c", "b")))
    said = transition_words(find_transitions(sounds, Chart(on_on(1), short, {"1": "1", "2": "1"})))
    assert "the ends of the sketch are joined between 1 and 2: a moment of another sound." in said[1]
    assert "output" not in " ".join(said)


# --- soldering order


def test_steps_solder_everything_once_and_in_order() -> None:
    sounds = wanted(("a + b", "a | b", "a | c", "c + d", "c | d"), coils="abcd")
    chart = solve(sounds, shorthand(4, 5), time_s=2.0).chart
    assert chart is not None
    steps = steps_of(chart)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    order = [list(KINDS).index(step.kind) for step in steps]
    assert order == sorted(order)
    for i, net in enumerate(chart.nets):
        tied = [set(step.ends) for step in steps if step.net == i]
        group = tied.pop(0)
        while more := [ends for ends in tied if ends & group]:
            group = group.union(*more)
            tied = [ends for ends in tied if ends not in more]
        assert group == set(net), "a joint falls apart"
    kinds = [step.kind for step in steps]
    assert kinds.count(TIE) + kinds.count(WIRE) == chart.wires
    assert kinds.count(LEAD) == len(sounds.leads)


def test_a_joint_in_the_air_is_sleeved() -> None:
    chart = solve(wanted(("a + b",), coils="ab"), on_on(1)).chart
    assert chart is not None
    kinds = [step.kind for step in steps_of(chart)]
    assert kinds.count(JOIN) == 1
    assert shopping_list(chart)["joints of leads, with sleeving"] == 1
    assert shopping_list(chart)["poles used"] == 0


# --- how few poles


@pytest.mark.parametrize(
    ("texts", "poles"),
    [
        (("a", "b"), 1),
        (("a", "a | b"), 1),
        (("a + b", "a | b"), 2),
        (("a | b", "a | -b"), 2),
        (("a",), 0),
        (("a + b", "a"), 1),
    ],
)
def test_the_bound_is_reached_by_an_ideal_switch(texts: tuple[str, ...], poles: int) -> None:
    sounds = wanted(texts, coils="ab" if "b" in "".join(texts) else "a")
    bound = ideal_poles(sounds)
    assert bound.complete
    assert bound.poles <= poles
    got = solve(sounds, shorthand(4, 4), ChartRules(hanging=True))
    assert got.chart is not None
    assert (got.outcome, got.chart.poles) == (PROVED, poles)


@pytest.mark.parametrize(
    "texts",
    [("a + b", "a | b", "a | c", "c | b"), ("a + b", "b + c", "c + a"), ("a", "a + b", "(a + b) | c")],
)
def test_no_chart_beats_the_bound(texts: tuple[str, ...]) -> None:
    sounds = wanted(texts, coils="abc")
    got = solve(sounds, shorthand(5, 4), ChartRules(hanging=True), time_s=20.0)
    assert got.poles_proved
    assert got.chart is not None
    assert got.chart.poles >= ideal_poles(sounds).poles > 0


def test_positions_that_sound_the_same_have_one_polarity() -> None:
    """Written differently, and with a turn that pays in neither position alone."""
    sounds = wanted(("a + b", "b", "b + a", "-(-a + -b)"), coils="ab")
    chart = solve(sounds, shorthand(3, 4)).chart
    assert chart is not None
    assert len({name in chart.turned for name in ("1", "3", "4")}) == 1


def test_every_chart_is_upright_if_asked() -> None:
    sounds = wanted(("a + -b", "a + b", "a | b"), coils="ab")
    chart = solve(sounds, shorthand(4, 3), ChartRules(turning=False), time_s=5.0).chart
    assert chart is not None
    assert not chart.turned


# --- reasons

SHORT_OF_POLES = wanted(("a", "a | b", "a + b"), coils="ab")


def test_the_reason_names_what_is_in_the_way() -> None:
    switch = shorthand(1, 3)
    assert solve(SHORT_OF_POLES, switch).outcome == IMPOSSIBLE
    why = explain(SHORT_OF_POLES, switch)
    assert (why.conflict, why.minimal) == (("2", "3"), True)
    assert why.poles_needed == 2
    assert why.nearest is not None
    assert len(why.left_out) == 1
    assert why.nearest_proved
    said = why.words(switch)
    assert said[0] == "Positions 2 and 3 cannot be wired together on this switch."
    assert said[1] == "A switch of this kind with 2 poles would do; this one has 1."
    assert said[-1] == f"Nearest: everything but position {why.left_out[0]}."


def test_a_conflict_is_one_and_every_part_of_it_is_needed() -> None:
    switch = shorthand(1, 3)
    conflict = explain(SHORT_OF_POLES, switch).conflict
    two_positions = Switch(switch.lugs, {name: switch.contacts[name] for name in ("1", "2")})
    assert solve(SHORT_OF_POLES.select(frozenset(conflict)), two_positions).outcome == IMPOSSIBLE
    for name in conflict:
        rest = SHORT_OF_POLES.select(frozenset(conflict) - {name})
        assert solve(rest, two_positions).chart is not None


MANY_IN_THE_WAY = wanted(("a | b", "c | d", "a + b", "c + d", "a + -c"), coils="abcd")


def test_an_explanation_ends_by_work_and_not_by_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the load: the clock leaves ten times as long as the work takes on a busy machine."""
    monkeypatch.setattr(explain_module, "WORK_PER_S", 0.004)
    first, second = (explain(MANY_IN_THE_WAY, shorthand(2, 5), time_s=100.0) for _ in range(2))
    assert first == second
    assert first.in_time
    assert first.conflict
    assert not first.minimal  # so little work does not suffice
    assert not any("time ran out" in line for line in first.words(shorthand(2, 5)))
    monkeypatch.undo()
    whole = explain(MANY_IN_THE_WAY, shorthand(2, 5), time_s=100.0)
    assert (whole.conflict, whole.minimal, whole.in_time) == (("2", "3", "4", "5"), True, True)


def test_an_explanation_that_the_clock_ends_says_so() -> None:
    why = explain(MANY_IN_THE_WAY, shorthand(2, 5), time_s=0.01)
    assert not why.in_time
    assert not why.minimal
    assert "The time ran out before all of this was looked into" in why.words(shorthand(2, 5))[-1]


def test_a_switch_that_joins_everything_is_explained() -> None:
    lugs = ("P", "Q", "R")
    switch = Switch(lugs, {"1": (lugs,), "2": (lugs,)})
    made = make_chart(SOUNDS, switch)
    assert (made.chart, made.solution.outcome) == (None, IMPOSSIBLE)
    said = made.words(switch)
    assert said[0] == "The switch joins the same lugs in every position."
    assert "Positions 1 and 2 cannot be wired together on this switch." in said


def test_a_lack_of_time_is_explained() -> None:
    sounds = wanted(("a + b", "a | b", "a | c", "c + d", "c | d"), coils="abcd")
    made = make_chart(sounds, shorthand(4, 5), time_s=1e-3)
    assert (made.chart, made.solution.outcome) == (None, "unknown")
    assert made.words(shorthand(4, 5))[0].startswith("The time ran out before a first chart")


def test_a_nearest_choice_that_leaves_nothing_out_is_the_chart(monkeypatch: pytest.MonkeyPatch) -> None:
    """The time limit stops the search but not the explanation."""
    cut = Solution(None, "unknown")
    monkeypatch.setattr("dsp.lugs.make.solve", lambda *_, **__: cut)
    made = make_chart(SOUNDS, on_on(1))
    assert made.chart is not None
    assert made.solution.outcome == "found"
    assert made.words(on_on(1)) == ("1 pole, 1 wire: the best found in the time; fewer may be possible.",)


def test_stopping_keeps_the_best_so_far() -> None:
    reported: list[tuple[str, Chart]] = []

    def stop_at_once(stage: str, chart: Chart) -> bool:
        reported.append((stage, chart))
        return True

    sounds = wanted(("a + b", "a | b", "a | c", "c + d", "c | d"), coils="abcd")
    made = make_chart(sounds, shorthand(4, 5), progress=stop_at_once)
    assert [stage for stage, _ in reported] == ["first chart"]
    assert made.chart is not None
    assert made.solution.outcome == "found"
    assert made.chart.wires <= reported[0][1].wires
    assert "the best found in the time" in made.words(shorthand(4, 5))[0]


def test_more_poles_of_the_same_kind() -> None:
    assert len(poles_of(change_pole_count(bridging(1, 5), 3))) == 3
    assert positions_equal(change_pole_count(bridging(1, 5), 1), bridging(1, 5))


def positions_equal(one: Switch, other: Switch) -> bool:
    sizes = [[sorted(map(len, groups)) for groups in s.contacts.values()] for s in (one, other)]
    return sizes[0] == sizes[1] and one.positions == other.positions
