"""Which sound each joining makes, if any, under the rules on unused coils."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.lugs.exhaustive.joinings import COLD, Joinings
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import Layout, Target, Targets, layouts_of
from dsp.parts.expression import Expression, names_in
from dsp.parts.kind import Terminal
from dsp.wiring.union import Merge

Ends = tuple[int, int]


def sounds_of_joinings(
    every: Joinings, wanted: Targets, sounds: Sequence[Expression], rules: ChartRules
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Return the sound of every joining, and whether it is turned round.

    Parameters
    ----------
    every : Joinings
        Of hot, ground and both leads of each part, in the order of the parts.
    wanted : Targets
        Its parts; the targets themselves do not count.
    sounds : sequence of Expression
        Different sounds of these parts.

    Returns
    -------
    sound : ndarray of int, shape (n,)
        Number of the sound, -1 for silence, another sound or a broken rule.
    turned : ndarray of bool, shape (n,)
    """
    place = {lead: 2 + i for i, lead in enumerate(wanted.leads)}
    found: dict[tuple[int, ...], tuple[int, bool]] = {}
    unused: dict[tuple[int, frozenset[str]], list[dict[Terminal, int]]] = {}
    for i, expression in enumerate(sounds):
        names = frozenset(names_in(expression))
        layouts = layouts_of(Target("", expression), wanted.parts)
        ways = [(False, layouts.upright)]
        if rules.turning and wanted.alone:
            ways.append((True, layouts.turned))
        for turned, some in ways:
            for layout in some:
                n_nodes = 1 + max(COLD, *(node for _, node in layout))
                if (n_nodes, names) not in unused:
                    unused[n_nodes, names] = list(_unused(n_nodes, names, wanted, rules))
                for rest in unused[n_nodes, names]:
                    found.setdefault(_labels(layout, rest, place), (i, turned))
    rows = every.find(np.array(list(found), np.uint8).reshape(len(found), -1))
    sound, turn = np.full(len(every), -1, np.int64), np.zeros(len(every), bool)
    sound[rows] = [one for one, _ in found.values()]
    turn[rows] = [turned for _, turned in found.values()]
    return sound, turn


def _labels(layout: Layout, rest: dict[Terminal, int], place: dict[Terminal, int]) -> tuple[int, ...]:
    nodes = [0, COLD, *([0] * len(place))]
    for lead, node in (*layout, *rest.items()):
        nodes[place[lead]] = node
    first: dict[int, int] = {}
    return tuple(first.setdefault(node, end) for end, node in enumerate(nodes))


def _unused(
    n_nodes: int, names: frozenset[str], wanted: Targets, rules: ChartRules
) -> Iterator[dict[Terminal, int]]:
    """Yield where the leads of the other parts may lie beside a sound's nodes.

    They bridge no two nodes. A coil that hangs from a live node, or whose leads are joined, must be
    allowed to.
    """
    parts = [part for part in wanted.parts if part.name not in names]
    leads = [(part.name, lead) for part in parts for lead in part.leads]
    for nodes in _choices(len(leads), n_nodes):
        at = dict(zip(leads, nodes, strict=True))
        ends = {part.name: (at[part.name, part.leads[0]], at[part.name, part.leads[1]]) for part in parts}
        trees = _joined(list(ends.values()), n_nodes + len(leads))
        roots = [trees.root(node) for node in range(n_nodes)]
        if len(set(roots)) < n_nodes:
            continue
        live = {root for node, root in enumerate(roots) if node != COLD}
        for part in parts:
            if not part.coil:
                continue
            first, last = ends[part.name]
            others = [pair for name, pair in ends.items() if name != part.name]
            if _joined(others, n_nodes + len(leads)).same(first, last) and (
                part.guarded or part.coupled & names or not rules.shorted
            ):
                break
            if first != last and trees.root(first) in live and not rules.hanging:
                break
        else:
            yield at


def _choices(n_leads: int, n_nodes: int) -> Iterator[tuple[int, ...]]:
    """Yield a node for each lead: a given one, or new ones numbered in order."""
    if not n_leads:
        yield ()
        return
    for before in _choices(n_leads - 1, n_nodes):
        top = max((n_nodes - 1, *before))
        for node in range(top + 2):
            yield (*before, node)


def _joined(pairs: Sequence[Ends], n_nodes: int) -> Merge[int]:
    merge: Merge[int] = Merge(range(n_nodes))
    for pair in pairs:
        merge.join(pair)
    return merge
