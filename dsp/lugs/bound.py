"""How few poles an ideal switch could do with: one throw per position and pole.

Whatever is soldered for good makes blocks of leads. A node of a layout that holds n blocks needs
n - 1 closed contacts to be one, and each pole closes one contact. So a position needs, over its
nodes, the number of blocks its leads lie in less the number of its nodes; and the switch as many
poles as its neediest position, at the best choice of blocks and layouts.
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
        False if the search was cut short; then ``poles`` is 0 and says nothing.
    """

    poles: int
    complete: bool


def ideal_poles(wanted: Targets) -> Bound:
    """The bound for the sounds wanted, rules on unused coils left aside."""
    layouts = [layouts_of(target, wanted.parts, wanted.links) for target in wanted.targets]
    if not all(one.complete for one in layouts):
        return Bound(0, complete=False)
    positions = [[dict(layout) for layout in (*one.upright, *one.turned)] for one in layouts]
    search = _Search(wanted.leads, len(wanted.leads))
    search.descend(0, {HOT: [], COLD: []}, [[(table, _START) for table in tables] for tables in positions])
    return Bound(search.best, True) if search.steps < MOST_STEPS else Bound(0, complete=False)


_Cost = tuple[int, frozenset[int]]
"""Contacts needed so far, and the nodes that hold a block already."""
_START: _Cost = (0, frozenset((HOT, COLD)))
_Layouts = list[tuple[dict[Terminal, int], _Cost]]


class _Search:
    """Leads are put into blocks one by one; layouts that no longer fit are dropped."""

    def __init__(self, leads: tuple[Terminal, ...], most: int) -> None:
        self.leads, self.best, self.steps = leads, most, 0

    def descend(self, i: int, blocks: dict[int, list[Terminal]], positions: list[_Layouts]) -> None:
        """Try every block for lead i; remember the best whole choice."""
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
    """The layout once the lead is in a block; None if its block would join two nodes."""
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
