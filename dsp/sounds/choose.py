"""Choose the positions that differ most: the largest smallest distance, proved or with its bound."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.clique import SearchStopped, bits, find_clique

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_EXACT = 2000
"""Largest number of candidates for an exact search. More are thinned first, at a known cost."""
MOST_WHOLE = 12_000
"""Largest number of candidates against which a set found among thinned ones is checked."""
ROWS_AT_ONCE = 1000
STARTS = 48
NOISE_DB = 1e-9
LEAST_GAIN_DB = 1e-6
"""Least improvement worth a search among all candidates."""


@dataclass(frozen=True)
class SetRules:
    """Rules that a set of positions must keep.

    Attributes
    ----------
    pinned : tuple of int
        Candidates that must be in the set.
    quiet : int
        Least number of hum-cancelling positions.
    quiet_db : float
        Largest residual that counts as hum-cancelling.
    level_window_db : float
        Largest level difference between a position and the loudest candidate.
    opposed : bool
        Whether coils may be out of phase with one another.
    thinnest : float
        Smallest allowed share of the energy below 250 Hz.
    without : tuple of int
        Candidates that must not be in the set.
    weights : sequence of (int, float)
        Candidates with the factors of their distances, 1 by default. A factor above 1 favours a sound.
    """

    count: int
    pinned: tuple[int, ...] = ()
    quiet: int = 0
    quiet_db: float = CANCELLING_DB
    level_window_db: float = 18.0
    opposed: bool = True
    thinnest: float = 0.0
    without: tuple[int, ...] = ()
    weights: tuple[tuple[int, float], ...] = ()


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


@dataclass(frozen=True)
class AllowedField:
    """The allowed candidates, and their distances.

    Attributes
    ----------
    index : ndarray of int, shape (n,)
        The candidates.
    points : ndarray, shape (n, n_bands), dB
    quiet : ndarray of bool, shape (n,)
        Whether hum cancels.
    pinned : tuple of int
        Places in ``index``.
    weights : ndarray, shape (n,)
    cover_db : float
        What thinning may have cost; 0 if none was left out.
    distances : ndarray, shape (n, n), dB
    """

    index: Indices
    points: Floats
    quiet: NDArray[np.bool_]
    pinned: tuple[int, ...]
    weights: Floats
    cover_db: float = 0.0
    distances: Floats = field(init=False)

    def __post_init__(self) -> None:
        square = np.sum(self.points**2, axis=1)
        products = self.points @ self.points.T
        products = 0.5 * (products + products.T)  # exactly symmetric: one distance for each pair
        apart = np.maximum(square[:, None] + square[None, :] - 2.0 * products, 0.0)
        apart = np.sqrt(apart / self.points.shape[1]) * (self.weights[:, None] * self.weights)
        np.fill_diagonal(apart, 0.0)
        object.__setattr__(self, "distances", apart)

    def graph(self, least_db: float) -> list[int]:
        """Return, for each candidate, the bits of those at least so far away."""
        joined = self.distances >= least_db - NOISE_DB
        np.fill_diagonal(joined, False)
        return [bits(row) for row in joined]


@dataclass(frozen=True)
class _Whole:
    """Too many candidates for a table of distances: graphs compute by rows."""

    index: Indices
    points: Floats
    quiet: NDArray[np.bool_]
    pinned: tuple[int, ...]
    weights: Floats

    def graph(self, least_db: float) -> list[int]:
        """Return the same as `AllowedField.graph`."""
        square = np.sum(self.points**2, axis=1)
        least = (least_db / self.weights) ** 2 * self.points.shape[1]
        rows: list[int] = []
        for start in range(0, len(self.points), ROWS_AT_ONCE):
            some = slice(start, start + ROWS_AT_ONCE)
            apart = square[some, None] + square - 2.0 * self.points[some] @ self.points.T
            joined = apart * self.weights[some, None] ** 2 > least
            joined[np.arange(len(joined)), np.arange(start, start + len(joined))] = False
            rows += [bits(row) for row in joined]
        return rows


def choose_sets(
    found: Candidates, rules: SetRules, *, stop: Callable[[], bool] | None = None
) -> Iterator[Choice]:
    """Yield sets of positions, each no worse than the last, with a bound.

    A good set comes at once, from many starts improved by swaps. A bisection between its distance
    and the bound then searches for better sets, until one is proved best or thinning sets a limit.
    The caller may stop at any time and keep the sets so far.

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
    area = find_allowed(found, rules)
    best = _by_swaps(area, rules)
    largest = float(area.distances.max())
    bound = largest + 2.0 * area.cover_db
    if best is None:
        first = _clique(area, rules, area.graph(0.0), None)  # never stopped: a first set is required
        if first is None:
            got = f"{rules.count} positions, {rules.quiet} hum-cancelling"
            raise InputError("positions", got, "rules that some set can keep: fewer pins or quiet positions")
        best = first
    yield _choice(area, best, bound)
    if rules.count == 1 or len(area.index) == rules.count:
        yield _choice(area, best, _smallest(area, best))
        return
    levels = np.unique(area.distances[np.triu_indices(len(area.index), 1)])
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
        bound = float(levels[high - 1]) if high > 0 else 0.0
        yield _choice(area, best, max(bound, _smallest(area, best)) + 2.0 * area.cover_db)
    if area.cover_db > 0.0:
        yield from _among_all(
            found, rules, _choice(area, best, max(bound, _smallest(area, best)) + 2.0 * area.cover_db), stop
        )


