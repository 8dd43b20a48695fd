"""Explain why sounds cannot be wired on a switch, and find the nearest choice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Any

from dsp.errors import InputError
from dsp.lugs.bound import ideal_poles
from dsp.lugs.chart import Chart, equal_poles, poles_of
from dsp.lugs.constraints.build import build_model
from dsp.lugs.rules import ChartRules
from dsp.lugs.solve import SEED, WORKERS, effective_rules
from dsp.lugs.targets import Targets, assign_positions
from dsp.parts.switch import MOST_LUGS, Switch

MOST_POLES_TRIED = 8
SHARE_OF_A_TRY = 0.3
"""Largest share of the work for a conflict that one try may take."""
WORK_PER_S = 0.25
"""Work for each second allowed, in the solver's own count, which does not depend on the machine's load.
An idle core does two to four times as much in a second, so the clock ends a try on a very busy one only."""


@dataclass
class Clock:
    """Time left for an explanation, s."""

    left_s: float


@dataclass(frozen=True)
class Explanation:
    """Why sounds cannot be wired on a switch, and the nearest choice.

    Attributes
    ----------
    conflict : tuple of str
        Sounds that exclude one another on the switch; empty if none was found in time.
    minimal : bool
        Whether leaving out any one of them makes the others possible.
    poles_needed : int or None
        Poles of a switch of the same kind that gives all sounds; None if unknown.
    ideal_poles : int or None
        Fewest poles of a switch with a throw per position; None if unknown.
    nearest : Chart or None
        A chart with most of the sounds. Its other positions repeat some.
    left_out : tuple of str
        Sounds that ``nearest`` omits.
    nearest_proved : bool
        No chart gives more of the sounds.
    in_time : bool
        Whether the same question always has this answer. False if the clock ended the work: on a
        less busy machine the answer may say more.
    """

    conflict: tuple[str, ...] = ()
    minimal: bool = False
    poles_needed: int | None = None
    ideal_poles: int | None = None
    nearest: Chart | None = None
    left_out: tuple[str, ...] = ()
    nearest_proved: bool = False
    in_time: bool = True

    def words(self, switch: Switch) -> tuple[str, ...]:
        """Return the explanation in sentences."""
        found = []
        have = len(poles_of(switch))
        several = len(switch.members("")) > 1
        this = "these switches" if several else "this switch"
        if self.conflict:
            few = "" if self.minimal else " (perhaps fewer already)"
            what = (
                f"position {self.conflict[0]} alone cannot be wired on {this}"
                if len(self.conflict) == 1
                else f"positions {_list(self.conflict)} cannot be wired together on {this}{few}"
            )
            found.append(what[0].upper() + what[1:] + ".")
        if self.poles_needed is not None:
            found.append(
                f"A switch of this kind with {self.poles_needed} poles would do; this one has {have}."
                if not several
                else f"Switches of these kinds with {self.poles_needed} poles in all would do; these"
                f" have {have}."
            )
        if self.ideal_poles and self.ideal_poles > have:
            found.append(f"A switch with a throw per position needs at least {self.ideal_poles} poles.")
        if self.nearest is not None and self.left_out:
            best = "" if self.nearest_proved else " (the best found in the time)"
            left = f"position{'s' * (len(self.left_out) > 1)} {_list(self.left_out)}"
            found.append(f"Nearest: everything but {left}{best}.")
        if not self.in_time:
            found.append("The time ran out before all of this was looked into; more time may tell more.")
        return tuple(found)


def _list(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def explain(
    wanted: Targets,
    switch: Switch,
    rules: ChartRules | None = None,
    *,
    time_s: float = 20.0,
    progress: Callable[[str], bool] | None = None,
    impossible: bool = False,
) -> Explanation:
    """Return why sounds cannot be wired on a switch, and the nearest choice.

    Parameters
    ----------
    time_s : float
        The limit by the clock. Of the work that goes with it, two fifths go to the nearest choice,
        two fifths to the conflict, and the rest to the poles.
    progress : callable, optional
        Called with the name of each stage. If it returns True, the stage is skipped.
    impossible : bool
        A proof already exists that not all sounds can be wired.
    """
    rules = effective_rules(rules or ChartRules(), wanted, switch)
    wanted = assign_positions(wanted, switch)
    told = progress or (lambda stage: False)
    work, clock = WORK_PER_S * time_s, Clock(time_s)
    nearest, left_out, proved = None, tuple[str, ...](), False
    if not told("nearest choice"):
        nearest, left_out, proved = _nearest(wanted, switch, rules, 0.4 * work, clock)
    conflict, minimal = tuple[str, ...](), False
    if not told("positions in one another's way"):
        known = impossible and len(wanted.targets) == len(switch.positions)
        conflict, minimal = _conflict(wanted, switch, rules, 0.4 * work, clock, known)
    needed, bound = None, None
    if not told("poles needed"):
        ideal = ideal_poles(wanted)
        bound = ideal.poles if ideal.complete else None
        needed = _poles_needed(wanted, switch, rules, 0.2 * work, clock)
    return Explanation(conflict, minimal, needed, bound, nearest, left_out, proved, clock.left_s > 0.0)


def _solved(cp: Any, work: float, clock: Clock) -> tuple[Any, str, float]:
    """Run the solver; return it, its outcome in a word, and the work it took."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = max(work, 1e-6)
    solver.parameters.max_time_in_seconds = max(clock.left_s, 0.01)
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = SEED
    words = {cp_model.OPTIMAL: "best", cp_model.FEASIBLE: "some", cp_model.INFEASIBLE: "none"}
    outcome = words.get(solver.solve(cp), "unknown")
    clock.left_s -= solver.wall_time
    return solver, outcome, float(solver.response_proto.deterministic_time)


