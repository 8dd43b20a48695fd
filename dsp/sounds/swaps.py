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
    def quiet(self) -> NDArray[np.bool_]:
        """Whether hum cancels, shape (n,)."""

    @property
    def pinned(self) -> tuple[int, ...]:
        """Places of those that must be in the set."""

    def apart(self, members: Sequence[int]) -> Floats:
        """Return the distances from all to some, shape (n, n_members), dB."""


def sets_by_swaps(area: Field, count: int, owed: int) -> Iterator[tuple[float, list[int]]]:
    """Yield sets and their smallest distances, each from another start.

    Parameters
    ----------
    count : int
        Positions of a set.
    owed : int
        Hum-cancelling ones, at least.
    """
    rng = np.random.default_rng(7)
    for _ in range(STARTS):
        members = _greedy(area, count, owed, rng)
        if members is not None:
            yield improve(area, owed, members)


def improve(area: Field, owed: int, members: list[int]) -> tuple[float, list[int]]:
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
        better = _swap(area, apart, owed, members, ends, worst)
        if better is None:
            return worst, members
        members = better


def _greedy(area: Field, count: int, owed: int, rng: np.random.Generator) -> list[int] | None:
    """Return a set built by adding the farthest candidate, quiet if required."""
    members = list(area.pinned)
    free = np.ones(len(area.quiet), bool)
    free[members] = False
    while len(members) < count:
        still = owed - int(area.quiet[members].sum())
        may = free & area.quiet if still >= count - len(members) else free
        places = np.flatnonzero(may)
        if not len(places):
            return None
        if not members:
            members.append(int(rng.choice(places)))
        else:
            near = area.apart(members)[places].min(axis=1)
            members.append(int(places[np.argmax(near)]))
        free[members[-1]] = False
    return members if int(area.quiet[members].sum()) >= owed else None


def _swap(
    area: Field, apart: Floats, owed: int, members: list[int], ends: Sequence[int], worst: float
) -> list[int] | None:
    for end in ends:
        others = members[:end] + members[end + 1 :]
        near = np.delete(apart, end, axis=1).min(axis=1) if others else np.full(len(apart), np.inf)
        near[others] = -1.0
        if owed - int(area.quiet[others].sum()) > 0:
            near[~area.quiet] = -1.0
        new = int(np.argmax(near))
        if near[new] > worst + NOISE_DB:
            return [*others, new]
    return None