def _among_all(
    found: Candidates, rules: SetRules, best: Choice, stop: Callable[[], bool] | None
) -> Iterator[Choice]:
    """Yield better sets among all candidates until the best is proved."""
    index = allowed_candidates(found, rules)
    if len(index) > MOST_WHOLE:
        return
    pinned = tuple(int(np.flatnonzero(index == i)[0]) for i in rules.pinned)
    quiet = found.hum_db <= rules.quiet_db
    area = _Whole(index, found.timbre[index], quiet[index], pinned, _weights(found, rules)[index])
    while True:
        try:
            better = _clique(area, rules, area.graph(best.distance_db + LEAST_GAIN_DB), stop)
        except SearchStopped:
            return
        if better is None:
            yield replace(best, bound_db=best.distance_db + LEAST_GAIN_DB)
            return
        members = area.points[better]
        apart = np.sqrt(np.mean((members[:, None] - members) ** 2, axis=2))
        apart *= area.weights[better][:, None] * area.weights[better]
        smallest = float(apart[np.triu_indices(len(better), 1)].min())
        best = Choice(tuple(sorted(int(index[i]) for i in better)), smallest, best.bound_db)
        yield best


def _clique(
    area: AllowedField | _Whole, rules: SetRules, graph: Sequence[int], stop: Callable[[], bool] | None
) -> list[int] | None:
    """Return a set that keeps the rules and is a clique of a graph."""
    return find_clique(
        graph, count=rules.count, pinned=area.pinned, quiet=bits(area.quiet), owed=rules.quiet, stop=stop
    )


def _choice(area: AllowedField, members: Sequence[int], bound_db: float) -> Choice:
    chosen = tuple(sorted(int(area.index[i]) for i in members))
    return Choice(chosen, _smallest(area, members), bound_db)


def _smallest(area: AllowedField, members: Sequence[int]) -> float:
    if len(members) < 2:
        return float("inf")
    inside = area.distances[list(members)][:, list(members)]
    return float(inside[np.triu_indices(len(members), 1)].min())


def allowed_candidates(found: Candidates, rules: SetRules) -> Indices:
    """Return the candidates that keep the rules each alone, in rising order.

    Pinned candidates are always allowed.

    Returns
    -------
    ndarray of int, shape (n_allowed,)
        In rising order.
    """
    allowed = found.level_db >= found.level_db.max() - rules.level_window_db
    allowed &= found.low_share >= rules.thinnest
    if not rules.opposed:
        allowed &= ~found.opposed
    allowed[list(rules.pinned)] = True
    allowed[list(rules.without)] = False
    return np.flatnonzero(allowed)


def _weights(found: Candidates, rules: SetRules) -> Floats:
    weights = np.ones(len(found))
    for i, weight in rules.weights:
        weights[i] = weight
    return weights


def find_allowed(found: Candidates, rules: SetRules) -> AllowedField:
    """Return the allowed candidates, thinned if there are too many.

    Raises
    ------
    InputError
        If they are too few for the rules.
    """
    _check(found, rules)
    index = allowed_candidates(found, rules)
    if len(index) < rules.count:
        got = f"{rules.count} positions, {len(index)} sounds that keep the rules"
        raise InputError("positions", got, "fewer positions, a wider level window or thinner sounds")
    quiet = found.hum_db <= rules.quiet_db
    if int(quiet[index].sum()) < rules.quiet:
        got = f"{rules.quiet} hum-cancelling, {int(quiet[index].sum())} there are"
        raise InputError("positions", got, "at most as many as there are")
    cover_db = 0.0
    if len(index) > MOST_EXACT:
        index, cover_db = _thinned(found.timbre, index, rules, quiet)
    pinned = tuple(int(np.flatnonzero(index == i)[0]) for i in rules.pinned)
    return AllowedField(
        index, found.timbre[index], quiet[index], pinned, _weights(found, rules)[index], cover_db
    )


