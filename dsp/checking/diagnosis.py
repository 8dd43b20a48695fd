"""From readings to the faults that explain them, and to the reading that would tell most."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.checking.book import Book, read
from dsp.checking.directions import Direction
from dsp.checking.exciter import EXCITER, LEVEL_SD, noise_of_all
from dsp.checking.faults import ADDED, Fault
from dsp.checking.options import NextReading, Option, find_options
from dsp.checking.points import Point
from dsp.checking.signs import SURE_SIGN, sign_groups, turn_signs, without_level
from dsp.checking.symptoms import weigh_heard
from dsp.wiring.model import Setting

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

CURVED = 0.35
"""Of what the spreads move a reading by, along straight lines: how far the curve may leave the line."""
REFITTED_CURVED = 0.05
"""The same once the parts' values are fitted."""
ALIKE = 1.5
"""Standard deviations: faults whose readings differ by less everywhere are one class."""
REFITTED = 5
"""Classes, besides no fault, whose parts' values are fitted."""
ROUNDS = 3
DOUBT = 12.0
"""Nats by which a fault must lead before a sound instrument is ruled out without a fit."""
SURE = 0.95
"""Probability of a class at which one stops reading."""
MOST_PLANNED = 40
"""Faults that a plan looks at."""
NEGLIGIBLE = 1e-9
"""Probability of a fault that no plan needs to look at."""
LEAST_GAIN = 0.05
"""Nats that a reading must promise."""
LEAST = 1e-3
VALUED = 12
"""Faults whose own values are fitted where none of the book's explains the readings."""
BEHIND = 30.0
"""Nats by which classes that were not fitted stand behind the last that was."""
MISFIT = 3.0
"""Of a reading, in variances: no fault that explains the readings leaves more on the mean."""
CHANCE = 1e-3
"""How often few readings of the right fault may leave more: it raises `MISFIT` for fewer than ten."""
SUSPECT = 1.0
"""Misfit along straight lines, whose variances are wide, beyond which the likeliest fault is fitted."""
UNHEARD_DB = 0.5
"""Bass, middle, treble and hum that a fault moves by less are not heard: our own choice."""
VALUE_SD = 0.8
"""Of the logarithm of a wrong value: the values of `COLD_OHM`, `LEAK_OHM` and `WRONG` lie about twice as far
apart, so that one between two of them is explained."""


@dataclass(frozen=True)
class FaultClass:
    """Faults that the readings cannot tell apart.

    Attributes
    ----------
    faults : tuple of Fault
        The likeliest first.
    probability : float
        Of all of them together, 0 to 1.
    """

    faults: tuple[Fault, ...]
    probability: float

    @property
    def sound(self) -> bool:
        """Whether a sound instrument is among them."""
        return any(fault.kind == "sound" for fault in self.faults)


@dataclass(frozen=True)
class Diagnosis:
    """What readings say.

    Attributes
    ----------
    probability : ndarray, shape (n_faults,)
        In the book's order.
    classes : tuple of FaultClass
        The likeliest first.
    misfit : float
        What the likeliest fault leaves of a reading, in variances on the mean, its parts' values fitted
        and, where the book's do not do, its own; near 1 or below where it explains the readings. 0
        without readings.
    unexplained : bool
        Whether that is too much for any single fault.
    clear : bool
        Whether nothing more need be read: faults that no reading tells apart are nearly sure.
    """

    probability: Floats
    classes: tuple[FaultClass, ...]
    next_reading: NextReading | None
    misfit: float
    unexplained: bool
    clear: bool


@dataclass(frozen=True)
class _Fit:
    """Gaussian evidence of every fault, and what it says of the parts.

    Attributes
    ----------
    evidence : ndarray, shape (n_faults,)
    parts : ndarray, shape (n_faults, n_directions)
    left : ndarray, shape (n_faults, n_directions, n_directions)
        Covariance of the parts' values, in standard deviations.
    chi2 : ndarray, shape (n_faults,)
        What is left of all readings and what the parts are off, in variances.
    """

    evidence: Floats
    parts: Floats
    left: Floats
    chi2: Floats


