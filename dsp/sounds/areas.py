"""The candidates that rules allow, with the distances and what a search must know of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.clique import bits
from dsp.sounds.conditions import NEAR
from dsp.sounds.line import Line
from dsp.sounds.order import largest_step_db, order_ranks
from dsp.sounds.rules import SetRules, check_rules, levels_of, set_in_order
from dsp.sounds.swaps import NOISE_DB
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
ROWS_AT_ONCE = 1000
NEVER_DB = -1.0
"""Distance of two sounds whose levels keep them out of one set."""


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
class AllAllowed(_Rows):
    """All allowed candidates, too many for a table of distances.

    Distances are computed when needed.
    """

    square: Floats = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "square", np.sum(self.points**2, axis=1))

    def apart(self, members: Sequence[int]) -> Floats:
        """Return distances of shape (n, n_members), as `AllowedField.apart` does."""
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
        """Return some places, and their field: as many of each kind, evenly.

        Returns
        -------
        rows : ndarray of int, shape (n_some,)
            Places in ``index``.
        area : AllowedField
        """
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
    level_db = levels_of(found, rules)[index]
    if np.isfinite(rules.step_db):

        def fits(members: Sequence[int]) -> bool:
            chosen = [int(index[one]) for one in members]
            step_db = largest_step_db(levels_of(found, rules), set_in_order(found, rules, chosen))
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


def allowed_candidates(found: Candidates, rules: SetRules) -> Indices:
    """Return the candidates that keep the rules each alone, in rising order.

    Pinned candidates are always allowed.

    Returns
    -------
    ndarray of int, shape (n_allowed,)
        In rising order.
    """
    level_db = levels_of(found, rules)
    allowed = level_db >= level_db.max() - rules.level_window_db
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
    index = allowed_enough(found, rules)
    cover_db = 0.0
    if len(index) > MOST_EXACT:
        most = MOST_EXACT if len(index) <= MOST_WHOLE else min(MOST_EXACT, MOST_COVER)
        kept, cover_db = thin(found.timbre[index], _kinds(found, rules, index), most)
        index = np.union1d(index[kept], np.array(rules.pinned, np.int64))
        cover_db *= max([1.0, *(weight for _, weight in rules.weights)]) ** 2
    return AllowedField(**_rows_of(found, rules, index), cover_db=cover_db)


def allowed_enough(found: Candidates, rules: SetRules) -> Indices:
    """Return the allowed candidates, enough for the rules.

    Returns
    -------
    ndarray of int, shape (n_allowed,)
        In rising order.

    Raises
    ------
    InputError
        If they are too few.
    """
    check_rules(found, rules)
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


def gather_allowed(found: Candidates, rules: SetRules) -> AllAllowed:
    """Return all allowed candidates, however many.

    Raises
    ------
    InputError
        As for `find_allowed`.
    """
    return AllAllowed(**_rows_of(found, rules, allowed_enough(found, rules)))
