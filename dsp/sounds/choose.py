"""Choose the positions that differ most: the largest smallest distance, proved or with its bound."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import count
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.clique import Owed, SearchStopped, bits, find_clique
from dsp.sounds.conditions import ANY_DB, DARK, NEAR
from dsp.sounds.line import Line, find_line
from dsp.sounds.order import largest_step_db, order_positions, order_ranks
from dsp.sounds.swaps import NOISE_DB, improve, sets_by_swaps
from dsp.sounds.thinning import thin

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
NEVER_DB = -1.0
"""Distance of two sounds whose levels keep them out of one set."""


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
    in_phase : int
        Least number of positions with all coils in phase.
    usual : tuple of int, optional
        Candidates to which the set keeps. All by default.
    spread_db : float
        Largest level difference between two positions.
    step_db : float
        Largest level difference between neighbours along the selector.
    order : str
        Order along the selector; see `dsp.sounds.order.order_positions`.
    places : tuple of (int, int)
        Positions, from 1, with pinned candidates that stand there by hand.
    in_order : bool
        Whether positions of a switch must keep the order, where its throws would allow another.
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
    in_phase: int = 0
    usual: tuple[int, ...] | None = None
    spread_db: float = ANY_DB
    step_db: float = ANY_DB
    order: str = DARK
    places: tuple[tuple[int, int], ...] = ()
    in_order: bool = False


def set_in_order(found: Candidates, rules: SetRules, chosen: Sequence[int]) -> tuple[int, ...]:
    """Return the positions of a set in the order of its rules."""
    return order_positions(found, chosen, rules.order, rules.places)


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
class _Rows:
    """Allowed candidates in a search, numbered by their places in ``index``.

    Attributes
    ----------
    index : ndarray of int, shape (n,)
        The candidates.
    points : ndarray, shape (n, n_bands), dB
    kind : ndarray of int, shape (n,)
        What the rules count of each: hum that cancels, coils in phase.
    owed : tuple of (ndarray of bool, int)
        Candidates of a kind, and how many of these a set must contain at least.
    pinned : tuple of int
        Places in ``index``.
    weights : ndarray, shape (n,)
    level_db : ndarray, shape (n,)
    spread_db : float
    line : Line or None
        Order and neighbours, if the levels of neighbours count and the order is one of all sounds.
    fits : callable or None
        Whether a whole set keeps the levels of neighbours, if the order depends on the set.
    """

    index: Indices
    points: Floats
    kind: Indices
    owed: tuple[tuple[NDArray[np.bool_], int], ...]
    pinned: tuple[int, ...]
    weights: Floats
    level_db: Floats
    spread_db: float
    line: Line | None
    fits: Callable[[Sequence[int]], bool] | None

    def owed_bits(self) -> list[tuple[int, int]]:
        """Return ``owed`` with the candidates as bits."""
        return [(bits(some), most) for some, most in self.owed]

    def can_take(self, members: Sequence[int]) -> bool:
        """Return whether a set keeps all rules but the distance."""
        return all(int(some[list(members)].sum()) >= most for some, most in self.owed) and (
            self.fits is None or self.fits(members)
        )


@dataclass(frozen=True)
class AllowedField(_Rows):
    """The allowed candidates, and their distances.

    Attributes
    ----------
    cover_db : float
        What thinning may have cost; 0 if none was left out.
    distances : ndarray, shape (n, n), dB
        `NEVER_DB` for two whose levels keep them out of one set.
    largest_db : float
        The largest distance, whatever the levels.
    """

    cover_db: float = 0.0
    distances: Floats = field(init=False)
    largest_db: float = field(init=False)

    def __post_init__(self) -> None:
        square = np.sum(self.points**2, axis=1)
        products = self.points @ self.points.T
        products = 0.5 * (products + products.T)  # exactly symmetric: one distance for each pair
        apart = np.maximum(square[:, None] + square[None, :] - 2.0 * products, 0.0)
        apart = np.sqrt(apart / self.points.shape[1]) * (self.weights[:, None] * self.weights)
        np.fill_diagonal(apart, 0.0)
        object.__setattr__(self, "largest_db", float(apart.max()))
        if np.isfinite(self.spread_db):
            steps = np.abs(self.level_db[:, None] - self.level_db)
            apart[steps > self.spread_db + NOISE_DB] = NEVER_DB
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
class _Whole(_Rows):
    """Too many candidates for a table of distances: they are computed when needed."""

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
        apart *= self.weights[:, None] * self.weights[some]
        if np.isfinite(self.spread_db):
            steps = np.abs(self.level_db[:, None] - self.level_db[some])
            apart[steps > self.spread_db + NOISE_DB] = NEVER_DB
        return np.asarray(apart)

    def sample(self) -> tuple[NDArray[np.int64], AllowedField]:
        """Return some places, and their field: as many of each kind, evenly."""
        kept = [np.array(self.pinned, np.int64)]
        different = np.unique(self.kind)
        for kind in different:
            places = np.flatnonzero(self.kind == kind)
            most = min(len(places), MOST_EXACT // max(len(different), 2))
            kept.append(places[np.linspace(0, len(places) - 1, most).astype(int)])
        rows = np.unique(np.concatenate(kept))
        of: dict[str, Any] = {
            "index": self.index[rows],
            "points": self.points[rows],
            "kind": self.kind[rows],
            "owed": tuple((some[rows], most) for some, most in self.owed),
            "pinned": tuple(int(np.flatnonzero(rows == i)[0]) for i in self.pinned),
            "weights": self.weights[rows],
            "level_db": self.level_db[rows],
            "spread_db": self.spread_db,
            "line": None,
            "fits": None,
        }
        return rows, AllowedField(**of)

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
            joined &= np.abs(self.level_db[some, None] - self.level_db) <= self.spread_db + NOISE_DB
            joined[np.arange(len(joined)), np.arange(start, start + len(joined))] = False
            rows += [bits(row) for row in joined]
        return rows


def _rows_of(found: Candidates, rules: SetRules, index: Indices) -> dict[str, Any]:
    """Return the fields of `_Rows` for some candidates."""
    place = {int(one): k for k, one in enumerate(index)}
    line: Line | None = None
    fits: Callable[[Sequence[int]], bool] | None = None
    level_db = found.level_db[index]
    if np.isfinite(rules.step_db):

        def fits(members: Sequence[int]) -> bool:
            chosen = [int(index[one]) for one in members]
            step_db = largest_step_db(found.level_db, set_in_order(found, rules, chosen))
            return step_db <= rules.step_db + NOISE_DB

        if rules.order != NEAR:
            beside = tuple(bits(np.abs(level_db - one) <= rules.step_db + NOISE_DB) for one in level_db)
            ranks = order_ranks(found, rules.order)[index]
            places = tuple((at - 1, place[one]) for at, one in rules.places)
            line = Line(tuple(np.argsort(ranks).tolist()), beside, places)
    return {
        "index": index,
        "points": found.timbre[index],
        "kind": _kinds(found, rules, index),
        "owed": _owed(found, rules, index),
        "pinned": tuple(place[one] for one in rules.pinned),
        "weights": _weights(found, rules)[index],
        "level_db": level_db,
        "spread_db": rules.spread_db,
        "line": line,
        "fits": fits,
    }


def _kinds(found: Candidates, rules: SetRules, index: Indices) -> Indices:
    kinds = (found.hum_db[index] <= rules.quiet_db).astype(np.int64)
    return kinds + 2 * found.opposed[index] if rules.in_phase else kinds


def _owed(found: Candidates, rules: SetRules, index: Indices) -> tuple[tuple[NDArray[np.bool_], int], ...]:
    quiet, in_phase = found.hum_db[index] <= rules.quiet_db, ~found.opposed[index]
    return tuple((some, most) for some, most in ((quiet, rules.quiet), (in_phase, rules.in_phase)) if most)


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
    area = _Whole(**_rows_of(found, rules, index))
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
    distance_db, better = improve(area, np.searchsorted(index, known.chosen).tolist())
    if distance_db > known.distance_db + LEAST_GAIN_DB and area.can_take(better):
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


def _swapped_among_all(area: _Whole, rules: SetRules) -> Choice | None:
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
    owed: Owed = area.owed_bits()
    if area.line is not None:
        return find_line(graph, area.line, count=rules.count, pinned=area.pinned, owed=owed, stop=stop)
    return find_clique(graph, count=rules.count, pinned=area.pinned, owed=owed, fits=area.fits, stop=stop)


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
    if rules.usual is not None:
        allowed &= np.isin(np.arange(len(found)), rules.usual)
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
    cover_db = 0.0
    if len(index) > MOST_EXACT:
        most = MOST_EXACT if len(index) <= MOST_WHOLE else min(MOST_EXACT, MOST_COVER)
        kept, cover_db = thin(found.timbre[index], _kinds(found, rules, index), most)
        index = np.union1d(index[kept], np.array(rules.pinned, np.int64))
        cover_db *= max([1.0, *(weight for _, weight in rules.weights)]) ** 2
    return AllowedField(**_rows_of(found, rules, index), cover_db=cover_db)


def _enough(found: Candidates, rules: SetRules) -> Indices:
    """Return the allowed candidates; raise if they are too few for the rules."""
    _check(found, rules)
    index = allowed_candidates(found, rules)
    if len(index) < rules.count:
        got = f"{rules.count} positions, {len(index)} sounds that keep the rules"
        raise InputError("positions", got, "fewer positions, a wider level window or thinner sounds")
    for (some, most), word in zip(_owed(found, rules, index), _kinds_owed(rules), strict=True):
        if int(some.sum()) < most:
            got = f"{most} {word}, {int(some.sum())} there are"
            raise InputError("positions", got, "at most as many as there are")
    return index


def _kinds_owed(rules: SetRules) -> list[str]:
    return [word for word, most in (("hum-cancelling", rules.quiet), ("in phase", rules.in_phase)) if most]


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
    for most, word in ((rules.quiet, "hum-cancelling"), (rules.in_phase, "in phase")):
        if most > rules.count:
            raise InputError(word, str(most), f"at most the {rules.count} positions")
    _check_places(found, rules)


def _check_places(found: Candidates, rules: SetRules) -> None:
    at = [place for place, _ in rules.places]
    sounds = [sound for _, sound in rules.places]
    if any(not 1 <= place <= rules.count for place in at):
        got = next(str(place) for place in at if not 1 <= place <= rules.count)
        raise InputError("place", got, f"a position, 1 to {rules.count}")
    if len(set(at)) < len(at) or len(set(sounds)) < len(sounds):
        raise InputError("place", "a position or a sound twice", "each once")
    if rules.in_order and rules.order == NEAR:
        raise InputError(
            "order", f"{NEAR}, kept on the switch", "neck, dark or thick: near depends on the set"
        )
    loose = next((sound for sound in sounds if sound not in rules.pinned), None)
    if loose is not None:
        raise InputError("place", f"'{found.expression_text(loose)}'", "a pinned sound")
