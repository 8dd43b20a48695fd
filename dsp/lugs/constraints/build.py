"""Build the whole model of a lug chart: its variables, then every constraint on them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dsp.lugs.constraints.contacts import join_contacts
from dsp.lugs.constraints.cost import count_costs
from dsp.lugs.constraints.model import ChartModel
from dsp.lugs.constraints.unused import hang_unused
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import Targets
from dsp.parts.switch import Switch

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel


def build_model(
    cp: CpModel,
    wanted: Targets,
    switch: Switch,
    rules: ChartRules,
    *,
    partial: bool = False,
    idle: bool = False,
) -> ChartModel:
    """Return the model of one search; see `ChartModel`."""
    model = ChartModel(cp, wanted, switch, rules, partial=partial, idle=idle)
    for p in range(len(model.positions)):
        hang_unused(model, p)
        join_contacts(model, p)
    model.pole_used, model.wires = count_costs(model)
    return model
