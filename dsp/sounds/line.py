"""Find cliques whose points, set in a line, may stand beside their neighbours."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from dsp.sounds.clique import Owed, SearchStopped, coloured, take_owed

STEPS_PER_LOOK = 16
"""Branches between two checks of ``stop``."""


@dataclass(frozen=True)
class Line:
    """The order in which points stand, and which may be neighbours.

    Attributes
    ----------
    order : tuple of int
        All points. Members of a clique stand in this order.
    beside : tuple of int
        For each point, the bits of those that may stand beside it.
    places : tuple of (int, int)
        Places, from 0, with the points that stand there whatever the order.
    later : tuple of int
        For each point, the bits of those behind it in the order.
    """

    order: tuple[int, ...]
    beside: tuple[int, ...]
    places: tuple[tuple[int, int], ...] = ()
    later: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        later = [0] * len(self.order)
        behind = 0
        for point in reversed(self.order):
            later[point] = behind
            behind |= 1 << point
        object.__setattr__(self, "later", tuple(later))


def find_line(
    graph: Sequence[int],
    line: Line,
    *,
    count: int,
    pinned: Sequence[int] = (),
    owed: Owed = (),
    stop: Callable[[], bool] | None = None,
) -> list[int] | None:
    """Return a clique of a given size in its line, or None if there is none.

    Parameters
    ----------
    graph : sequence of int
        For each point, the points connected to it.
    pinned : sequence of int
        Points that must be in the clique, with those of ``line.places``.
    owed : sequence of (int, int)
        Points as bits, and how many of these the clique must contain at least.
    stop : callable, optional
        Called every `STEPS_PER_LOOK` branches.

    Raises
    ------
    SearchStopped
        When ``stop`` returns True.
    """
    points = (1 << len(graph)) - 1
    must = {*pinned, *(point for _, point in line.places)}
    for one in must:
        if any(not graph[one] >> other & 1 for other in must if other != one):
            return None
        points &= graph[one] | 1 << one
    return _LineSearch(graph, line, count, must, stop).extend(points, [], -1, list(owed))


class _LineSearch:
    """One search, place by place."""

    def __init__(
        self,
        graph: Sequence[int],
        line: Line,
        count: int,
        must: set[int],
        stop: Callable[[], bool] | None,
    ) -> None:
        self._graph, self._line, self._count, self._stop = graph, line, count, stop
        self._places = dict(line.places)
        self._placed = sum(1 << point for point in self._places.values())
        self._must = sum(1 << point for point in must) & ~self._placed
        self._steps = 0

    def extend(self, points: int, members: list[int], before: int, owed: Owed) -> list[int] | None:
        """Return the members and more points in their line, or None.

        Parameters
        ----------
        points : int
            Points connected to all members.
        before : int
            The last member that stands by the order, -1 for none.
        """
        self._steps += 1
        if self._stop is not None and self._steps % STEPS_PER_LOOK == 0 and self._stop():
            raise SearchStopped
        place = len(members)
        needed = self._count - place
        missing = self._must.bit_count() - sum(self._must >> point & 1 for point in members)
        if needed == 0:
            return members if not missing and all(most <= 0 for _, most in owed) else None
        placed = sum(1 << point for at, point in self._places.items() if at >= place)
        free = points & ~self._placed & (self._line.later[before] if before >= 0 else -1)
        must, spare = self._must & free, needed - placed.bit_count() - missing
        if spare < 0 or must.bit_count() < missing or points & placed != placed:
            return None
        narrowed = take_owed(free | placed, owed, needed)
        if narrowed is None or narrowed & placed != placed:
            return None
        free &= narrowed
        if needed > 2:
            colours = coloured(self._graph, free | placed, stop_at=needed)
            if not colours or colours[-1][1] < needed:
                return None
        for point in self._next(place, free if spare else must, members, must):
            bit = 1 << point
            left = [(some, most - 1 if some & bit else most) for some, most in owed]
            stands = point if place not in self._places else before
            found = self.extend((free | placed) & self._graph[point], [*members, point], stands, left)
            if found is not None:
                return found
        return None

    def _next(self, place: int, free: int, members: Sequence[int], must: int) -> list[int]:
        """Return the points that may stand at a place; none that must come may be passed."""
        line = self._line
        points = free
        if place in self._places:
            points, must = 1 << self._places[place], 0
        while must:
            low = must & -must
            must ^= low
            points &= ~line.later[low.bit_length() - 1]
        if members:
            points &= line.beside[members[-1]]
        following = self._places.get(place + 1)
        if following is not None:
            points &= line.beside[following]
        found = []
        while points:
            low = points & -points
            points ^= low
            found.append(low.bit_length() - 1)
        return found
