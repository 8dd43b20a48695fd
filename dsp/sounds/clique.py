"""Sets of points that are pairwise joined, in graphs whose rows are sets of bits.

A branch of the search is given up when too few points are left, by number or by colours: points
of one colour are pairwise not joined, and a clique holds one of each colour at most (E. Tomita,
T. Seki, 2003, from memory). A set of bits is a whole number, bit i for point i.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

STEPS_PER_LOOK = 16
"""Branches between two looks at the clock."""


class SearchStopped(Exception):
    """The caller's time was over before the search was."""


def bits(flags: NDArray[np.bool_]) -> int:
    """A set of bits from flags, shape (n,)."""
    return int.from_bytes(np.packbits(flags, bitorder="little").tobytes(), "little")


def find_clique(
    graph: Sequence[int],
    *,
    count: int,
    pinned: Iterable[int] = (),
    quiet: int = 0,
    owed: int = 0,
    stop: Callable[[], bool] | None = None,
) -> list[int] | None:
    """A clique of a size, or None if there is none.

    Parameters
    ----------
    graph : sequence of int
        Per point, the points joined to it.
    count : int
        Size of the clique.
    pinned : iterable of int
        Points that must be in it.
    quiet : int
        Points of which at least ``owed`` must be in it.
    stop : callable, optional
        Asked every `STEPS_PER_LOOK` branches.

    Raises
    ------
    SearchStopped
        When ``stop`` returns True.
    """
    members = list(pinned)
    open_points = (1 << len(graph)) - 1
    for i in members:
        if any(not graph[i] >> j & 1 for j in members if j != i):
            return None
        open_points &= graph[i]
    still = owed - sum(bool(quiet >> i & 1) for i in members)
    return _Clique(graph, quiet, stop).extend(open_points, members, count - len(members), still)


class _Clique:
    """One search for a clique."""

    def __init__(self, graph: Sequence[int], quiet: int, stop: Callable[[], bool] | None) -> None:
        self._graph, self._quiet, self._stop = graph, quiet, stop
        self._steps = 0

    def extend(self, points: int, members: list[int], needed: int, owed: int) -> list[int] | None:
        """Return the members and ``needed`` more of the points, of which ``owed`` quiet."""
        self._steps += 1
        if self._stop is not None and self._steps % STEPS_PER_LOOK == 0 and self._stop():
            raise SearchStopped
        graph, quiet = self._graph, self._quiet
        if needed == 0:
            return members if owed <= 0 else None
        if owed > needed or (points & quiet).bit_count() < owed:
            return None
        if owed == needed:
            points &= quiet
        order = _coloured(graph, points, needed)
        for point, colour in reversed(order):
            if colour < needed:
                return None
            found = self.extend(
                points & graph[point], [*members, point], needed - 1, owed - (quiet >> point & 1)
            )
            if found is not None:
                return found
            points &= ~(1 << point)
        return None


def _coloured(graph: Sequence[int], points: int, needed: int) -> list[tuple[int, int]]:
    """Points by rising colour; how many colours the points up to each one need."""
    order: list[tuple[int, int]] = []
    colour = 0
    while points:
        colour += 1
        apart = points
        while apart:
            point = (apart & -apart).bit_length() - 1
            apart &= ~(1 << point) & ~graph[point]
            points &= ~(1 << point)
            order.append((point, colour))
    return order
