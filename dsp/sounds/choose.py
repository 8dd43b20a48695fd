"""Choose the positions that differ most: the largest smallest distance, proved or with its bound."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.clique import SearchStopped, bits, find_clique
from dsp.sounds.swaps import NOISE_DB, improve, sets_by_swaps

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_EXACT = 2000
"""Largest number of candidates for an exact search. More are thinned first, at a known cost."""
MOST_WHOLE = 12_000
"""Largest number of candidates against which a set found among thinned ones is checked."""
MOST_COVER = 1000
"""Candidates kept of more than that: twice as many would take twice as long and narrow the bound by
some 0.2 dB."""
POLISHED = 12
"""Of the sets found in a sample, those improved by swaps among all candidates."""
MOST_LOOKS = 4000
"""Of `STEPS_PER_LOOK` branches each, for the bound where a proof is out of reach: 2 s on an idle machine
of 2026, so that a busy one gives the same answer within the usual time."""
ROWS_AT_ONCE = 1000
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

    def apart(self, members: Sequence[int]) -> Floats:
        """Return the distances from all to some, shape (n, n_members), dB."""
        return np.asarray(self.distances[:, list(members)])

    def graph(self, least_db: float) -> list[int]:
        """Return, for each candidate, the bits of those at least so far away."""
        joined = self.distances >= least_db - NOISE_DB
        np.fill_diagonal(joined, False)
        return [bits(row) for row in joined]


@dataclass(frozen=True)
class _Whole:
    """Too many candidates for a table of distances: they are computed when needed."""

    index: Indices
    points: Floats
    quiet: NDArray[np.bool_]
    pinned: tuple[int, ...]
    weights: Floats
    square: Floats = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "square", np.sum(self.points**2, axis=1))

    def apart(self, members: Sequence[int]) -> Floats:
        """Return the same as `AllowedField.apart`."""
        some = list(members)
        apart = self.points @ self.points[some].T
        apart *= -2.0
        apart += self.square[:, None]
        apart += self.square[some]
        np.sqrt(np.maximum(apart, 0.0, out=apart) / self.points.shape[1], out=apart)
        return np.asarray(apart * (self.weights[:, None] * self.weights[some]))

    def sample(self) -> tuple[NDArray[np.int64], AllowedField]:
        """Return some places, and their field: as many hum-cancelling ones as others, evenly."""
        kept = [np.array(self.pinned, np.int64)]
        for kind in (True, False):
            places = np.flatnonzero(self.quiet == kind)
            kept.append(
                places[np.linspace(0, len(places) - 1, min(len(places), MOST_EXACT // 2)).astype(int)]
            )
        rows = np.unique(np.concatenate(kept))
        pinned = tuple(int(np.flatnonzero(rows == i)[0]) for i in self.pinned)
        return rows, AllowedField(
            self.index[rows], self.points[rows], self.quiet[rows], pinned, self.weights[rows]
        )

    def choice(self, members: Sequence[int], bound_db: float) -> Choice:
        """Return members as a choice, its distance exact to the last digits."""
        points, weights = self.points[list(members)], self.weights[list(members)]
        apart = np.sqrt(np.mean((points[:, None] - points) ** 2, axis=2))
        apart *= weights[:, None] * weights
        smallest = float(apart[np.triu_indices(len(points), 1)].min())
        return Choice(tuple(sorted(int(self.index[i]) for i in members)), smallest, bound_db)

    def graph(self, least_db: float) -> list[int]:
        """Return the same as `AllowedField.graph`."""
        square = self.square
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
    index = _enough(found, rules)
    if len(index) <= MOST_EXACT or rules.count == 1:
        yield from _among_few(find_allowed(found, rules), rules, stop)
        return
    area = _whole(found, rules, index)
    known = _swapped_among_all(area, rules)
    if known is not None:
        yield known
        if stop is not None and stop():
            return
    limited = _limited(stop) if len(index) > MOST_WHOLE else stop
    for one in _among_few(find_allowed(found, rules), rules, limited):
        if known is None or one.distance_db > known.distance_db:
            known = one
        known = replace(known, bound_db=max(one.bound_db, known.distance_db))
        yield known
    assert known is not None  # some set keeps the rules, or an error was raised
    if len(index) <= MOST_WHOLE:
        yield from _among_all(area, rules, known, stop)
        return
    distance_db, better = improve(area, rules.quiet, np.searchsorted(index, known.chosen).tolist())
    if distance_db > known.distance_db + LEAST_GAIN_DB:
        yield area.choice(better, max(known.bound_db, distance_db))


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
    if len(allowed_candidates(found, rules)) > MOST_WHOLE:
        return next(answers)
    *_, best = answers
    return best


def _among_few(area: AllowedField, rules: SetRules, stop: Callable[[], bool] | None) -> Iterator[Choice]:
    """Yield better sets until one is the best of a field, with the bound for all candidates."""
    starts = list(sets_by_swaps(area, rules.count, rules.quiet))
    best = max(starts, key=lambda one: one[0])[1] if starts else None
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


def _whole(found: Candidates, rules: SetRules, index: Indices) -> _Whole:
    pinned = tuple(int(np.flatnonzero(index == i)[0]) for i in rules.pinned)
    quiet = found.hum_db[index] <= rules.quiet_db
    return _Whole(index, found.timbre[index], quiet, pinned, _weights(found, rules)[index])


def _swapped_among_all(area: _Whole, rules: SetRules) -> Choice | None:
    """Return the best set by swaps among all, from the best sets of a sample.

    The work is the same on any machine.
    """
    rows, sample = area.sample()
    sets = {tuple(sorted(members)): one for one, members in sets_by_swaps(sample, rules.count, rules.quiet)}
    best: tuple[float, list[int]] | None = None
    for start in sorted(sets, key=lambda one: -sets[one])[:POLISHED]:
        found = improve(area, rules.quiet, rows[list(start)].tolist())
        if best is None or found[0] > best[0]:
            best = found
    if best is None:
        return None
    from_middle = np.sqrt(np.mean((area.points - area.points.mean(axis=0)) ** 2, axis=1).max())
    heaviest = max(1.0, float(area.weights.max())) ** 2
    return area.choice(best[1], 2.0 * heaviest * float(from_middle))


def _among_all(
    area: _Whole, rules: SetRules, best: Choice, stop: Callable[[], bool] | None
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
        best = area.choice(better, best.bound_db)
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
    index = _enough(found, rules)
    quiet = found.hum_db <= rules.quiet_db
    cover_db = 0.0
    if len(index) > MOST_EXACT:
        index, cover_db = _thinned(found.timbre, index, rules, quiet)
    pinned = tuple(int(np.flatnonzero(index == i)[0]) for i in rules.pinned)
    return AllowedField(
        index, found.timbre[index], quiet[index], pinned, _weights(found, rules)[index], cover_db
    )


def _enough(found: Candidates, rules: SetRules) -> Indices:
    """Return the allowed candidates; raise if they are too few for the rules."""
    _check(found, rules)
    index = allowed_candidates(found, rules)
    if len(index) < rules.count:
        got = f"{rules.count} positions, {len(index)} sounds that keep the rules"
        raise InputError("positions", got, "fewer positions, a wider level window or thinner sounds")
    quiet = found.hum_db <= rules.quiet_db
    if int(quiet[index].sum()) < rules.quiet:
        got = f"{rules.quiet} hum-cancelling, {int(quiet[index].sum())} there are"
        raise InputError("positions", got, "at most as many as there are")
    return index


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
    whole = MOST_EXACT if len(index) <= MOST_WHOLE else min(MOST_EXACT, MOST_COVER)
    for kind in (True, False):
        members = index[quiet[index] == kind]
        most = min(len(members), whole // 2)
        if not most:
            continue
        chosen, far = _farthest(points[members], most)
        kept += [int(members[i]) for i in chosen if int(members[i]) not in kept]
        radius = max(radius, far)
    heaviest = max([1.0, *(weight for _, weight in rules.weights)]) ** 2
    return np.array(sorted(kept), np.int64), heaviest * radius / float(np.sqrt(points.shape[1]))


def _farthest(points: Floats, most: int) -> tuple[list[int], float]:
    """Return points, each farthest from the earlier, and the distance left."""
    square = np.sum(points**2, axis=1)
    chosen = [0]
    nearest = np.full(len(points), np.inf)
    while True:
        last = chosen[-1]
        apart = points @ points[last]
        apart *= -2.0
        apart += square
        apart += square[last]
        np.minimum(nearest, apart, out=nearest)
        farthest = int(np.argmax(nearest))
        if len(chosen) == most or nearest[farthest] <= NOISE_DB:
            return chosen, float(np.sqrt(max(nearest[farthest], 0.0)))
        chosen.append(farthest)
