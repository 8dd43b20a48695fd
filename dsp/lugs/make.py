"""Make a lug chart for some sounds: search, trim, and verify it twice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from dsp.lugs.chart import SWITCH, Chart
from dsp.lugs.explain import Explanation, explain
from dsp.lugs.rules import ChartRules
from dsp.lugs.solve import FOUND, IMPOSSIBLE, UNKNOWN, Progress, Solution, solve
from dsp.lugs.targets import Targets
from dsp.lugs.verify_nodal import find_wrong_positions
from dsp.lugs.verify_partition import find_faults
from dsp.parts.switch import Switch
from dsp.units import count_words

EXPLAINING = 0.8
"""Extra time for an explanation when there is no chart, as a share of the search's time."""


class ChartFault(RuntimeError):
    """A verifier rejected a chart: the search has a fault."""


@dataclass(frozen=True)
class ChartResult:
    """The result of a search for a lug chart.

    Attributes
    ----------
    solution : Solution
        Its chart is trimmed and verified.
    explanation : Explanation or None
        Why there is no chart.
    """

    solution: Solution
    explanation: Explanation | None = None

    @property
    def chart(self) -> Chart | None:
        """The chart, or None."""
        return self.solution.chart

    def words(self, switch: Switch) -> tuple[str, ...]:
        """Return the result in sentences."""
        done = self.solution
        if done.chart is None:
            cut = ("The time ran out before a first chart was found or ruled out.",)
            always = ("The switch joins the same lugs in every position.",) if _never_changes(switch) else ()
            why = self.explanation.words(switch) if self.explanation else ()
            return (*(cut if done.outcome == UNKNOWN else ()), *always, *why)
        have = f"{count_words(done.chart.poles, 'pole')}, {count_words(done.chart.wires, 'wire')}"
        if done.wires_s is not None and done.poles_proved:
            return (f"{have}: fewer are not possible, neither poles nor, with as few, wires.",)
        if done.poles_proved:
            return (f"{have}: fewer poles are not possible; fewer wires perhaps.",)
        return (f"{have}: the best found in the time; fewer may be possible.",)


def _never_changes(switch: Switch) -> bool:
    tables = {frozenset(map(frozenset, groups)) for groups in switch.contacts.values()}
    return len(tables) == 1 < len(switch.positions)


def make_chart(
    wanted: Targets,
    switch: Switch,
    rules: ChartRules | None = None,
    *,
    time_s: float = 10.0,
    progress: Progress | None = None,
    explaining: Callable[[str], bool] | None = None,
) -> ChartResult:
    """Return a verified chart, or why there is none.

    Parameters
    ----------
    time_s : float
        Time for the search. An explanation takes up to 0.8 of it in addition.
    progress, explaining : callable, optional
        Called with every chart found, and with every stage of an explanation. If ``progress``
        returns True, the search ends; if ``explaining`` does, its stage is skipped.

    Raises
    ------
    InputError
        If there are more sounds than the switch has positions, or none.
    ChartFault
        If a verifier rejects the chart.
    """
    rules = rules or ChartRules()
    assigned = solve(wanted, switch, rules, time_s=time_s, progress=progress)
    if assigned.chart is None:
        known = assigned.outcome == IMPOSSIBLE
        why = explain(
            wanted, switch, rules, time_s=EXPLAINING * time_s, progress=explaining, impossible=known
        )
        if why.nearest is not None:
            kept = wanted.select(frozenset(why.nearest.sounds.values()))
            nearest = trim(kept, why.nearest, rules)
            verify(kept, nearest, rules)
            why = replace(why, nearest=nearest)
            if not why.left_out:  # found after the search's own time
                return ChartResult(replace(assigned, chart=nearest, outcome=FOUND))
        return ChartResult(assigned, why)
    chart = trim(wanted, assigned.chart, rules)
    verify(wanted, chart, rules)
    return ChartResult(replace(assigned, chart=chart))


def verify(wanted: Targets, chart: Chart, rules: ChartRules) -> None:
    """Run both verifiers on a chart.

    Raises
    ------
    ChartFault
        If either finds a fault.
    """
    faults = [f"position {one.position}: {one.text}" for one in find_faults(wanted, chart, rules)]
    off = find_wrong_positions(wanted, chart)
    faults += [f"position {position}: its circuit is not the sketch's" for position in off]
    if faults:
        raise ChartFault("; ".join(faults))


def trim(wanted: Targets, chart: Chart, rules: ChartRules) -> Chart:
    """Return the chart without the lugs that nothing depends on."""
    if find_faults(wanted, chart, rules):
        return chart
    chart = turn_upright(wanted, chart)
    for lug in reversed(chart.lugs):
        nets = (tuple(t for t in net if t != (SWITCH, lug)) for net in chart.nets)
        less = replace(chart, nets=tuple(net for net in nets if len(net) > 1))
        if not find_faults(wanted, less, rules):
            chart = less
    return chart


def turn_upright(wanted: Targets, chart: Chart) -> Chart:
    """Return the chart with all coils turned if that sets more sounds upright."""
    turned = [name in chart.turned for name in chart.sounds.values()]
    if not wanted.alone or wanted.links:  # exchanged leads would undo a link
        return chart
    if 2 * sum(turned) <= len(turned):
        return chart
    other = {
        (part.name, part.leads[end]): (part.name, part.leads[1 - end])
        for part in wanted.parts
        if part.coil
        for end in (0, 1)
    }
    nets = tuple(tuple(other.get(t, t) for t in net) for net in chart.nets)
    return replace(chart, nets=nets, turned=frozenset(chart.sounds.values()) - chart.turned)