def diagnose(
    book: Book,
    points: Sequence[Point],
    levels: Floats,
    heard: Sequence[tuple[str, Setting]] = (),
    *,
    refit: bool = True,
    curved: float = CURVED,
    plan: bool = True,
    sweeps: bool = True,
    exciter: bool = False,
    sides_kept: bool = True,
) -> Diagnosis:
    """Weigh every fault of a book by readings.

    Parameters
    ----------
    points : sequence of Point
        Each in the book.
    levels : ndarray, shape (n_points,)
        Of what was read, by `level_of`, `signed_level`; of a pulse 1 or -1.
    heard : sequence of (str, Setting)
        Words of `WORDS` and where they were heard.
    refit : bool
        Whether the parts' values of the likeliest faults are fitted, so that a sound instrument at the
        edge of its tolerances is not accused.
    curved : float
        As a share, see `CURVED`.
    sweeps : bool
        Whether the next reading may be a sweep: there is a rig.
    exciter : bool
        Whether it may be one by an exciter or a blade.
    sides_kept : bool
        Whether the exciter lay on every coil with the same side down, see `sign_groups`.
    """
    where = np.array([book.points.index(point) for point in points], int)
    prior = np.log(np.array([fault.prior for fault in book.faults]))
    words = np.array([weigh_heard(word, setting, book.ear, book.heard) for word, setting in heard])
    words = words.reshape(len(heard), len(book.faults))
    prior = prior + words.sum(axis=0)
    groups = sign_groups(points, sides_kept=sides_kept)
    fit = _weigh(book, where, levels, curved, groups)
    evidence = prior + fit.evidence
    allowed = _allowed(book, where, exciter=exciter)
    classes = _classes(book, where if len(where) else allowed, evidence, curved, words, sides_kept)
    if refit and len(where) and _accuses(evidence, classes):
        chosen = [group[0] for group in classes[:REFITTED]]
        evidence = _refit(book, prior, evidence, classes, {*chosen, 0}, where, levels, fit.parts, groups)
    leader = int(np.argmax(evidence))
    misfit = _misfit(book, leader, where, levels, fit, groups, refit=refit)
    if refit and misfit > most_misfit(len(where)):  # a value may lie between those of the book
        chosen = [group[0] for group in classes[:REFITTED]] + _valued(book, fit.evidence)
        evidence = _refit(
            book, prior, evidence, classes, {*chosen, 0}, where, levels, fit.parts, groups, own=True
        )
        leader = int(np.argmax(evidence))
        misfit = _misfit(book, leader, where, levels, fit, groups, refit=True, own=True)
    probability = np.exp(evidence - evidence.max())
    probability /= probability.sum()
    order = sorted(classes, key=lambda group: -probability[group].sum())
    found = tuple(
        FaultClass(
            tuple(book.faults[i] for i in sorted(group, key=lambda i: -probability[i])),
            float(probability[group].sum()),
        )
        for group in order
    )
    sure = plan and _is_sure(book, allowed, probability, curved, words, sides_kept)
    upcoming = None
    if plan and not sure:
        options = find_options(book, where, allowed, sweeps=sweeps)
        upcoming = _plan(book, where, levels, probability, fit, curved, options, sides_kept)
    unexplained = misfit > most_misfit(len(where))
    return Diagnosis(probability, found, upcoming, misfit, unexplained, sure and not unexplained)


def most_misfit(count: int) -> float:
    """Return what the right fault leaves of one of ``count`` readings at most."""
    from scipy.special import chdtri

    return max(MISFIT, float(chdtri(count, CHANCE)) / count) if count else MISFIT


def _refit(
    book: Book,
    prior: Floats,
    evidence: Floats,
    classes: list[list[int]],
    chosen: Set[int],
    where: Integers,
    levels: Floats,
    starts: Floats,
    groups: Integers | None = None,
    *,
    own: bool = False,
) -> Floats:
    """Evidence of every fault, shape (n_faults,), with the parts of the chosen fitted.

    A fit may leave far more than straight lines with their wide variances did: the classes that were
    not fitted are put behind whatever came of it. With ``own`` a fault's own value is fitted too.
    """
    fitted = {i: prior[i] + _fit_one(book, i, where, levels, starts[i], groups, own=own)[0] for i in chosen}
    for group in classes:
        if group[0] not in chosen:
            continue
        # the others of a class read the same: they follow their first
        first = fitted[group[0]] - prior[group[0]]
        for i in group[1:]:
            fitted.setdefault(i, prior[i] + first)
    found = np.asarray(min(fitted.values()) - BEHIND + (evidence - evidence.max()))
    for i, one in fitted.items():
        found[i] = one
    return found


