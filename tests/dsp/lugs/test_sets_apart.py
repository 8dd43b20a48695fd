"""Sets of sounds that lie far apart, against every set there is."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from dsp.lugs.exhaustive.sets import Apart
from dsp.sounds.clique import bits

N, COUNT = 9, 4


def _distances(seed: int) -> NDArray[np.float64]:
    """Return random distances with many ties."""
    above = np.triu(np.random.default_rng(seed).integers(1, 8, (N, N)).astype(float), 1)
    return above + above.T


def _best(apart: Apart, points: set[int]) -> float:
    """Return the largest smallest distance of all sets that keep the demands; 0 if there is none."""
    sets = [
        one
        for one in combinations(sorted(points), apart.count)
        if set(apart.pinned) <= set(one)
        and all(sum(some >> member & 1 for member in one) >= most for some, most in apart.owed)
    ]
    return max((min(apart.distances[a, b] for a, b in combinations(one, 2)) for one in sets), default=0.0)


@pytest.mark.parametrize("seed", range(40))
def test_the_farthest_set_is_the_farthest_of_all(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    points = set(np.flatnonzero(rng.random(N) < 0.8).tolist())
    pinned = tuple(sorted(rng.choice(N, int(rng.integers(0, 3)), replace=False).tolist()))
    quiet = rng.random(N) < 0.5
    apart = Apart(_distances(seed), COUNT, pinned, ((bits(quiet), int(rng.integers(0, 3))),))
    found = apart.farthest(bits(np.isin(np.arange(N), list(points))), 0.0)
    best = _best(apart, points)
    assert (found[1] if found else 0.0) == best
    if found:
        members = found[0]
        assert set(pinned) <= set(members) <= points
        assert sum(quiet[list(members)]) >= apart.owed[0][1]
        assert apart.smallest(members) == best


def test_a_pinned_sound_that_is_not_there_is_in_no_set() -> None:
    apart = Apart(_distances(0), 2, (0,))
    there = np.ones(N, bool)
    assert apart.find(bits(there), 1.0) is not None
    there[0] = False
    assert apart.find(bits(there), 1.0) is None
