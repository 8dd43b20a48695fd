"""Good sets of positions quickly: built by adding the farthest, improved by swaps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STARTS = 48
NOISE_DB = 1e-9


class Field(Protocol):
    """Candidates whose distances can be asked for."""

    @property
    def owed(self) -> Sequence[tuple[NDArray[np.bool_], int]]:
        """Candidates of a kind, shape (n,), and how many a set must have."""

    @property
    def weights(self) -> Floats:
        """Factors of their distances, shape (n,)."""

    @property
    def pinned(self) -> tuple[int, ...]:
        """Places of those that must be in the set."""

    def apart(self, members: Sequence[int]) -> Floats:
        """Return the distances from all to some, shape (n, n_members), dB."""


def sets_by_swaps(area: Field, count: int) -> Iterator[tuple[float, list[int]]]:
    """Yield sets and their smallest distances, each from another start.

    Parameters
    ----------
    count : int
        Positions of a set.
    """
    rng = np.random.default_rng(7)
    for _ in range(STARTS):
        members = _greedy(area, count, rng)
        if members is not None:
            yield improve(area, members)


def improve(area: Field, members: list[int]) -> tuple[float, list[int]]:
    """Swap one of the closest two for a farther candidate while that helps.

    Returns
    -------
    distance_db : float
        The smallest distance; infinite for one position.
    members : list of int
    """
    while True:
        apart = area.apart(members)
        inside = apart[members] + np.diag(np.full(len(members), np.inf))
        worst = float(inside.min())
        ends = [i for i in np.argwhere(inside == worst)[0] if members[i] not in area.pinned]
        better = _swap(area, apart, members, ends, worst)
        if better is None:
            return worst, members
        members = better


def _greedy(area: Field, count: int, rng: np.random.Generator) -> list[int] | None:
    """Return a set built by adding the farthest candidate, quiet if required."""
    members = list(area.pinned)
    free = np.ones(len(area.weights), bool)
    free[members] = False
    while len(members) < count:
        may = free.copy()
        for some, most in area.owed:
            if most - int(some[members].sum()) >= count - len(members):
                may &= some
        places = np.flatnonzero(may)
        if not len(places):
            return None
        if not members:
            members.append(int(rng.choice(places)))
        else:
            near = area.apart(members)[places].min(axis=1)
            members.append(int(places[np.argmax(near)]))
        free[members[-1]] = False
    return members if all(int(some[members].sum()) >= most for some, most in area.owed) else None


def _swap(
    area: Field, apart: Floats, members: list[int], ends: Sequence[int], worst: float
) -> list[int] | None:
    for end in ends:
        others = members[:end] + members[end + 1 :]
        near = np.delete(apart, end, axis=1).min(axis=1) if others else np.full(len(apart), np.inf)
        near[others] = -1.0
        for some, most in area.owed:
            if most > int(some[others].sum()):
                near[~some] = -1.0
        new = int(np.argmax(near))
        if near[new] > worst + NOISE_DB:
            return [*others, new]
    return None
