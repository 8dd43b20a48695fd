"""Find lug charts by constraint search: a first chart, then fewer poles, then fewer wires."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from dsp.lugs.chart import Chart, are_positions_equal
from dsp.lugs.constraints.build import build_model
from dsp.lugs.rules import FIXED, ChartRules
from dsp.lugs.targets import Targets, assign_positions
from dsp.parts.switch import Switch

FOUND, PROVED, IMPOSSIBLE, UNKNOWN = "found", "proved", "impossible", "unknown"
WORKERS = 1
"""Threads of the solver. With one, the same input gives the same chart if the time suffices. A second
thread gained nothing on the sets of the benchmarks."""
SEED = 1


@dataclass(frozen=True)
class Solution:
    """The result of a search.

    Attributes
    ----------
    chart : Chart or None
        The best found.
    outcome : str
        ``proved`` (no chart has fewer poles, and none of as few has fewer wires), ``found``,
        ``impossible`` or ``unknown`` (the time ran out before either).
    poles_proved : bool
        No chart uses fewer poles.
    first_s, poles_s, wires_s : float or None
        Seconds to the first chart, to the proof of the poles, and of the wires.
    complete : bool
        False if a sound has more layouts than the search examined. Nothing is proved then.
    """

    chart: Chart | None
    outcome: str
    poles_proved: bool = False
    first_s: float | None = None
    poles_s: float | None = None
    wires_s: float | None = None
    complete: bool = True


Progress = Callable[[str, Chart], bool]
"""Called with the current stage and the best chart so far. If it returns True, the search ends."""


def solve(
    wanted: Targets,
    switch: Switch,
    rules: ChartRules | None = None,
    *,
    time_s: float = 30.0,
    progress: Progress | None = None,
    prove: bool = True,
) -> Solution:
    """Search for a chart of a switch that gives some sounds.

    Parameters
    ----------
    time_s : float
        Time for all stages together.
    progress : callable, optional
        See `Progress`.
    prove : bool
        Continue to the fewest poles and wires. Otherwise return the first chart.

    Raises
    ------
    InputError
        If there are more sounds than the switch has positions, or none.
    """
    rules = rules or ChartRules()
    search = _Search(
        assign_positions(wanted, switch), switch, effective_rules(rules, wanted, switch), time_s, progress
    )
    return search.run(prove)


def effective_rules(rules: ChartRules, wanted: Targets, switch: Switch) -> ChartRules:
    """Return the rules without freedoms that are useless or forbidden.

    A free order gains nothing on a switch whose positions are all alike. A sound may not be
    turned round if a coil outside the sketch can be heard with it.
    """
    order = FIXED if are_positions_equal(switch) else rules.order
    return replace(rules, order=order, turning=rules.turning and wanted.alone)


class _Search:
    """The stages of a search over one model: first chart, poles, wires."""

    def __init__(
        self, wanted: Targets, switch: Switch, rules: ChartRules, time_s: float, progress: Progress | None
    ) -> None:
        from ortools.sat.python import cp_model  # heavy: half a second

        self.lib = cp_model
        self.cp = cp_model.CpModel()
        self.model = build_model(self.cp, wanted, switch, rules)
        self.left_s, self.spent_s = time_s, 0.0
        self.progress = progress
        self.best: Chart | None = None
        self.stopped = False

    def run(self, prove: bool) -> Solution:
        """Run the stages until the time ends."""
        model = self.model
        status = self._solve("first chart")
        if self.best is None:
            impossible = status == self.lib.INFEASIBLE and model.complete
            return Solution(None, IMPOSSIBLE if impossible else UNKNOWN, complete=model.complete)
        found = Solution(self.best, FOUND, first_s=self.spent_s, complete=model.complete)
        if not prove:
            return found
        poles = sum(model.pole_used)
        self.cp.minimize(poles)
        proved = self._solve("fewest poles") == self.lib.OPTIMAL
        found = replace(found, chart=self.best, poles_proved=proved and model.complete, poles_s=self.spent_s)
        self.cp.add(poles <= self.best.poles)
        self.cp.minimize(8 * model.wires + sum(model.turned))
        proved = self._solve("fewest wires") == self.lib.OPTIMAL and found.poles_proved
        return replace(
            found,
            chart=self.best,
            outcome=PROVED if proved else FOUND,
            wires_s=self.spent_s if proved else None,
        )

    def _solve(self, stage: str) -> Any:
        """Run one stage from the best chart so far, and keep what it finds."""
        if self.stopped or self.left_s <= 0.0:
            return self.lib.UNKNOWN
        solver = self.lib.CpSolver()
        solver.parameters.max_time_in_seconds = self.left_s
        solver.parameters.num_workers = WORKERS
        solver.parameters.random_seed = SEED
        status = solver.solve(self.cp, self._callback(stage))
        self.left_s -= solver.wall_time
        self.spent_s += solver.wall_time
        if status in (self.lib.OPTIMAL, self.lib.FEASIBLE):
            self.best = self.model.chart(solver.boolean_value)
            self._hint(solver)
        return status

    def _hint(self, solver: Any) -> None:
        """Let the next stage start where this one ended."""
        self.cp.clear_hints()  # type: ignore[no-untyped-call]
        for index in range(len(self.cp.proto.variables)):
            variable = self.cp.get_int_var_from_proto_index(index)
            self.cp.add_hint(variable, solver.value(variable))

    def _callback(self, stage: str) -> Any:
        search = self

        class Told(self.lib.CpSolverSolutionCallback):  # type: ignore[name-defined,misc]
            """Reports every chart found."""

            def on_solution_callback(self) -> None:
                if search.progress and search.progress(stage, search.model.chart(self.boolean_value)):
                    search.stopped = True
                    self.stop_search()

        return Told()