def _empty() -> Any:
    from ortools.sat.python import cp_model

    return cp_model.CpModel()


def _nearest(
    wanted: Targets, switch: Switch, rules: ChartRules, work: float, clock: Clock
) -> tuple[Chart | None, tuple[str, ...], bool]:
    """Return the chart with most sounds, those left out, and if it is proved.
    An earlier sound counts a little more than a later one.
    """
    cp = _empty()
    model = build_model(cp, wanted, switch, rules, partial=True)
    n = len(model.keep)
    cp.maximize(sum((100 * n + n - e) * keep for e, keep in enumerate(model.keep)))
    solver, outcome, _ = _solved(cp, work, clock)
    if outcome not in ("best", "some"):
        return None, (), False
    names = [target.name for target in wanted.targets]
    left = tuple(name for name, keep in zip(names, model.keep, strict=True) if not solver.boolean_value(keep))
    return model.chart(solver.boolean_value), left, outcome == "best" and model.complete


def _conflict(
    wanted: Targets, switch: Switch, rules: ChartRules, work: float, clock: Clock, known: bool
) -> tuple[tuple[str, ...], bool]:
    """Return sounds in conflict, and whether leaving out any one frees them."""
    names = [target.name for target in wanted.targets]
    spent, minimal = 0.0, True
    if not known:
        outcome, spent = is_possible(wanted, switch, rules, work, clock)
        if outcome != "none":
            return (), False
    for name in list(names):
        rest = [other for other in names if other != name]
        if not rest:
            continue
        share = min(work - spent, SHARE_OF_A_TRY * work)
        outcome, used = is_possible(wanted.select(frozenset(rest)), switch, rules, share, clock)
        spent += used
        if outcome == "none":
            names = rest
        elif outcome == "unknown":
            minimal = False
    return tuple(names), minimal


def is_possible(
    wanted: Targets, switch: Switch, rules: ChartRules, work: float, clock: Clock
) -> tuple[str, float]:
    """Return whether sounds fit, other positions free, and the work it took.

    Parameters
    ----------
    work : float
        Most work, in the solver's own count.

    Returns
    -------
    outcome : {"best", "some", "none", "unknown"}
        A chart exists with the first two, and none with ``none``.
    used : float
        Work done.
    """
    cp = _empty()
    model = build_model(cp, wanted, switch, rules, idle=True)
    _, outcome, used = _solved(cp, work, clock)
    if outcome == "none" and not model.complete:
        outcome = "unknown"
    return outcome, used


def _poles_needed(
    wanted: Targets, switch: Switch, rules: ChartRules, work: float, clock: Clock
) -> int | None:
    """Return the fewest poles of the same kind for all sounds, or None."""
    left = work
    for n in range(len(poles_of(switch)) + 1, MOST_POLES_TRIED + 1):
        try:
            larger = change_pole_count(switch, n)
        except InputError:
            return None
        cp = _empty()
        build_model(cp, wanted, larger, rules)
        _, outcome, used = _solved(cp, left, clock)
        left -= used
        if outcome in ("best", "some"):
            return n
        if outcome == "unknown" or left <= 0.0:
            return None
    return None


def change_pole_count(switch: Switch, n: int) -> Switch:
    """Return a switch of the same kind with another number of poles.

    Parameters
    ----------
    switch : Switch
        Its poles all act alike, or are of several kinds in equal numbers, as in a toggle whose
        poles change over in pairs.
    n : int
        Number of poles. For several kinds it is rounded up to the same number of each.

    Raises
    ------
    InputError
        If the poles are of several kinds in unequal numbers, or there are too many lugs.
    """
    kinds, poles = equal_poles(switch), poles_of(switch)
    if len({len(kind) for kind in kinds}) != 1:
        raise InputError("switch", "poles of several kinds", "poles that all do the same")
    each = -(-n // len(kinds))
    models = [poles[kind[0]] for kind in kinds]
    names = [(f"{ascii_uppercase[m]}{i}", pole) for i in range(each) for m, pole in enumerate(models)]
    if sum(len(pole) for _, pole in names) > MOST_LUGS:
        raise InputError("poles", str(n), f"up to {MOST_LUGS} lugs")
    lugs = tuple(f"{name}_{lug}" for name, pole in names for lug in pole)
    contacts = {
        position: tuple(
            tuple(f"{name}_{lug}" for lug in group)
            for name, pole in names
            for group in groups
            if group[0] in pole
        )
        for position, groups in switch.contacts.items()
    }
    return Switch(lugs, contacts, switch.timing, switch.body)
