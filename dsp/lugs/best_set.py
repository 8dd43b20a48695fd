"""Find the best range that a given switch can make: among all its charts, or set by set."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dsp.errors import InputError
from dsp.lugs.annealing import Annealer
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart, is_mirrored
from dsp.lugs.exhaustive.joinings import COLD, HOT, joinings
from dsp.lugs.exhaustive.search import is_searchable, search_charts
from dsp.lugs.exhaustive.sets import NOISE_DB, Apart, Work
from dsp.lugs.exhaustive.wired import Wired
from dsp.lugs.make import trim, verify
from dsp.lugs.rules import FIXED, ChartRules
from dsp.lugs.solve import IMPOSSIBLE, solve
from dsp.lugs.targets import Targets, targets_of
from dsp.parts.expression import parse_expression
from dsp.parts.kind import Terminal
from dsp.parts.kinds import new_part
from dsp.parts.switch import Switch
from dsp.sounds.areas import AllowedField, allowed_candidates, find_allowed
from dsp.sounds.best_first import sets_by_distance
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import Choice, choose_sets
from dsp.sounds.clique import bits
from dsp.sounds.conditions import ANY_DB
from dsp.sounds.order import order_ranks
from dsp.sounds.rules import SetRules, set_in_order
from dsp.wiring.linked_coils import Link, links_of
from dsp.wiring.model import Wiring

TRY_S = 2.0
"""Most seconds for one set on the switch. A tenth of it decides most sets."""
WIRE_SHARE = 0.08
"""Share of the time, added at its end, to wire the set that random changes of charts found."""
IN_TURN_SHARE = 0.5
"""Share of the time for sets by falling distance. The rest goes to charts changed at random."""
LAST_SHARE = 0.25
"""Share of the time kept, where all charts are searched, to change charts at random if none is found."""
CHARTS_PER_S = 8000
"""Charts to judge per second of that rest. An idle machine of 2026 judges four times as many, so
a busy one still judges all of them and gives the same answer."""


@dataclass(frozen=True)
class BestSet:
    """A set of sounds and the chart that makes them.

    Attributes
    ----------
    choice : Choice
        Its bound holds for this switch: no set that can be wired has a larger smallest distance.
    chart : Chart or None
        None if none of the sets tried can be wired.
    tried : int
        Sets tried, this one included; with ``every_chart``, ways to solder the leads.
    ruled_out : int
        How many of the sets were proved impossible on the switch.
    best_db : float
        Smallest distance of the best set on any switch.
    sounds : tuple of int
        The set in the order of the chart's sketch, positions 1, 2, …
    every_chart : bool
        It comes from a search among all charts.
    impossible : bool
        No chart keeps the rules.
    """

    choice: Choice
    chart: Chart | None
    tried: int
    ruled_out: int
    best_db: float
    sounds: tuple[int, ...]
    every_chart: bool = False
    impossible: bool = False

    @property
    def proved(self) -> bool:
        """Whether no better set can be made on the switch."""
        return self.chart is not None and self.choice.proved


def try_sets_in_turn(
    wiring: Wiring,
    found: Candidates,
    rules: SetRules,
    switch: Switch,
    chart_rules: ChartRules | None = None,
    *,
    left_s: Callable[[], float] | None = None,
    link_leads: Collection[Terminal] = (),
) -> Iterator[BestSet]:
    """Yield sets by falling distance until one can be wired.

    A set whose order counts is wired in the order of its rules, or not at all.

    Parameters
    ----------
    wiring : Wiring
        Its selector is a sketch.
    found : Candidates
        Candidates of the wiring's coils.
    rules : SetRules
        They ask for at most as many positions as the switch has.
    left_s : callable, optional
        Returns the seconds left. At zero the search ends, but not before the first set.
    link_leads : collection of Terminal
        As for `targets_of`.

    Yields
    ------
    BestSet
        The last has a chart unless the time ran out.

    Raises
    ------
    InputError
        If the switch has too few positions or no set keeps the rules.
    """
    _check_positions(rules, switch)
    best_db, open_db, ruled_out = 0.0, 0.0, 0
    kept_order = chart_rules
    if rules.in_order or rules.places or np.isfinite(rules.step_db):
        kept_order = replace(chart_rules or ChartRules(), order=FIXED)
    stop = None if left_s is None else lambda: left_s() <= 0.0
    for tried, choice in enumerate(sets_by_distance(found, rules, stop=stop), 1):
        best_db = max(best_db, choice.distance_db)
        sounds = set_in_order(found, rules, choice.chosen)
        wanted = targets_of(sketch_of(wiring, [found.expression_text(i) for i in sounds]), link_leads)
        time_s = TRY_S if left_s is None else min(TRY_S, max(left_s(), 0.0))
        done = solve(wanted, switch, kept_order, time_s=time_s, prove=False)
        impossible = done.chart is None and done.outcome == IMPOSSIBLE
        ruled_out += impossible
        known = replace(choice, bound_db=max(choice.bound_db, open_db))  # better ones were ruled out
        yield BestSet(known, done.chart, tried, ruled_out, best_db, sounds)
        if done.chart is not None or (stop is not None and stop()):
            return
        if not impossible:
            open_db = max(open_db, choice.distance_db)


def find_best_set(
    wiring: Wiring,
    found: Candidates,
    rules: SetRules,
    switch: Switch,
    chart_rules: ChartRules | None = None,
    *,
    left_s: Callable[[], float],
    progress: Callable[[BestSet], None] | None = None,
    link_leads: Collection[Terminal] = (),
) -> BestSet:
    """Return the best range on a switch.

    On the usual switches all charts of up to four coils are searched: the answer is then the best
    possible, and the same on any machine. Elsewhere the first of two ways tries sets by falling
    distance; a set that it can wire is the best possible. The time may be too short for that. The
    second way then changes charts at random and wires the best set found.

    Parameters
    ----------
    wiring, found, rules, switch, chart_rules, link_leads
        As for `try_sets_in_turn`.
    left_s : callable
        Returns the seconds left. The answer may take a tenth longer than the time left at the call.
    progress : callable, optional
        Called with every set tried.

    Returns
    -------
    BestSet
        It has no chart if none was found.

    Raises
    ------
    InputError
        If the switch has too few positions or no set keeps the rules.
    """
    total_s = left_s()
    links = links_of(wiring, found.names, link_leads)
    chart_rules = chart_rules or ChartRules()
    _check_positions(rules, switch)
    if not links and rules.count > 1:
        wanted = targets_of(sketch_of(wiring, [" + ".join(found.names)]))
        if is_searchable(wanted, switch):
            stop_s = LAST_SHARE * total_s
            known = _search_every_chart(
                wiring, found, rules, switch, chart_rules, wanted, lambda: left_s() <= stop_s, progress
            )
            if known.chart is not None or known.impossible:
                return known
            return _anneal(wiring, found, rules, switch, chart_rules, known, left_s, total_s, links)
    answer: BestSet | None = None
    turns = try_sets_in_turn(
        wiring,
        found,
        rules,
        switch,
        chart_rules,
        left_s=lambda: left_s() - (1.0 - IN_TURN_SHARE) * total_s,
        link_leads=link_leads,
    )
    for answer in turns:
        if progress:
            progress(answer)
    assert answer is not None  # a first set comes, or an error
    if answer.chart is not None:
        return answer
    return _anneal(wiring, found, rules, switch, chart_rules, answer, left_s, total_s, links)


def _check_positions(rules: SetRules, switch: Switch) -> None:
    if rules.count > len(switch.positions):
        allowed = f"up to the {len(switch.positions)} positions of the switch"
        raise InputError("positions", str(rules.count), allowed)


def _search_every_chart(
    wiring: Wiring,
    found: Candidates,
    rules: SetRules,
    switch: Switch,
    chart_rules: ChartRules,
    wanted: Targets,
    stop: Callable[[], bool],
    progress: Callable[[BestSet], None] | None,
) -> BestSet:
    """Return the best set of all charts; it has none if there is none, or none yet."""
    area = find_allowed(found, rules)
    # where throws are shared, the chart makes the order: neighbours may be other ones than without a switch
    bound_rules = rules if rules.in_order else replace(rules, step_db=ANY_DB)
    *_, anywhere = choose_sets(found, bound_rules, stop=stop)
    apart = _apart(area, found, rules, Work(stop))
    expressions = [parse_expression(found.expression_text(int(i))) for i in area.index]

    def arrange(sounds: Sequence[int]) -> list[int]:
        ordered = set_in_order(found, rules, [int(area.index[one]) for one in sounds])
        return [int(np.searchsorted(area.index, one)) for one in ordered]

    unwired = set_in_order(found, rules, anywhere.chosen)
    answer = BestSet(anywhere, None, 0, 0, anywhere.distance_db, unwired, every_chart=True)
    best: Wired | None = None
    for state in search_charts(
        wanted, expressions, apart, switch, chart_rules, highest_db=anywhere.bound_db, arrange=arrange
    ):
        if state.best is not None and state.best is not best:
            best = state.best
            sounds = [int(area.index[one]) for one in dict.fromkeys(best.sounds)]
            chosen, chart = _chart_of(best, wiring, found, rules, sounds, switch, chart_rules, wanted, area)
            choice = Choice(tuple(sorted(chosen)), best.distance_db, state.bound_db)
            best_db = max(answer.best_db, best.distance_db)
            answer = replace(answer, choice=choice, chart=chart, sounds=chosen, best_db=best_db)
        if state.ended and state.best is None:  # no chart keeps the rules
            answer = replace(answer, impossible=True)
        bound_db = max(state.bound_db, answer.choice.distance_db if answer.chart else 0.0)
        answer = replace(answer, choice=replace(answer.choice, bound_db=bound_db), tried=state.joinings)
        if progress:
            progress(answer)
    return answer


def _apart(area: AllowedField, found: Candidates, rules: SetRules, work: Work) -> Apart:
    """Return what a set of the allowed sounds must hold, along a switch too."""
    beside: tuple[int, ...] = ()
    later: tuple[int, ...] = ()
    if np.isfinite(rules.step_db):
        beside = tuple(bits(np.abs(area.level_db - one) <= rules.step_db + NOISE_DB) for one in area.level_db)
    if rules.in_order:
        rank = order_ranks(found, rules.order)[area.index]
        later = tuple(bits(rank > one) for one in rank)
    places = tuple((at - 1, int(np.searchsorted(area.index, one))) for at, one in rules.places)
    return Apart(
        area.distances, rules.count, area.pinned, tuple(area.owed_bits()), work, beside, later, places
    )


def _chart_of(
    best: Wired,
    wiring: Wiring,
    found: Candidates,
    rules: SetRules,
    sounds: Sequence[int],
    switch: Switch,
    chart_rules: ChartRules,
    wanted: Targets,
    area: AllowedField,
) -> tuple[tuple[int, ...], Chart]:
    """Return a chart found as numbers, trimmed and verified, and its sounds in order."""
    chosen = tuple(sounds)
    ends = (chosen[0], chosen[-1])
    if not rules.places and is_mirrored(switch) and set_in_order(found, rules, ends)[0] != chosen[0]:
        chosen = chosen[::-1]  # mirrored, the chart gives them the other way round
    target = targets_of(sketch_of(wiring, [found.expression_text(i) for i in chosen]))
    labels = joinings(2 + len(wanted.leads)).labels[best.joining].tolist()
    nets: dict[int, list[Terminal]] = {HOT: [HOT_END], COLD: [COLD_END]}
    used = set(target.leads)
    for lead, label in zip(wanted.leads, labels[2:], strict=True):
        if lead in used:
            nets.setdefault(label, []).append(lead)
    for lug, joint in zip(switch.lugs, best.joints, strict=True):
        if joint is not None:
            nets.setdefault(joint, []).append((SWITCH, lug))
    name = {sound: str(chosen.index(int(area.index[sound])) + 1) for sound in best.sounds}
    at = dict(zip(switch.positions, (name[sound] for sound in best.sounds), strict=True))
    turned = {name[sound] for sound, turn in zip(best.sounds, best.turned, strict=True) if turn}
    chart = Chart(switch, tuple(tuple(net) for net in nets.values() if len(net) > 1), at, frozenset(turned))
    verify(target, chart, chart_rules)
    chart = trim(target, chart, chart_rules)
    verify(target, chart, chart_rules)
    return chosen, chart


def _anneal(
    wiring: Wiring,
    found: Candidates,
    rules: SetRules,
    switch: Switch,
    chart_rules: ChartRules,
    before: BestSet,
    left_s: Callable[[], float],
    total_s: float,
    links: tuple[Link, ...],
) -> BestSet:
    """Return the best set from charts changed at random, wired, or ``known``."""
    coupled = {name for one in wiring.couplings if one.coefficient for name in (one.first, one.second)}
    may_short = frozenset(k for k, name in enumerate(found.names) if name not in coupled)
    search = Annealer(
        found,
        allowed_candidates(found, rules).tolist(),
        rules,
        switch,
        hanging=chart_rules.hanging,
        shorted=may_short if chart_rules.shorted else frozenset(),
        links=[
            (tuple(2 * found.names.index(name) + (lead == "finish") for name, lead in one.leads), one.out)
            for one in links
        ],
    )
    most = max(int(CHARTS_PER_S * (1.0 - IN_TURN_SHARE) * total_s), 1)
    sounds, distance_db, _ = search.search(lambda: left_s() <= 0.0, most=most)
    if not sounds:
        return before
    fixed = replace(chart_rules, order=FIXED)
    link_leads = [one.leads[0] for one in links if one.out]
    wanted = targets_of(sketch_of(wiring, [found.expression_text(i) for i in sounds]), link_leads)
    time_s = max(left_s(), 0.0) + WIRE_SHARE * total_s
    done = solve(wanted, switch, fixed, time_s=time_s, prove=False)
    if done.chart is None:
        return before
    choice = Choice(tuple(sorted(sounds)), distance_db, max(before.choice.bound_db, distance_db))
    best_db = max(before.best_db, distance_db)
    return replace(before, choice=choice, chart=done.chart, sounds=sounds, best_db=best_db)


def sketch_of(wiring: Wiring, expressions: Sequence[str]) -> Wiring:
    """Return the wiring with sounds as the positions of its sketch."""
    positions = {str(n): parse_expression(text) for n, text in enumerate(expressions, 1)}
    sketch = new_part("sketch", positions=positions)
    return replace(wiring, parts={**wiring.parts, str(wiring.selector): sketch})
