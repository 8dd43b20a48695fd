"""Constraints on unused parts: they bridge no nodes and close no loops, and coils keep the rules.

An unused part is a branch of a tree. Its far lead has its own label (``far``), which no other far
lead may carry. Its near lead is on ground, on nothing, or on the far end of an unused part nearer
to the root. The part then can neither bridge two nodes nor close a loop.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from typing import TYPE_CHECKING

from dsp.lugs.targets import COLD

if TYPE_CHECKING:
    from dsp.lugs.constraints.model import ChartModel

LARGEST_RANK = 8


def hang_unused(model: ChartModel, p: int) -> None:
    """Let unused parts hang by one lead at most, or be shorted where allowed."""
    cp, parts = model.cp, model.wanted.parts
    rank = [cp.new_int_var(0, LARGEST_RANK, "") for _ in parts]
    for k, part in enumerate(parts):
        far = model.off + 1 + k
        ends = (model.lead_label[p][2 * k], model.lead_label[p][2 * k + 1])
        way = (model.truth(), model.truth())  # which end is far
        shorted, looped = model.truth(), model.truth()
        cp.add_exactly_one((*way, shorted, looped, model.used[p][k], model.idle[p]))
        for end in (0, 1):
            near_end, far_end = ends[1 - end], ends[end]
            cp.add_implication(way[end], far_end[far])
            for label in _no_roots(model, k):
                model.never(way[end], near_end[label])
            for v in range(len(parts)):
                if v != k:
                    behind = [way[end], near_end[model.off + 1 + v]]
                    cp.add(rank[k] >= rank[v] + 1).only_enforce_if(behind)
            cp.add_bool_or([~far_end[far], way[end], model.idle[p]])
        may_short = not part.coil or (model.rules.shorted and not part.guarded)
        for v, other in enumerate(parts):
            if other.name in part.coupled:  # the other coil would hear it
                model.never(shorted, model.used[p][v])
                model.never(looped, model.used[p][v])
        if may_short:
            for label in range(model.n_labels):
                cp.add_bool_or([~shorted, ~ends[0][label], ends[1][label]])
            for node in range(model.n_nodes):  # otherwise one lead could hang there
                if node != COLD:
                    cp.add_bool_or([~shorted, ~ends[0][node], model.shorted_live[p][k]])
            if part.coil and not model.rules.hanging:
                for far_of_other in _far_of_others(model, k):
                    model.never(shorted, ends[0][far_of_other])
        else:
            cp.add_bool_and([~shorted])
        if part.coil and may_short:  # in a loop with others, all on ground or on nothing
            for end, label in product(ends, range(model.n_labels)):
                if label not in (COLD, model.off):
                    model.never(looped, end[label])
        else:
            cp.add_bool_and([~looped])


def _no_roots(model: ChartModel, k: int) -> Iterable[int]:
    """Yield the labels that the near lead of an unused part may not carry."""
    yield model.off + 1 + k
    part = model.wanted.parts[k]
    if part.coil and not model.rules.hanging:
        yield from (node for node in range(model.n_nodes) if node != COLD)
        yield from _far_of_others(model, k)


def _far_of_others(model: ChartModel, k: int) -> Iterable[int]:
    """Return the far ends of parts other than coils: these may be live."""
    return (model.off + 1 + v for v, other in enumerate(model.wanted.parts) if v != k and not other.coil)
