"""The order of positions along the selector, alternative sets, and a map of all candidates."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.timbre import timbre_distance
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import Choice, SetRules, choose_quickly

Floats = NDArray[np.float64]

DARK, NEAR = "dark", "near"
ORDERS = (DARK, NEAR)
MOST_PERMUTED = 8
"""Largest number of positions to try in every order. More are ordered step by step."""
NEARLY = 0.9
"""An alternative set needs at least this share of the best's smallest distance."""


def order_positions(found: Candidates, chosen: Sequence[int], order: str) -> tuple[int, ...]:
    """Return positions in order: dark to bright, or near ones side by side.

    Parameters
    ----------
    order : str
        ``dark``: by rising brightness. ``near``: the path from the darkest position through all of
        them with the smallest sum of timbre distances.

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
    """
    rising = tuple(sorted(chosen, key=lambda i: float(found.brightness_hz[i])))
    if order == DARK or len(rising) < 3:
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


def find_alternatives(
    found: Candidates, rules: SetRules, best: Choice, *, stop: Callable[[], bool] | None = None
) -> Iterator[Choice]:
    """Yield sets nearly as good that omit one of the best's positions.

    If the best is not proved, omitting a position may give a better set. That set is yielded too;
    `take_better` makes it the best.

    Parameters
    ----------
    stop : callable, optional
        Return True to end the search.

    Yields
    ------
    Choice
        At most one for each position that is not pinned, without repeats.
    """
    seen = {best.chosen}
    for left_out in best.chosen:
        if left_out in rules.pinned:
            continue
        if stop is not None and stop():
            return
        try:
            other = choose_quickly(found, replace(rules, without=(*rules.without, left_out)), stop=stop)
        except InputError:  # no set without this position keeps the rules
            continue
        if other.distance_db >= NEARLY * best.distance_db and other.chosen not in seen:
            seen.add(other.chosen)
            yield other


def take_better(best: Choice, others: Sequence[Choice]) -> tuple[Choice, list[Choice]]:
    """Return the best of all sets, and the others.

    The new best keeps the known bound: an alternative's own bound holds for its part alone.
    """
    first = max([best, *others], key=lambda one: one.distance_db)
    if first is best:
        return best, list(others)
    rest = [
        one for one in [best, *others] if one is not first and one.distance_db >= NEARLY * first.distance_db
    ]
    return replace(first, bound_db=max(best.bound_db, first.distance_db)), rest


def map_on_plane(found: Candidates) -> Floats:
    """Return points on a plane for all candidates, similar ones close.

    Returns
    -------
    ndarray, shape (n, 2), dB
        The first two principal components of the timbres, the first rising with brightness.
    """
    centred = found.timbre - found.timbre.mean(axis=0)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    plane = centred @ axes[:2].T / np.sqrt(found.timbre.shape[1])
    if plane.shape[1] < 2:
        plane = np.pad(plane, ((0, 0), (0, 2 - plane.shape[1])))
    if np.sum(plane[:, 0] * (found.brightness_hz - found.brightness_hz.mean())) < 0.0:
        plane[:, 0] = -plane[:, 0]
    return np.asarray(plane)