def _check(found: Candidates, rules: SetRules) -> None:
    if not 1 <= rules.count <= len(found):
        raise InputError("positions", str(rules.count), f"1 to {len(found)}, the sounds there are")
    if len(set(rules.pinned)) != len(rules.pinned) or len(rules.pinned) > rules.count:
        got = f"{len(rules.pinned)} pinned for {rules.count} positions"
        raise InputError("pinned", got, "each once, and no more than there are positions")
    both = set(rules.pinned) & set(rules.without)
    if both:
        raise InputError(
            "pinned", f"'{found.expression_text(min(both))}' pinned and left out", "one of the two"
        )
    if rules.quiet > rules.count:
        raise InputError("hum-cancelling", str(rules.quiet), f"at most the {rules.count} positions")


def _thinned(
    points: Floats, index: Indices, rules: SetRules, quiet: NDArray[np.bool_]
) -> tuple[Indices, float]:
    """Return well-separated candidates, and the radius they cover.

    No other candidate is farther than the radius from the nearest kept one of its kind.
    Hum-cancelling candidates and others are thinned separately, so that one replaces only its own
    kind. For any set of all candidates, some set of the kept ones has distances smaller by at most
    twice the radius.
    """
    kept: list[int] = list(rules.pinned)
    radius = 0.0
    for kind in (True, False):
        members = index[quiet[index] == kind]
        most = min(len(members), MOST_EXACT // 2)
        if not most:
            continue
        chosen, far = _farthest(points[members], most)
        kept += [int(members[i]) for i in chosen if int(members[i]) not in kept]
        radius = max(radius, far)
    heaviest = max([1.0, *(weight for _, weight in rules.weights)]) ** 2
    return np.array(sorted(kept), np.int64), heaviest * radius / float(np.sqrt(points.shape[1]))


def _farthest(points: Floats, most: int) -> tuple[list[int], float]:
    """Return points, each farthest from the earlier, and the distance left."""
    chosen = [0]
    nearest = np.linalg.norm(points - points[0], axis=1)
    while len(chosen) < most and nearest.max() > 0.0:
        following = int(np.argmax(nearest))
        chosen.append(following)
        nearest = np.minimum(nearest, np.linalg.norm(points - points[following], axis=1))
    return chosen, float(nearest.max())


def _by_swaps(area: AllowedField, rules: SetRules) -> list[int] | None:
    """Return the best of many sets, built greedily and improved by swaps."""
    rng = np.random.default_rng(7)
    best: list[int] | None = None
    for _ in range(STARTS):
        members = _greedy(area, rules, rng)
        if members is None:
            continue
        members = _swapped(area, rules, members)
        if best is None or _smallest(area, members) > _smallest(area, best):
            best = members
    return best


def _greedy(area: AllowedField, rules: SetRules, rng: np.random.Generator) -> list[int] | None:
    """Return a set built by adding the farthest candidate, quiet if required."""
    members = list(area.pinned)
    free = np.ones(len(area.index), bool)
    free[members] = False
    while len(members) < rules.count:
        owed = rules.quiet - int(area.quiet[members].sum())
        may = free & area.quiet if owed >= rules.count - len(members) else free
        places = np.flatnonzero(may)
        if not len(places):
            return None
        if not members:
            members.append(int(rng.choice(places)))
        else:
            near = area.distances[places][:, members].min(axis=1)
            members.append(int(places[np.argmax(near)]))
        free[members[-1]] = False
    return members if int(area.quiet[members].sum()) >= rules.quiet else None


def _swapped(area: AllowedField, rules: SetRules, members: list[int]) -> list[int]:
    """Swap one of the closest two for a farther candidate while that helps."""
    while True:
        inside = area.distances[members][:, members] + np.diag(np.full(len(members), np.inf))
        worst = float(inside.min())
        ends = [i for i in np.argwhere(inside == worst)[0] if members[i] not in area.pinned]
        best = _best_swap(area, rules, members, ends, worst)
        if best is None:
            return members
        members = best


def _best_swap(
    area: AllowedField, rules: SetRules, members: list[int], ends: Sequence[int], worst: float
) -> list[int] | None:
    for end in ends:
        others = members[:end] + members[end + 1 :]
        near = area.distances[:, others].min(axis=1) if others else np.full(len(area.index), np.inf)
        near[others] = -1.0
        if rules.quiet - int(area.quiet[others].sum()) > 0:
            near[~area.quiet] = -1.0
        new = int(np.argmax(near))
        if near[new] > worst + NOISE_DB:
            return [*others, new]
    return None
