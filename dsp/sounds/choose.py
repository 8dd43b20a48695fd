"""Choose the positions that differ most: the largest smallest distance, proved or with its bound."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sounds import areas
from dsp.sounds.areas import (
    AllAllowed,
    AllowedField,
    allowed_candidates,
    allowed_enough,
    find_allowed,
    gather_allowed,
)
from dsp.sounds.candidates import Candidates
from dsp.sounds.clique import Owed, SearchStopped, find_clique
from dsp.sounds.line import find_line
from dsp.sounds.rules import SetRules
from dsp.sounds.swaps import NOISE_DB, improve, sets_by_swaps

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

POLISHED = 12
"""Of the sets found in a sample, those improved by swaps among all candidates."""
MOST_LOOKS = 4000
"""Of `STEPS_PER_LOOK` branches each, for the bound where a proof is out of reach: 2 s on an idle machine
of 2026, so that a busy one gives the same answer within the usual time."""
LEAST_GAIN_DB = 1e-6
"""Least improvement worth a search among all candidates."""


@dataclass(frozen=True)
class Choice:
    """A set of positions, with its distance and the bound on any better one.

    Attributes
    ----------
    chosen : tuple of int
        Candidates in rising order.
    distance_db : float
        Smallest distance between two positions.
    bound_db : float
        No set that keeps the rules has a larger distance.
    """

    chosen: tuple[int, ...]
    distance_db: float
    bound_db: float

    @property
    def proved(self) -> bool:
        """Whether no better set exists."""
        return self.distance_db >= self.bound_db - LEAST_GAIN_DB - NOISE_DB


def choose_sets(
    found: Candidates, rules: SetRules, *, stop: Callable[[], bool] | None = None
) -> Iterator[Choice]:
    """Yield sets of positions, each no worse than the last, with a bound.

    A good set comes at once, from many starts improved by swaps. A bisection between its distance
    and the bound then searches for better sets, until one is proved best or thinning sets a limit.
    Too many candidates are thinned for the bisection, but the swaps are among all. The caller may
    stop at any time and keep the sets so far.

    Parameters
    ----------
    stop : callable, optional
        Return True to end the search, even within one step. The last set then keeps its bound.

    Raises
    ------
    InputError
        If no set can keep the rules. The message names the rule that prevents it.

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
    >>> *_, best = choose_sets(found, SetRules(3))
    >>> best.proved, [found.expression_text(i) for i in best.chosen]
    (True, ['bridge', 'neck + bridge', 'neck | bridge'])
    """
    index = allowed_enough(found, rules)
    if len(index) <= areas.MOST_EXACT or rules.count == 1:
        yield from _among_few(find_allowed(found, rules), rules, stop)
        return
    area = gather_allowed(found, rules)
    known = _swapped_among_all(area, rules)
    if known is not None:
        yield known
        if stop is not None and stop():
            return
    limited = _limited(stop) if len(index) > areas.MOST_WHOLE else stop
    for one in _among_few(find_allowed(found, rules), rules, limited):
        if known is None or one.distance_db > known.distance_db:
            known = one
        known = replace(known, bound_db=max(one.bound_db, known.distance_db))
        yield known
    assert known is not None  # some set keeps the rules, or an error was raised
    if len(index) <= areas.MOST_WHOLE:
        yield from _among_all(area, rules, known, stop)
        return
    distance_db, better = improve(area, np.searchsorted(index, known.chosen).tolist())
    if distance_db > known.distance_db + LEAST_GAIN_DB and area.can_take(better):
        yield _choice_of_all(area, better, max(known.bound_db, distance_db))


def _limited(stop: Callable[[], bool] | None) -> Callable[[], bool]:
    """Return a stop that also comes after `MOST_LOOKS` calls."""
    looks = count()
    return lambda: next(looks) >= MOST_LOOKS or (stop is not None and stop())


def choose_quickly(found: Candidates, rules: SetRules, *, stop: Callable[[], bool] | None = None) -> Choice:
    """Return the last set of `choose_sets`, the first where many are allowed.

    Where more than `MOST_WHOLE` are, no proof is to be had.

    Raises
    ------
    InputError
        As for `choose_sets`.
    """
    answers = choose_sets(found, rules, stop=stop)
    if len(allowed_candidates(found, rules)) > areas.MOST_WHOLE:
        return next(answers)
    *_, best = answers
    return best


def _among_few(area: AllowedField, rules: SetRules, stop: Callable[[], bool] | None) -> Iterator[Choice]:
    """Yield better sets until one is the best of a field, with the bound for all candidates."""
    starts = [one for one in sets_by_swaps(area, rules.count) if one[0] >= 0.0 and area.can_take(one[1])]
    best = max(starts, key=lambda one: one[0])[1] if starts else None
    bound = area.largest_db + 2.0 * area.cover_db
    by_levels = np.isfinite(rules.spread_db) or np.isfinite(rules.step_db)
    if best is None:
        first = _clique(area, rules, area.graph(0.0), None)  # never stopped: a first set is required
        if first is None:
            got = f"{rules.count} positions, {rules.quiet} hum-cancelling"
            allowed = "rules that some set can keep: fewer pins or quiet positions"
            if by_levels:
                allowed += ", or larger differences in level"
            raise InputError("positions", got, allowed)
        best = first
    yield _choice(area, best, bound)
    if rules.count == 1 or len(area.index) == rules.count:
        yield _choice(area, best, _smallest(area, best))
        return
    levels = np.unique(area.distances[np.triu_indices(len(area.index), 1)])
    levels = levels[levels >= 0.0]
    low = int(np.searchsorted(levels, _smallest(area, best), side="right"))  # the next larger distance
    high = len(levels)
    while low < high:
        middle = (low + high) // 2
        try:
            better = _clique(area, rules, area.graph(float(levels[middle])), stop)
        except SearchStopped:
            return
        if better is None:
            high = middle
        else:
            best = better
            # never repeat a level, even if rounding puts the set's own distance below it
            low = max(middle + 1, int(np.searchsorted(levels, _smallest(area, best), side="right")))
        # levels are not thinned evenly: a set kept out by its levels says nothing of those left out
        if not (by_levels and area.cover_db > 0.0):
            bound = (float(levels[high - 1]) if high > 0 else 0.0) + 2.0 * area.cover_db
        yield _choice(area, best, max(bound, _smallest(area, best) + 2.0 * area.cover_db))


def _swapped_among_all(area: AllAllowed, rules: SetRules) -> Choice | None:
    """Return the best set by swaps among all, from the best sets of a sample.

    The work is the same on any machine.
    """
    rows, sample = area.sample()
    sets = {tuple(sorted(members)): one for one, members in sets_by_swaps(sample, rules.count)}
    best: tuple[float, list[int]] | None = None
    for start in sorted(sets, key=lambda one: -sets[one])[:POLISHED]:
        found = improve(area, rows[list(start)].tolist())
        if found[0] >= 0.0 and (best is None or found[0] > best[0]) and area.can_take(found[1]):
            best = found
    if best is None:
        return None
    from_middle = np.sqrt(np.mean((area.points - area.points.mean(axis=0)) ** 2, axis=1).max())
    heaviest = max(1.0, float(area.weights.max())) ** 2
    return _choice_of_all(area, best[1], 2.0 * heaviest * float(from_middle))


def _among_all(
    area: AllAllowed, rules: SetRules, best: Choice, stop: Callable[[], bool] | None
) -> Iterator[Choice]:
    """Yield better sets among all candidates until the best is proved."""
    while True:
        try:
            better = _clique(area, rules, area.graph(best.distance_db + LEAST_GAIN_DB), stop)
        except SearchStopped:
            return
        if better is None:
            yield replace(best, bound_db=best.distance_db + LEAST_GAIN_DB)
            return
        best = _choice_of_all(area, better, best.bound_db)
        yield best


def _clique(
    area: AllowedField | AllAllowed, rules: SetRules, graph: Sequence[int], stop: Callable[[], bool] | None
) -> list[int] | None:
    """Return a set that keeps the rules and is a clique of a graph."""
    owed: Owed = area.owed_bits()
    if area.line is not None:
        return find_line(graph, area.line, count=rules.count, pinned=area.pinned, owed=owed, stop=stop)
    return find_clique(graph, count=rules.count, pinned=area.pinned, owed=owed, fits=area.fits, stop=stop)


def _choice(area: AllowedField, members: Sequence[int], bound_db: float) -> Choice:
    chosen = tuple(sorted(int(area.index[i]) for i in members))
    return Choice(chosen, _smallest(area, members), bound_db)


def _choice_of_all(area: AllAllowed, members: Sequence[int], bound_db: float) -> Choice:
    """Return members as a choice, its distance exact to the last digits."""
    points, weights = area.points[list(members)], area.weights[list(members)]
    apart = np.sqrt(np.mean((points[:, None] - points) ** 2, axis=2))
    apart *= weights[:, None] * weights
    smallest = float(apart[np.triu_indices(len(points), 1)].min())
    return Choice(tuple(sorted(int(area.index[i]) for i in members)), smallest, bound_db)


def _smallest(area: AllowedField, members: Sequence[int]) -> float:
    if len(members) < 2:
        return float("inf")
    inside = area.distances[list(members)][:, list(members)]
    return float(inside[np.triu_indices(len(members), 1)].min())
