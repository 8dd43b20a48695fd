"""Constraints of closed contacts: joined lugs share a label, and every node is connected."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from dsp.lugs.targets import COLD, HOT

if TYPE_CHECKING:
    from dsp.lugs.constraints.model import ChartModel


def join_contacts(model: ChartModel, p: int) -> None:
    """Give each group of position p one label, and connect every node."""
    cp = model.cp
    groups = model.switch.contacts[model.positions[p]]
    place = {lug: i for i, lug in enumerate(model.lugs)}
    members = [[place[lug] for lug in group] for group in groups]
    label = model.truths(len(groups), model.n_labels)
    for c, lugs in enumerate(members):
        cp.add_exactly_one(label[c])
        for lug, net, g in product(lugs, range(model.n_nets), range(model.n_labels)):
            cp.add_bool_or([~model.lug_in[lug][net], ~model.net_label[p][net][g], label[c][g], model.idle[p]])
    _reached(model, p, members)


def _reached(model: ChartModel, p: int, members: list[list[int]]) -> None:
    """Connect every net with a lead in use to its node's first net."""
    cp, n = model.cp, model.n_nets
    deepest = 2 * len(members) + 1
    depth = [cp.new_int_var(0, deepest, "") for _ in range(n)]
    contact_depth = [cp.new_int_var(0, deepest, "") for _ in members]
    parent, above = model.truths(n, len(members)), model.truths(len(members), n)
    first = [[model.truth() for _ in range(model.n_nodes - 2)] for _ in range(n)]
    led = [model.truth() for _ in members]  # a contact that has a net above it
    for one, nets in zip(led, above, strict=True):
        cp.add_bool_or(nets).only_enforce_if(one)
    for g in range(model.n_nodes - 2):
        cp.add_at_most_one(row[g] for row in first)
    for net in range(2, n):
        for g, root in enumerate(first[net]):
            cp.add_implication(root, model.net_label[p][net][g + 2])
        tied = model.truth()
        cp.add_bool_or([*first[net], *parent[net]]).only_enforce_if(tied)
        cp.add_at_most_one(parent[net])
        for c, lugs in enumerate(members):
            cp.add_implication(above[c][net], tied)
            cp.add_bool_or([model.lug_in[lug][net] for lug in lugs]).only_enforce_if(parent[net][c])
            model.never(parent[net][c], above[c][net])
            cp.add(depth[net] >= contact_depth[c] + 1).only_enforce_if(parent[net][c])
            cp.add_implication(parent[net][c], led[c])
        for i, row in enumerate(model.lead_in):
            if row[net] is not None:
                cp.add_bool_or([~row[net], ~model.used[p][i // 2], tied])
                cp.add_bool_or([~row[net], ~model.shorted_live[p][i // 2], tied])
    for c, lugs in enumerate(members):
        for net in range(n):
            cp.add_bool_or([model.lug_in[lug][net] for lug in lugs]).only_enforce_if(above[c][net])
            cp.add(contact_depth[c] >= depth[net] + 1).only_enforce_if(above[c][net])
    for net in (HOT, COLD):
        cp.add(depth[net] == 0)
        cp.add_bool_and([~one for one in parent[net]])
        cp.add_bool_and([~one for one in first[net]])
