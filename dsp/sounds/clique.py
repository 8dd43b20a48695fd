"""Find cliques in graphs whose rows are sets of bits.

The search abandons a branch when too few points are left, by number or by colour. Points of one
colour are pairwise not connected, so a clique has at most one of each colour (E. Tomita, T. Seki,
2003, from memory). A set of bits is an integer, with bit i for point i.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

Owed = Sequence[tuple[int, int]]
"""Points as bits, and how many of these are owed at least."""
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
    owed: Owed = (),
    fits: Callable[[Sequence[int]], bool] | None = None,
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
    owed : sequence of (int, int)
        Points as bits, and how many of these the clique must contain at least.
    fits : callable, optional
        Whether a whole clique is wanted. All are by default.
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
    still = [(some, most - sum(some >> i & 1 for i in members)) for some, most in owed]
    return _Clique(graph, fits, stop).extend(open_points, members, count - len(members), still)


def take_owed(points: int, owed: Owed, needed: int) -> int | None:
    """Return the points that may come next, or None if too few are left.

    Where as many of a kind are owed as points are needed, only that kind may come.
    """
    for some, most in owed:
        if most > needed or (points & some).bit_count() < most:
            return None
    for some, most in owed:
        if most == needed:
            points &= some
    return points


class _Clique:
    """One search for a clique."""

    def __init__(
        self,
        graph: Sequence[int],
        fits: Callable[[Sequence[int]], bool] | None,
        stop: Callable[[], bool] | None,
    ) -> None:
        self._graph, self._fits, self._stop = graph, fits, stop
        self._steps = 0

    def extend(self, points: int, members: list[int], needed: int, owed: Owed) -> list[int] | None:
        """Return the members and ``needed`` more points, with those owed."""
        self._steps += 1
        if self._stop is not None and self._steps % STEPS_PER_LOOK == 0 and self._stop():
            raise SearchStopped
        if needed == 0:
            whole = all(most <= 0 for _, most in owed) and (self._fits is None or self._fits(members))
            return members if whole else None
        narrowed = take_owed(points, owed, needed)
        if narrowed is None:
            return None
        points = narrowed
        order = coloured(self._graph, points)
        for point, colour in reversed(order):
            if colour < needed:
                return None
            left = [(some, most - (some >> point & 1)) for some, most in owed]
            found = self.extend(points & self._graph[point], [*members, point], needed - 1, left)
            if found is not None:
                return found
            points &= ~(1 << point)
        return None


def coloured(graph: Sequence[int], points: int, *, stop_at: int | None = None) -> list[tuple[int, int]]:
    """Return points by rising colour, each with a number of colours.

    The number counts the colours needed for the points up to and including it.

    Parameters
    ----------
    stop_at : int, optional
        Return as soon as there are so many colours.
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
        if colour == stop_at:
            break
    return order
