"""The fewest poles of an ideal switch, one with a throw per position and pole.

Permanent joints group the leads into blocks. A node of a layout that holds n blocks needs n - 1
closed contacts, and each pole closes one. A position therefore needs as many contacts as it has
blocks in use, less the number of its nodes. The switch needs as many poles as its most demanding
position, for the best choice of blocks and layouts.
"""

from __future__ import annotations

from dataclasses import dataclass

from dsp.lugs.targets import COLD, HOT, Targets, layouts_of
from dsp.parts.kind import Terminal

MOST_STEPS = 200_000


@dataclass(frozen=True)
class Bound:
    """Fewest poles of an ideal switch.

    Attributes
    ----------
    poles : int
        No ideal switch with fewer poles gives the sounds.
    complete : bool
        False if the search was cut short. ``poles`` is then 0 and means nothing.
    """

    poles: int
    complete: bool


def ideal_poles(wanted: Targets) -> Bound:
    """Return the bound for some sounds; ignore the rules on unused coils."""
    layouts = [layouts_of(target, wanted.parts, wanted.links) for target in wanted.targets]
    if not all(one.complete for one in layouts):
        return Bound(0, complete=False)
    positions = [[dict(layout) for layout in (*one.upright, *one.turned)] for one in layouts]
    search = _Search(wanted.leads, len(wanted.leads))
    search.descend(0, {HOT: [], COLD: []}, [[(table, _START) for table in tables] for tables in positions])
    return Bound(search.best, True) if search.steps < MOST_STEPS else Bound(0, complete=False)


_Cost = tuple[int, frozenset[int]]
"""Contacts needed so far, and the nodes that already hold a block."""
_START: _Cost = (0, frozenset((HOT, COLD)))
_Layouts = list[tuple[dict[Terminal, int], _Cost]]


class _Search:
    """A search that puts leads into blocks and drops layouts that do not fit."""

    def __init__(self, leads: tuple[Terminal, ...], most: int) -> None:
        self.leads, self.best, self.steps = leads, most, 0

    def descend(self, i: int, blocks: dict[int, list[Terminal]], positions: list[_Layouts]) -> None:
        """Try every block for lead i; store the best complete choice."""
        self.steps += 1
        if self.steps >= MOST_STEPS or not all(positions):
            return
        needed = max(min(cost for _, (cost, _) in layouts) for layouts in positions)
        if needed >= self.best:
            return
        if i == len(self.leads):
            self.best = needed
            return
        lead = self.leads[i]
        for name in (*blocks, len(blocks)):
            members = blocks.get(name, [])
            if any(other[0] == lead[0] for other in members):
                continue
            grown = {**blocks, name: [*members, lead]}
            left = [
                [one for layout in some if (one := _with(layout, lead, members, name))] for some in positions
            ]
            self.descend(i + 1, grown, left)


def _with(
    layout: tuple[dict[Terminal, int], _Cost], lead: Terminal, members: list[Terminal], name: int
) -> tuple[dict[Terminal, int], _Cost] | None:
    """Return the layout with the lead in a block; None if that joins nodes."""
    table, (cost, held) = layout
    node = table.get(lead)
    if node is None:
        return layout
    at = {table[other] for other in members if other in table} | ({name} if name in (HOT, COLD) else set())
    if at - {node}:
        return None
    if at:
        return layout
    return table, (cost + (node in held), held | {node})
