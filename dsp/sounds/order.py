"""The order of positions along the selector, and the sounds that may stand side by side in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, permutations

import numpy as np
from numpy.typing import NDArray

from dsp.sound.timbre import timbre_distance
from dsp.sounds.candidates import Candidates
from dsp.sounds.conditions import NEAR, NECK, THICK

Floats = NDArray[np.float64]

MOST_PERMUTED = 8
"""Largest number of positions to try in every order. More are ordered step by step."""
Places = Sequence[tuple[int, int]]
"""Positions, from 1, with the sounds that stand there by hand."""


def order_positions(
    found: Candidates, chosen: Sequence[int], order: str, places: Places = ()
) -> tuple[int, ...]:
    """Return positions in order.

    Parameters
    ----------
    order : str
        ``neck``: from the neck to the bridge, by the mean place of the coils. ``dark``: by rising
        brightness. ``thick``: by falling share of the energy below 250 Hz. ``near``: the path from
        the darkest position through all of them with the smallest sum of timbre distances.
    places : sequence of (int, int)
        Sounds that stand at a position by hand. The others fill the rest in order.

    Examples
    --------
    >>> from dsp.parts.expression import Leaf
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.parts.sketch import Sketch
    >>> from dsp.sounds.candidates import find_candidates
    >>> from dsp.wiring.model import Joint, Wiring
    >>> made = {"resistance": 6e3, "inductance": 2.4, "capacitance": 110e-12}
    >>> parts = {name: new_part("coil", at=at, **made) for name, at in (("neck", 0.16), ("bridge", 0.04))}
    >>> parts |= {"selector": Sketch({"1": Leaf("neck")}), "output": new_part("jack")}
    >>> ends = [(("selector", "hot"), ("output", "tip")), (("selector", "cold"), ("output", "sleeve"))]
    >>> joints = tuple(map(Joint, ends))
    >>> found = find_candidates(Wiring("two coils", "", parts, joints, selector="selector"))
    >>> [found.expression_text(i) for i in order_positions(found, [0, 1, 2], "dark")]
    ['neck + bridge', 'neck', 'bridge']
    >>> [found.expression_text(i) for i in order_positions(found, [0, 1, 2], "neck")]
    ['neck', 'neck + bridge', 'bridge']
    >>> [found.expression_text(i) for i in order_positions(found, [0, 1, 2], "neck", [(1, 1)])]
    ['bridge', 'neck', 'neck + bridge']
    """
    at = {place: sound for place, sound in places if sound in chosen}
    others: Iterator[int] = iter(_in_order(found, [one for one in chosen if one not in at.values()], order))
    line: list[int] = []
    while len(line) < len(chosen):
        here = at.pop(len(line) + 1, None)
        following = next(others, None) if here is None else here
        line.append(at.pop(min(at)) if following is None else following)
    return tuple(line)


def _in_order(found: Candidates, chosen: Sequence[int], order: str) -> tuple[int, ...]:
    if order == NEAR:
        return _near_path(found, chosen)
    first = _first_key(found, order)
    return tuple(sorted(chosen, key=lambda i: (float(first[i]), float(found.brightness_hz[i]), i)))


def _first_key(found: Candidates, order: str) -> Floats:
    """Return what an order goes by, rising, before the brightness."""
    if order == NECK:
        return -found.place_m
    return -found.low_share if order == THICK else found.brightness_hz


def order_ranks(found: Candidates, order: str) -> NDArray[np.int64]:
    """Return each candidate's rank in an order of all candidates.

    Equal ones are ranked from dark to bright. The order ``near`` depends on the set; its ranks are
    those of ``dark``.

    Returns
    -------
    ndarray of int, shape (n,)
    """
    keys = (np.arange(len(found)), found.brightness_hz, _first_key(found, order))
    ranks = np.empty(len(found), np.int64)
    ranks[np.lexsort(keys)] = np.arange(len(found))
    return ranks


def _near_path(found: Candidates, chosen: Sequence[int]) -> tuple[int, ...]:
    rising = tuple(sorted(chosen, key=lambda i: float(found.brightness_hz[i])))
    if len(rising) < 3:
        return rising
    points = found.timbre[list(rising)]
    apart = timbre_distance(points[:, None], points[None, :])
    ways = permutations(range(1, len(rising))) if len(rising) <= MOST_PERMUTED else [_stepwise(apart)]
    best = min(ways, key=lambda way: sum(apart[a, b] for a, b in zip((0, *way), way, strict=False)))
    return tuple(rising[i] for i in (0, *best))


def _stepwise(apart: Floats) -> tuple[int, ...]:
    """Return the path from the first point that always takes the nearest next."""
    left = set(range(1, len(apart)))
    way: list[int] = []
    at = 0
    while left:
        at = min(left, key=lambda i: apart[at, i])
        left.remove(at)
        way.append(at)
    return tuple(way)


def largest_step_db(level_db: Floats, line: Sequence[int]) -> float:
    """Return the largest difference in level between neighbours.

    Parameters
    ----------
    level_db : ndarray, shape (n,)
    line : sequence of int
        Sounds along the selector.
    """
    return max((abs(float(level_db[a] - level_db[b])) for a, b in pairwise(line)), default=0.0)
