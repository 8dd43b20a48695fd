"""From readings to the faults that explain them, and to the reading that would tell most."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.checking.book import Book, read
from dsp.checking.directions import Direction
from dsp.checking.faults import ADDED, Fault
from dsp.checking.points import Point, noise_of
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
MINUTES = {False: 1.0, True: 2.0}
"""Of a reading by the meter, and of a sweep at a rig that stands calibrated: our own choice."""
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
class NextReading:
    """The reading to take next.

    Attributes
    ----------
    sweep : bool
        Whether it is |Z| at all frequencies rather than the meter.
    gain : float
        Expected information in nats.
    """

    setting: Setting
    sweep: bool
    gain: float


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
) -> Diagnosis:
    """Weigh every fault of a book by readings.

    Parameters
    ----------
    points : sequence of Point
        Each in the book.
    levels : ndarray, shape (n_points,)
        Of what was read, by `level_of`.
    heard : sequence of (str, Setting)
        Words of `WORDS` and where they were heard.
    refit : bool
        Whether the parts' values of the likeliest faults are fitted, so that a sound instrument at the
        edge of its tolerances is not accused.
    curved : float
        As a share, see `CURVED`.
    sweeps : bool
        Whether the next reading may be a sweep: there is a rig.
    """
    where = np.array([book.points.index(point) for point in points], int)
    prior = np.log(np.array([fault.prior for fault in book.faults]))
    words = np.array([weigh_heard(word, setting, book.ear, book.heard) for word, setting in heard])
    words = words.reshape(len(heard), len(book.faults))
    prior = prior + words.sum(axis=0)
    fit = _weigh(book, where, levels, curved)
    evidence = prior + fit.evidence
    told = where if len(where) else np.arange(len(book.points))
    classes = _classes(book, told, evidence, curved, words)
    if refit and len(where) and _accuses(evidence, classes):
        chosen = [group[0] for group in classes[:REFITTED]]
        evidence = _refit(book, prior, evidence, classes, {*chosen, 0}, where, levels, fit.parts)
    leader = int(np.argmax(evidence))
    misfit = _misfit(book, leader, where, levels, fit, refit=refit)
    if refit and misfit > most_misfit(len(where)):  # a value may lie between those of the book
        chosen = [group[0] for group in classes[:REFITTED]] + _valued(book, fit.evidence)
        evidence = _refit(book, prior, evidence, classes, {*chosen, 0}, where, levels, fit.parts, own=True)
        leader = int(np.argmax(evidence))
        misfit = _misfit(book, leader, where, levels, fit, refit=True, own=True)
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
    sure = plan and _is_sure(book, probability, curved, words)
    upcoming = _plan(book, where, probability, fit, curved, sweeps=sweeps) if plan and not sure else None
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
    *,
    own: bool = False,
) -> Floats:
    """Evidence of every fault, shape (n_faults,), with the parts of the chosen fitted.

    A fit may leave far more than straight lines with their wide variances did: the classes that were
    not fitted are put behind whatever came of it. With ``own`` a fault's own value is fitted too.
    """
    fitted = {i: prior[i] + _fit_one(book, i, where, levels, starts[i], own=own)[0] for i in chosen}
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
    book: Book, i: int, where: Integers, levels: Floats, fit: _Fit, *, refit: bool, own: bool = False
) -> float:
    """What a fault leaves of a reading on the mean; with ``own`` its own value is fitted too."""
    if not len(where):
        return 0.0
    along_lines = float(fit.chi2[i]) / len(where)
    if not refit or along_lines < SUSPECT:
        return along_lines
    return _fit_one(book, i, where, levels, fit.parts[i], own=own)[1] / len(where)


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
    slopes = book.slopes[chosen][:, :, where]
    noise = noise_of(book.levels[chosen][:, where], [book.points[i] for i in where])
    return np.asarray(noise**2 + curved**2 * np.sum(slopes**2, axis=1) + LEAST**2)


def _weigh(book: Book, where: Integers, levels: Floats, curved: float) -> _Fit:
    """Evidence of every fault by its straight lines (Woodbury)."""
    everything = np.arange(len(book.faults))
    own = _spread(book, everything, where, curved)
    slopes = book.slopes[:, :, where]
    off = levels - book.levels[:, where]
    scaled = slopes / own[:, None]
    inner = scaled @ np.swapaxes(slopes, 1, 2) + np.eye(slopes.shape[1])
    left = np.asarray(np.linalg.inv(inner), float)
    pull = np.einsum("hdp,hp->hd", scaled, off)
    parts = np.einsum("hde,he->hd", left, pull)
    chi2 = np.sum(off**2 / own, axis=1) - np.sum(pull * parts, axis=1)
    size = np.sum(np.log(own), axis=1) + np.linalg.slogdet(inner)[1]
    return _Fit(-0.5 * (chi2 + size), parts, left, chi2)


def _fit_one(
    book: Book, i: int, where: Integers, levels: Floats, start: Floats, *, own: bool
) -> tuple[float, float]:
    """Evidence of one fault with its parts fitted (Gauss-Newton, Laplace), and what it leaves.

    What it leaves of all readings and what the parts are off add up, in variances. With ``own`` its own
    value is fitted too.
    """
    fault, points = book.faults[i], [book.points[k] for k in where]
    directions = _with_value(fault, book.directions) if own else book.directions
    # The wide step of a fault's own value serves the search alone: variances follow from the usual spread.
    usual = np.array([one.sd / wide.sd for one, wide in zip(book.directions, directions, strict=False)])
    at = np.zeros(len(directions))
    at[: len(start)] = np.clip(start, -3.0, 3.0)
    best, least = -np.inf, np.inf
    for _ in range(2 * ROUNDS if own else ROUNDS):
        table = read(fault, directions, points, at)
        level, slopes = table[0], table[1:]
        spread = REFITTED_CURVED**2 * np.sum((usual[:, None] * slopes[: len(usual)]) ** 2, axis=0)
        variance = noise_of(level, points) ** 2 + spread + LEAST**2
        off = levels - level
        inner = (slopes / variance) @ slopes.T + np.eye(len(at))
        chi2 = float(np.sum(off**2 / variance) + at @ at)
        size = float(np.sum(np.log(variance)) + np.linalg.slogdet(inner)[1])
        best, least = max(best, -0.5 * (chi2 + size)), min(least, chi2)
        at = np.clip(np.linalg.solve(inner, (slopes / variance) @ (off + at @ slopes)), -4.0, 4.0)
    return best, least


def _classes(book: Book, where: Integers, evidence: Floats, curved: float, words: Floats) -> list[list[int]]:
    """Group the faults, the likeliest first: alike in every reading and word, or alike but for one value.

    Words are as likely as `weigh_heard` says, shape (n_words, n_faults).
    """
    order = [int(i) for i in np.argsort(-evidence)]
    sd = np.sqrt(_spread(book, np.arange(len(order)), where, curved))
    levels = book.levels[:, where]
    free = np.ones(len(order), bool)
    found = []
    for i in order:
        if not free[i]:
            continue
        near = np.all(np.abs(levels - levels[i]) < ALIKE * sd[i], axis=1)
        near &= np.all(words == words[:, i : i + 1], axis=0)
        first = book.faults[i]
        if first.kind in ("cold", "leak"):
            same = np.array([f.kind == first.kind and f.place == first.place for f in book.faults])
            near |= same
        members = [k for k in order if free[k] and near[k]]
        free[members] = False
        found.append([i, *(k for k in members if k != i)])
    return found


def would_change_nothing(book: Book) -> tuple[Fault, ...]:
    """Return the faults that no reading of the book shows."""
    every = np.arange(len(book.points))
    sd = np.sqrt(_spread(book, np.array([0]), every, CURVED))[0]
    near = np.all(np.abs(book.levels - book.levels[0]) < ALIKE * sd, axis=1)
    return tuple(fault for fault, same in zip(book.faults[1:], near[1:], strict=True) if same)


def would_be_harmless(book: Book) -> tuple[Fault, ...]:
    """Return those of `would_change_nothing` that are not heard either."""
    unseen = {fault.text for fault in would_change_nothing(book)}
    moved = np.abs(book.heard - book.heard[0]).max(axis=(1, 2))
    return tuple(
        fault
        for fault, db in zip(book.faults, moved, strict=True)
        if fault.text in unseen and db < UNHEARD_DB
    )


def _is_sure(book: Book, probability: Floats, curved: float, words: Floats) -> bool:
    """Whether faults that no reading tells apart are nearly sure."""
    every = np.arange(len(book.points))
    told = _classes(book, every, np.log(probability + 1e-300), curved, words)
    return bool(max(probability[group].sum() for group in told[:3]) >= SURE)


def _plan(
    book: Book, where: Integers, probability: Floats, fit: _Fit, curved: float, *, sweeps: bool
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
    read_already = {int(i) for i in where}
    slopes = book.slopes[chosen]
    middle = book.levels[chosen] + np.einsum("hd,hdp->hp", fit.parts[chosen], slopes)
    own = _spread(book, chosen, every, curved)
    variance = own + np.einsum("hdp,hde,hep->hp", slopes, fit.left[chosen], slopes)
    apart = (middle[:, None] - middle[None]) ** 2 / ((variance[:, None] + variance[None]) / 2)
    options: dict[tuple[int, bool], list[int]] = {}
    settings: list[Setting] = []
    for i, point in enumerate(book.points):
        if point.setting not in settings:
            settings.append(point.setting)
        options.setdefault((settings.index(point.setting), point.frequency_hz > 0.0), []).append(i)
    best: tuple[float, NextReading] | None = None
    for (at, sweep), indexes in options.items():
        if set(indexes) & read_already or (sweep and not sweeps):
            continue
        distance = apart[:, :, indexes].max(axis=-1)
        gain = float(-np.sum(weight * np.log(np.exp(-distance / 8) @ weight)))
        rate = gain / MINUTES[sweep]
        if best is None or rate > best[0]:
            best = rate, NextReading(settings[at], sweep, gain)
    return None if best is None or best[1].gain < LEAST_GAIN else best[1]