def _misfit(
    book: Book,
    i: int,
    where: Integers,
    levels: Floats,
    fit: _Fit,
    groups: Integers,
    *,
    refit: bool,
    own: bool = False,
) -> float:
    """What a fault leaves of a reading on the mean; with ``own`` its own value is fitted too."""
    if not len(where):
        return 0.0
    along_lines = float(fit.chi2[i]) / len(where)
    if not refit or along_lines < SUSPECT:
        return along_lines
    return _fit_one(book, i, where, levels, fit.parts[i], groups, own=own)[1] / len(where)


def _valued(book: Book, evidence: Floats) -> list[int]:
    """Return the likeliest faults whose own values the book has but a few of, one of each place."""
    found: dict[tuple[str, object], int] = {}
    for i in map(int, np.argsort(-evidence)):
        one = book.faults[i]
        if one.kind in ("cold", "leak", "value"):
            found.setdefault((one.kind, one.terminals if one.kind == "value" else one.place), i)
    return list(found.values())[:VALUED]


def _with_value(fault: Fault, directions: Sequence[Direction]) -> tuple[Direction, ...]:
    """Return the directions with that of the fault's own value: it may lie between the book's."""
    if fault.kind in ("cold", "leak"):
        return (*directions, Direction(ADDED, "resistance", "resistance_ohm", VALUE_SD))
    if fault.kind == "value":
        part = fault.terminals[0][0]
        return tuple(
            replace(one, sd=VALUE_SD)
            if one.part == part and one.attribute in ("resistance_ohm", "capacitance_f")
            else one
            for one in directions
        )
    return tuple(directions)


def _accuses(evidence: Floats, classes: list[list[int]]) -> bool:
    """Whether a fault leads while a sound instrument may still explain the readings."""
    return 0 not in classes[0] and float(evidence.max() - evidence[0]) < DOUBT


def _spread(book: Book, chosen: Integers, where: Integers, curved: float) -> Floats:
    """Variances that no part's value explains, shape (n_chosen, n_where)."""
    here = np.ix_(chosen, where)
    noise = noise_of_all(book.levels[here], [book.points[i] for i in where])
    return np.asarray(noise**2 + curved**2 * book.bent[here] + LEAST**2)


def _parts(book: Book) -> list[int]:
    """Directions whose lines bend; an exciter's level moves logarithms straight."""
    return [i for i, one in enumerate(book.directions) if one.part != EXCITER]


def _weigh(
    book: Book, where: Integers, levels: Floats, curved: float, groups: Integers | None = None
) -> _Fit:
    """Evidence of every fault by its straight lines (Woodbury)."""
    everything = np.arange(len(book.faults))
    own = _spread(book, everything, where, curved)
    slopes = book.slopes[:, :, where]
    moved = np.any(slopes, axis=(0, 2))
    slopes = slopes if moved.all() else slopes[:, moved]
    off = levels - book.levels[:, where]
    if groups is not None and len(where):
        off = turn_signs(book.levels[:, where], levels, groups) * levels - book.levels[:, where]
    scaled = slopes / own[:, None]
    inner = scaled @ np.swapaxes(slopes, 1, 2) + np.eye(slopes.shape[1])
    inverse = np.asarray(np.linalg.inv(inner), float)
    pull = np.einsum("hdp,hp->hd", scaled, off)
    told = np.einsum("hde,he->hd", inverse, pull)
    chi2 = np.sum(off**2 / own, axis=1) - np.sum(pull * told, axis=1)
    triangle = np.diagonal(np.linalg.cholesky(inner), axis1=1, axis2=2)
    size = np.sum(np.log(own), axis=1) + 2.0 * np.sum(np.log(triangle), axis=1)
    parts = np.zeros((len(book.faults), len(moved)))
    parts[:, moved] = told
    left = np.tile(np.eye(len(moved)), (len(book.faults), 1, 1))
    at = np.flatnonzero(moved)
    left[:, at[:, None], at] = inverse
    return _Fit(-0.5 * (chi2 + size), parts, left, chi2)


