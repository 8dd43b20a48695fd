"""Sets of sounds that lie far enough apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dsp.sounds.clique import SearchStopped, bits

NOISE_DB = 1e-9
STEPS_PER_LOOK = 4096
"""Steps between two checks of ``stop``."""


@dataclass
class Work:
    """A count of the steps of a search, the same on every machine.

    Attributes
    ----------
    stop : callable, optional
        Return True to end the search.
    """

    stop: Callable[[], bool] | None = None
    steps: int = 0

    def step(self, many: int = 1) -> None:
        """Count steps; look at ``stop`` now and then.

        Raises
        ------
        SearchStopped
            When ``stop`` returns True.
        """
        before, self.steps = self.steps, self.steps + many
        if self.stop is not None and before // STEPS_PER_LOOK != self.steps // STEPS_PER_LOOK and self.stop():
            raise SearchStopped


@dataclass
class Apart:
    """The distances of all sounds, and what a set of them must hold.

    Attributes
    ----------
    distances : ndarray, shape (n, n), dB
    count : int
        Size of a set.
    pinned : tuple of int
        Sounds that must be in it.
    owed : tuple of (int, int)
        Sounds as bits, and how many of these it must hold at least.
    beside : tuple of int
        Per sound, the bits of those that may be its neighbours along a switch. Empty for all.
    later : tuple of int
        Per sound, the bits of those that may stand behind it along a switch. Empty for all.
    places : tuple of (int, int)
        Positions, from 0, and the sounds that must stand there.
    fits : callable, optional
        Whether a whole set is wanted, on a switch on which any order can be wired.
    """

    distances: NDArray[np.float64]
    count: int
    pinned: tuple[int, ...] = ()
    owed: tuple[tuple[int, int], ...] = ()
    work: Work = field(default_factory=Work)
    beside: tuple[int, ...] = ()
    later: tuple[int, ...] = ()
    places: tuple[tuple[int, int], ...] = ()
    fits: Callable[[Sequence[int]], bool] | None = None
    _graphs: dict[float, list[int]] = field(default_factory=dict)

    def graph(self, least_db: float) -> list[int]:
        """Return, per sound, the bits of those at least so far away."""
        if least_db not in self._graphs:
            if len(self._graphs) > 64:
                self._graphs.clear()
            joined = self.distances >= least_db - NOISE_DB
            np.fill_diagonal(joined, False)
            self._graphs[least_db] = [bits(row) for row in joined]
        return self._graphs[least_db]

    def find(
        self, points: int, least_db: float, owed: Sequence[tuple[int, int]] = ()
    ) -> tuple[int, ...] | None:
        """Return a set of sounds at least so far apart, or None.

        Parameters
        ----------
        points : int
            Bits of the sounds to choose from.
        owed : sequence of (int, int)
            Demands besides the set's own.
        """
        graph, members = self.graph(least_db), list(self.pinned)
        for one in members:
            if not points >> one & 1 or any(not graph[one] >> other & 1 for other in members if other != one):
                return None
        free = points
        for one in members:
            free &= graph[one]
        return self._extend(graph, free, members, self._left(members, owed))

    def can_grow(
        self, points: int, members: Sequence[int], least_db: float, owed: Sequence[tuple[int, int]] = ()
    ) -> bool:
        """Return whether sounds from ``points`` make members a whole set.

        Parameters
        ----------
        points : int
            Bits of the sounds to choose from, all far enough from the members.
        """
        return (
            self._extend(self.graph(least_db), points, list(members), self._left(members, owed)) is not None
        )

    def can_end(self, points: int, members: Sequence[int]) -> bool:
        """Return whether one sound from ``points`` makes members a whole set."""
        for some, most in self._left(members, ()):
            if most > 1:
                return False
            if most == 1:
                points &= some
        return points != 0

    def may_stand(self, sound: int, position: int, others: Sequence[tuple[int, int]]) -> bool:
        """Return whether a sound may stand at a position along a switch.

        Parameters
        ----------
        others : sequence of (int, int)
            Other positions with their sounds.
        """
        for at, one in self.places:
            if (at == position) != (one == sound):
                return False
        placed = {at for at, _ in self.places}
        for at, one in others:
            if self.beside and abs(at - position) == 1 and not self.beside[sound] >> one & 1:
                return False
            if self.later and one != sound and not {at, position} & placed:
                first, last = (one, sound) if at < position else (sound, one)
                if not self.later[first] >> last & 1:
                    return False
        return True

    def _left(self, members: Sequence[int], owed: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        """Return the demands that some members leave open."""
        whole = [*self.owed, *owed, *((1 << one, 1) for one in self.pinned)]
        return [(some, most - sum(some >> one & 1 for one in members)) for some, most in whole if most > 0]

    def _extend(
        self, graph: list[int], points: int, members: list[int], owed: list[tuple[int, int]]
    ) -> tuple[int, ...] | None:
        self.work.step()
        needed = self.count - len(members)
        first = points
        for some, most in owed:
            if most > needed or (points & some).bit_count() < most:
                return None
            if most > 0 and (points & some).bit_count() < first.bit_count():
                first = points & some  # one of these is in the set
        if not needed:
            return tuple(members) if self.fits is None or self.fits(members) else None
        while first and points.bit_count() >= needed:
            low = first & -first
            first ^= low
            points ^= low
            point = low.bit_length() - 1
            left = [(some, most - 1 if low & some else most) for some, most in owed]
            found = self._extend(graph, points & graph[point], [*members, point], left)
            if found is not None:
                return found
        return None

    def farthest(self, points: int, above_db: float) -> tuple[tuple[int, ...], float] | None:
        """Return the set with the largest smallest distance, if above a limit."""
        best = None
        least_db = float(np.nextafter(above_db + 2.0 * NOISE_DB, np.inf))
        while (members := self.find(points, least_db)) is not None:
            best = members, self.smallest(members)
            least_db = float(np.nextafter(best[1] + 2.0 * NOISE_DB, np.inf))
        return best

    def smallest(self, members: Sequence[int]) -> float:
        """Return a set's smallest distance, infinite for one sound."""
        inside = self.distances[np.ix_(members, members)]
        return float(inside[np.triu_indices(len(members), 1)].min(initial=np.inf))
