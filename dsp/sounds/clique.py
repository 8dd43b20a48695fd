"""Find cliques in graphs whose rows are sets of bits.

The search abandons a branch when too few points are left, by number or by colour. Points of one
colour are pairwise not connected, so a clique has at most one of each colour (E. Tomita, T. Seki,
2003, from memory). A set of bits is an integer, with bit i for point i.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

STEPS_PER_LOOK = 16
"""Branches between two checks of ``stop``."""


class SearchStopped(Exception):
    """The caller stopped the search before it ended."""


def bits(flags: NDArray[np.bool_]) -> int:
    """Return flags, shape (n,), as a set of bits."""
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
    """Return a clique of a given size, or None if there is none.

    Parameters
    ----------
    graph : sequence of int
        For each point, the points connected to it.
    count : int
        Size of the clique.
    pinned : iterable of int
        Points that must be in the clique.
    quiet : int
        Points of which the clique must contain at least ``owed``.
    stop : callable, optional
        Called every `STEPS_PER_LOOK` branches.

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
        """Return the members and ``needed`` more points, of which ``owed`` quiet."""
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
    """Return points by rising colour, each with a number of colours.

    The number counts the colours needed for the points up to and including it.
    """
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