def _fit_one(
    book: Book,
    i: int,
    where: Integers,
    levels: Floats,
    start: Floats,
    groups: Integers | None = None,
    *,
    own: bool,
) -> tuple[float, float]:
    """Evidence of one fault with its parts fitted (Gauss-Newton, Laplace), and what it leaves.

    What it leaves of all readings and what the parts are off add up, in variances. With ``own`` its own
    value is fitted too.
    """
    fault, points = book.faults[i], [book.points[k] for k in where]
    directions = _with_value(fault, book.directions) if own else book.directions
    # The wide step of a fault's own value serves the search alone: variances follow from the usual spread.
    usual = np.array([one.sd / wide.sd for one, wide in zip(book.directions, directions, strict=False)])
    usual[[one.part == EXCITER for one in book.directions]] = 0.0
    at = np.zeros(len(directions))
    at[: len(start)] = np.clip(start, -3.0, 3.0)
    best, least = -np.inf, np.inf
    for _ in range(2 * ROUNDS if own else ROUNDS):
        table = read(fault, directions, points, at, book.rig)
        level, slopes = table[0], table[1:]
        spread = REFITTED_CURVED**2 * np.sum((usual[:, None] * slopes[: len(usual)]) ** 2, axis=0)
        variance = noise_of_all(level, points) ** 2 + spread + LEAST**2
        turned = levels if groups is None else turn_signs(level[None], levels, groups)[0] * levels
        off = turned - level
        inner = (slopes / variance) @ slopes.T + np.eye(len(at))
        chi2 = float(np.sum(off**2 / variance) + at @ at)
        size = float(np.sum(np.log(variance)) + np.linalg.slogdet(inner)[1])
        best, least = max(best, -0.5 * (chi2 + size)), min(least, chi2)
        at = np.clip(np.linalg.solve(inner, (slopes / variance) @ (off + at @ slopes)), -4.0, 4.0)
    return best, least


def _near(
    book: Book, i: int, where: Integers, sd: Floats, levels: Floats, points: list[Point], groups: Integers
) -> NDArray[np.bool_]:
    """Which faults read as one does, shape (n_faults,): within ``sd`` and what nobody knows of an exciter.

    Levels are those of all faults at ``where``, shape (n_faults, n_where).
    """
    plain = groups == SURE_SIGN
    near = np.asarray(np.all(np.abs(levels[:, plain] - levels[i, plain]) < ALIKE * sd[plain], axis=1))
    if not plain.all() and near.sum() > 1:
        some = levels[near]
        off = turn_signs(some, levels[i], groups) * some - levels[i]
        off = without_level(off, np.broadcast_to(levels[i], off.shape), points, ALIKE * LEVEL_SD)
        near[near] = np.all(np.abs(off) < ALIKE * sd, axis=1)
    return near


def _classes(
    book: Book,
    where: Integers,
    evidence: Floats,
    curved: float,
    words: Floats,
    sides_kept: bool,
    most: int | None = None,
) -> list[list[int]]:
    """Group the faults, the likeliest first: alike in every reading and word, or alike but for one value.

    Words are as likely as `weigh_heard` says, shape (n_words, n_faults). ``most`` groups are enough.
    """
    order = [int(i) for i in np.argsort(-evidence)]
    sd = np.sqrt(_spread(book, np.arange(len(order)), where, curved))
    levels, points = book.levels[:, where], [book.points[i] for i in where]
    groups = sign_groups(points, sides_kept=sides_kept)
    free = np.ones(len(order), bool)
    found: list[list[int]] = []
    for i in order:
        if not free[i]:
            continue
        if len(found) == most:
            break
        near = _near(book, i, where, sd[i], levels, points, groups)
        near &= np.all(words == words[:, i : i + 1], axis=0)
        first = book.faults[i]
        if first.kind in ("cold", "leak"):
            same = np.array([f.kind == first.kind and f.place == first.place for f in book.faults])
            near |= same
        members = [k for k in order if free[k] and near[k]]
        free[members] = False
        found.append([i, *(k for k in members if k != i)])
    return found


def would_change_nothing(book: Book, *, exciter: bool = False, sides_kept: bool = True) -> tuple[Fault, ...]:
    """Return the faults that no reading of the book shows.

    Parameters
    ----------
    exciter : bool
        Whether those of an exciter and a blade count.
    sides_kept : bool
        Whether the exciter lies on every coil with the same side down, see `sign_groups`.
    """
    every = np.arange(len(book.points)) if exciter else book.usual
    sd = np.sqrt(_spread(book, np.array([0]), every, CURVED))[0]
    points = [book.points[i] for i in every]
    groups = sign_groups(points, sides_kept=sides_kept)
    near = _near(book, 0, every, sd, book.levels[:, every], points, groups)
    return tuple(fault for fault, same in zip(book.faults[1:], near[1:], strict=True) if same)


