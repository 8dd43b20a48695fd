"""The cost of a chart in poles and wires, and the choice of one among equal charts."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from dsp.lugs.chart import equal_poles, poles_of

if TYPE_CHECKING:
    from dsp.lugs.constraints.model import ChartModel


def count_costs(model: ChartModel) -> tuple[list[Any], Any]:
    """Return whether each pole is used, and the wires as in `Chart.wires`."""
    cp, place = model.cp, {lug: i for i, lug in enumerate(model.lugs)}
    poles = poles_of(model.switch)
    pole_used, lug_used = [model.truth() for _ in poles], [model.truth() for _ in model.lugs]
    for used, row in zip(lug_used, model.lug_in, strict=True):
        cp.add(sum(row) == used)
    joined = {lug for pole in poles for lug in pole}
    for lug in model.lugs:
        if lug not in joined:  # no contact leads through it
            cp.add_bool_and([~lug_used[place[lug]]])
    for used, pole in zip(pole_used, poles, strict=True):
        for lug in pole:
            cp.add_implication(lug_used[place[lug]], used)
    touched = [model.truth() for _ in range(model.n_nets - 2)]
    for net, one in enumerate(touched, 2):
        cp.add_bool_or([row[net] for row in model.lug_in]).only_enforce_if(one)
    _order_same_poles(model, poles, pole_used)
    return pole_used, sum(lug_used) - sum(touched)


def _order_same_poles(model: ChartModel, poles: tuple[tuple[str, ...], ...], pole_used: list[Any]) -> None:
    """Use equal poles from the first on, ordered by their first lug's net."""
    place = {lug: i for i, lug in enumerate(model.lugs)}
    for group in equal_poles(model.switch):
        for a, b in pairwise(group):
            model.cp.add_implication(pole_used[b], pole_used[a])
            commons = [model.lug_in[place[poles[i][0]]] for i in (a, b)]
            number = [
                sum((net + 1) * one for net, one in enumerate(row)) + (model.n_nets + 1) * (1 - sum(row))
                for row in commons
            ]
            model.cp.add(number[0] <= number[1])