def told_by_exciter(book: Book, *, sides_kept: bool = True) -> tuple[Fault, ...]:
    """Return the faults that an exciter and a blade alone show."""
    left = {fault.text for fault in would_change_nothing(book, exciter=True, sides_kept=sides_kept)}
    return tuple(fault for fault in would_change_nothing(book) if fault.text not in left)


def would_be_harmless(book: Book, *, exciter: bool = False, sides_kept: bool = True) -> tuple[Fault, ...]:
    """Return those of `would_change_nothing` that are not heard either."""
    unseen = {fault.text for fault in would_change_nothing(book, exciter=exciter, sides_kept=sides_kept)}
    moved = np.abs(book.heard - book.heard[0]).max(axis=(1, 2))
    return tuple(
        fault
        for fault, db in zip(book.faults, moved, strict=True)
        if fault.text in unseen and db < UNHEARD_DB
    )


def _allowed(book: Book, where: Integers, *, exciter: bool) -> Integers:
    """Points that may be read, or were."""
    return np.arange(len(book.points)) if exciter else np.union1d(book.usual, where).astype(int)


def _is_sure(
    book: Book, allowed: Integers, probability: Floats, curved: float, words: Floats, sides_kept: bool
) -> bool:
    """Whether faults that no reading tells apart are nearly sure."""
    told = _classes(book, allowed, np.log(probability + 1e-300), curved, words, sides_kept, most=3)
    return bool(max(probability[group].sum() for group in told) >= SURE)


def _plan(
    book: Book,
    where: Integers,
    levels: Floats,
    probability: Floats,
    fit: _Fit,
    curved: float,
    options: Sequence[Option],
    sides_kept: bool,
) -> NextReading | None:
    """The reading of most expected information a minute, by the pairwise bound of a mixture.

    References
    ----------
    A. Kolchinsky, B. Tracey, "Estimating mixture entropy with pairwise distances", Entropy 19 (2017)
    361 (from memory): with Bhattacharyya distances, of Gaussians of one width d^2/8.
    """
    every = np.arange(len(book.points))
    chosen = np.argsort(-probability)[:MOST_PLANNED]
    chosen = chosen[probability[chosen] > NEGLIGIBLE]
    weight = probability[chosen] / probability[chosen].sum()
    slopes, bent = book.slopes[chosen], _parts(book)
    middle = book.levels[chosen] + np.einsum("hd,hdp->hp", fit.parts[chosen], slopes)
    own = _spread(book, chosen, every, curved)
    slopes, left = slopes[:, bent], fit.left[chosen][:, bent][:, :, bent]
    variance = own + np.einsum("hdp,hde,hep->hp", slopes, left, slopes)
    groups = sign_groups(book.points, sides_kept=sides_kept)
    known = np.isin(groups, groups[where]) | (groups == SURE_SIGN)
    for group in np.unique(groups[where]):
        here, read = where[groups[where] == group], levels[groups[where] == group]
        if group != SURE_SIGN:
            middle[:, groups == group] *= np.where(book.levels[chosen][:, here] @ read < 0, -1.0, 1.0)[
                :, None
            ]
    best: tuple[float, NextReading] | None = None
    for option in options:
        distance = np.zeros((len(chosen), len(chosen)))
        for group in np.unique(groups[option.indexes]):
            at = [i for i in option.indexes if groups[i] == group]
            of = middle[:, at], variance[:, at], [book.points[i] for i in at]
            apart = _apart(*of, turned=1.0)
            if not known[at[0]]:
                apart = np.minimum(apart, _apart(*of, turned=-1.0))
            distance = np.maximum(distance, apart)
        gain = float(-np.sum(weight * np.log(np.exp(-distance / 8) @ weight)))
        rate = gain / option.minutes
        if best is None or rate > best[0]:
            best = rate, replace(option.reading, gain=gain)
    return None if best is None or best[1].gain < LEAST_GAIN else best[1]


def _apart(middle: Floats, variance: Floats, points: Sequence[Point], *, turned: float) -> Floats:
    """How far faults are apart in the reading that tells them best, in variances, shape (n, n).

    Middles and variances of each at some points, shape (n, n_points); ``turned`` is the sign of one of a
    pair against the other.
    """
    off = turned * middle[None] - middle[:, None]
    if any(point.kind == "exciter" for point in points):
        off = without_level(off, np.broadcast_to(middle[:, None], off.shape), points, ALIKE * LEVEL_SD)
    return np.asarray((off**2 / ((variance[:, None] + variance[None]) / 2)).max(axis=-1))
