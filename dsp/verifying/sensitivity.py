"""Find how sensitive coils are, relative to one another, from strings plucked in several positions.

Positions are compared that hear the same string or chord: what hand, string and gain have in common is
left free. What hands change from recording to recording has the spread of `dsp.verifying.verdict`.
So a coil is compared with another; how loud one coil hears two strings is not told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError, Problem
from dsp.verifying.coil_levels import CoilLevels
from dsp.verifying.strums import Strums
from dsp.verifying.verdict import (
    DEEPEST_DB,
    FEWEST_BANDS,
    MOST_MISFIT,
    OVER_NOISE_DB,
    WIDE,
    Hands,
    spread_of_hands,
)

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEVEL_SD_DB = 8.0
"""What is believed of a coil's sensitivity before anything is heard: little (our own choice)."""
BALANCE_SD_DB = 3.0
"""The same of a string against the coil's others (our own choice)."""
LOOSE_DB = 6.0
"""An interval that reaches farther to either side tells nothing."""
SILENT_SHARE = 0.8
"""A balance whose standard deviation stays so near to what was believed before was not told."""
OWN_SD_DB = 0.5
"""Standard deviation added to every value: what Gaussians of levels leave out (our own choice)."""
TOLD = 0.95
"""The command states a polarity from this probability on."""
MOST_TURNED = 4
"""Coils whose signs are tried in every combination; of more, each alone."""
ROUNDS, STEPS = 2, 8
MOVES_DB = (-8.0, -4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0, 8.0)
"""Tried of two coils on one string from where a fit came to rest."""
MOST_MOVED, FOLLOWED = 6, 3
"""Times that a fit is moved on, and choices of signs for which this is done more than once."""
BETTER = 0.5
"""Log evidence that a move has to gain."""
HALVINGS = 6
LONGEST_STEP_DB, STILL_DB = 6.0, 0.01


@dataclass(frozen=True)
class Found:
    """A value in dB that is added to the wiring's own.

    Attributes
    ----------
    db, within_db : float
        Value, and half of the interval that holds 95 %.
    told : bool
        Whether the recordings tell it.
    """

    db: float
    within_db: float
    told: bool


@dataclass(frozen=True)
class CoilFound:
    """One coil against the reference.

    Attributes
    ----------
    level : Found
        Mean over the strings heard.
    balance : tuple of Found
        Of each string heard against that mean.
    reason : str
        Why the level is not told; empty if it is.
    """

    coil: str
    level: Found
    balance: tuple[Found, ...]
    reason: str


@dataclass(frozen=True)
class Polarity:
    """Two coils that sound together in some recording.

    Attributes
    ----------
    recording : int
        The first such recording.
    in_phase : bool
        What the wiring says of them there.
    as_wired : float
        Probability that it is so, 0 to 1.
    told : bool
        Whether the recordings tell it.
    """

    first: str
    second: str
    recording: int
    in_phase: bool
    as_wired: float
    told: bool


@dataclass(frozen=True)
class Sensitivities:
    """What the recordings tell of all coils.

    Attributes
    ----------
    coils : tuple of CoilFound
        All but the reference.
    lonely : tuple of int
        Recordings whose string no other position heard: nothing compares with them.
    misfit : float
        Mean square of heard less predicted, in standard deviations; about 1 if all is sound.
    fits : bool
        Whether any sensitivities explain what was heard; if none do, every value is left open.
    """

    reference: str
    coils: tuple[CoilFound, ...]
    polarities: tuple[Polarity, ...]
    lonely: tuple[int, ...]
    misfit: float
    fits: bool


@dataclass(frozen=True)
class _Heard:
    """Levels of all recordings that compare with others.

    Attributes
    ----------
    used : ndarray of bool, shape (n_recordings, n_bands)
    levels_db : ndarray, shape (n_recordings, n_bands)
    groups : ndarray of int, shape (n_recordings,)
    """

    strums: tuple[Strums, ...]
    used: Flags
    levels_db: Floats
    groups: NDArray[np.int64]

    def of_group(self, group: int) -> _Heard:
        """Return the recordings of one group."""
        rows = np.flatnonzero(self.groups == group)
        strums = tuple(self.strums[i] for i in rows)
        return _Heard(strums, self.used[rows], self.levels_db[rows], self.groups[rows])


@dataclass(frozen=True)
class _Fit:
    """The best gains for one choice of signs.

    Attributes
    ----------
    values : ndarray, shape (n_values,), dB
    covariance : ndarray, shape (n_values, n_values), dB²
    """

    signs: tuple[int, ...]
    values: Floats
    covariance: Floats
    log_evidence: float
    misfit: float


def choose_reference(levels: CoilLevels) -> str:
    """Return the coil that sounds in most recordings, the first of equals."""
    counts = levels.sounds[levels.points].sum(axis=0)
    return levels.coils[int(np.argmax(counts))]


def find_sensitivities(
    levels: CoilLevels,
    strums: Sequence[Strums],
    names: Sequence[str],
    *,
    reference: str | None = None,
    hands: Hands | None = None,
) -> Sensitivities:
    """Find the coils' sensitivities against the reference.

    Parameters
    ----------
    strums : sequence of Strums
        One for each recording of the prediction.
    names : sequence of str
        What errors call the recordings.
    reference : str, optional
        A coil that sounds; `choose_reference` unless given.

    Raises
    ------
    InputError
        If nothing is heard in a recording, too few bands stand over its noise, no string was heard in
        two positions, or the reference sounds in no recording.
    """
    reference = reference or choose_reference(levels)
    at = levels.coils.index(reference)
    if not levels.sounds[levels.points][:, at].any():
        raise InputError("reference", f"{reference}, which sounds in no recording", "a coil that sounds")
    heard, lonely = _heard(levels, strums, names)
    free = [k for k in range(len(levels.coils)) if k != at]
    chosen = hands or Hands()
    fits = _fit_all(levels, heard, free, chosen)
    weights = np.exp([one.log_evidence - max(fit.log_evidence for fit in fits) for one in fits])
    weights /= weights.sum()
    mean = sum(w * one.values for w, one in zip(weights, fits, strict=True))
    spread = sum(
        w * (one.covariance + np.outer(one.values - mean, one.values - mean))
        for w, one in zip(weights, fits, strict=True)
    )
    likeliest = fits[int(np.argmax(weights))]
    good = likeliest.misfit <= MOST_MISFIT
    found = _coils(levels, free, np.asarray(mean), np.asarray(spread), at, good)
    signs = np.ones((len(fits), len(levels.coils)))
    signs[:, free] = [one.signs for one in fits]
    polarities = _polarities(levels, signs, weights, good)
    return Sensitivities(reference, found, polarities, lonely, likeliest.misfit, good)


def _heard(
    levels: CoilLevels, strums: Sequence[Strums], names: Sequence[str]
) -> tuple[_Heard, tuple[int, ...]]:
    """Choose the bands that count: heard over the noise in two points of one group."""
    problems = [
        Problem(name, "no pluck over the noise", "strings plucked in every recording")
        for name, one in zip(names, strums, strict=True)
        if one.silent
    ]
    if problems:
        raise InputError.of(problems)
    groups = levels.groups[levels.points]
    mean = np.array([one.levels_db.mean(axis=0) for one in strums])
    noise = np.array([one.noise_db for one in strums])
    used = (mean > noise + OVER_NOISE_DB) & (mean > mean.max(axis=1, keepdims=True) - DEEPEST_DB)
    for name, count in zip(names, used.sum(axis=1), strict=True):
        if count < FEWEST_BANDS:
            got = f"{count} bands stand {OVER_NOISE_DB:g} dB over its noise"
            hint = "start with a second of damped strings, turn away from hum, pluck harder"
            problems.append(Problem(name, got, f"{FEWEST_BANDS} or more of {used.shape[1]}", hint))
    if problems:
        raise InputError.of(problems)
    for group in set(groups.tolist()):
        rows = groups == group
        alone = len(set(levels.points[rows].tolist())) < 2
        used[rows] &= False if alone else used[rows].sum(axis=0) >= 2
    lonely = tuple(int(i) for i in np.flatnonzero(~used.any(axis=1)))
    if len(lonely) == len(names):
        raise InputError(
            "recordings", "no string or chord in two positions", "each in two positions or more",
            "positions are compared: pluck the same strings in each",
        )  # fmt: skip
    return _Heard(tuple(strums), used, mean, groups), lonely


def _choices(levels: CoilLevels, free: Sequence[int]) -> list[tuple[int, ...]]:
    """Return signs of the free coils to try: those of coils that never sound with others stay."""
    together = levels.sounds[levels.sounds.sum(axis=1) > 1].any(axis=0)
    open_ones = [i for i, k in enumerate(free) if together[k]]
    if len(open_ones) <= MOST_TURNED:
        turned = list(product((1, -1), repeat=len(open_ones)))
    else:
        turned = [
            tuple(-1 if i == k else 1 for i in range(len(open_ones))) for k in range(-1, len(open_ones))
        ]
    found = []
    for row in turned:
        signs = [1] * len(free)
        for i, sign in zip(open_ones, row, strict=True):
            signs[i] = sign
        found.append(tuple(signs))
    return found


def _fit_all(levels: CoilLevels, heard: _Heard, free: Sequence[int], hands: Hands) -> list[_Fit]:
    """Fit every choice of signs, and move on from where a fit rests in a valley.

    Two coils that nearly cancel make such valleys, for each string its own.
    """

    def moved(one: _Fit) -> _Fit:
        start = _move(levels, heard, free, one, hands)
        if start is one.values:
            return one
        return max(one, _fit(levels, heard, free, one.signs, hands, start), key=lambda fit: fit.log_evidence)

    rested = [_fit(levels, heard, free, signs, hands) for signs in _choices(levels, free)]
    fits = [moved(one) for one in rested]
    for i in sorted(range(len(fits)), key=lambda i: -fits[i].log_evidence)[:FOLLOWED]:
        before = rested[i]
        for _ in range(MOST_MOVED):
            if fits[i].log_evidence < before.log_evidence + BETTER:
                break
            before, fits[i] = fits[i], moved(fits[i])
    return fits


def _fit(
    levels: CoilLevels,
    heard: _Heard,
    free: Sequence[int],
    signs: tuple[int, ...],
    hands: Hands,
    start: Floats | None = None,
) -> _Fit:
    """Fit gains by Gauss-Newton; what parts and hands add follows the gains, once a round.

    Parameters
    ----------
    start : ndarray, shape (n_values,), dB, optional
        Equal coils unless given.
    """
    n_strings = len(levels.strings)
    flat = heard.used.ravel()
    prior = _prior(levels, free)
    values = np.zeros(len(free) * n_strings) if start is None else start
    for _ in range(ROUNDS):
        usual, white = _spread_at(levels, heard, _gains(levels, free, signs, values), hands)
        values, away, rows = _descend(levels, heard, free, signs, values, white, usual, prior)
    square = float(away @ away)
    precision = rows.T @ rows + prior
    log_size = -2.0 * float(np.log(np.diag(white)).sum())
    evidence = square + float(values @ prior @ values) + np.linalg.slogdet(precision)[1] + log_size
    degrees = max(int(flat.sum()) - int(sum(heard.used[heard.groups == g].any(axis=0).sum()
                                            for g in set(heard.groups.tolist()))), 1)  # fmt: skip
    return _Fit(signs, values, np.asarray(np.linalg.inv(precision)), -0.5 * float(evidence), square / degrees)


def _prior(levels: CoilLevels, free: Sequence[int]) -> Floats:
    """Precision of all gains before anything is heard, shape (n_values, n_values), dB⁻²."""
    return np.asarray(np.linalg.inv(np.kron(np.eye(len(free)), _believed(len(levels.strings)))))


def _spread_at(levels: CoilLevels, heard: _Heard, gains: Floats, hands: Hands) -> tuple[Floats, Floats]:
    """Return what recordings differ by at some gains.

    Returns
    -------
    usual : ndarray, shape (n_points, n_bands), dB
        Mean level of strums less the level of their mean: recordings too are averaged as levels.
    white : ndarray, shape (n_used, n_used)
        Makes levels that count into standard deviations.
    """
    usual, played = levels.levels(gains)
    covariance = _covariance(levels, heard, played, levels.drawn_db(gains), hands)
    return usual - levels.slopes(gains)[0], np.linalg.inv(np.linalg.cholesky(covariance))


def _move(levels: CoilLevels, heard: _Heard, free: Sequence[int], fit: _Fit, hands: Hands) -> Floats:
    """Move two coils on one string at a time to where that string is explained best.

    Returns
    -------
    ndarray, shape (n_values,), dB
    """
    values = fit.values
    prior = _prior(levels, free)
    for group in set(heard.groups[heard.used.any(axis=1)].tolist()):
        part, own = levels.of_group(group), heard.of_group(group)
        values = _move_in_group(part, own, free, replace(fit, values=values), hands, prior)
    return values


def _move_in_group(
    part: CoilLevels, own: _Heard, free: Sequence[int], fit: _Fit, hands: Hands, prior: Floats
) -> Floats:
    """Move the gains of the strings that one group hears."""
    n_strings, flat, values = len(part.strings), own.used.ravel(), fit.values
    usual, white = _spread_at(part, own, _gains(part, free, fit.signs, values), hands)

    def cost(at: Floats) -> float:
        predicted = part.slopes(_gains(part, free, fit.signs, at))[0] + usual
        away = white @ _away(part, own, predicted)[flat]
        return float(away @ away + at @ prior @ at)

    least = cost(values)
    both = min(len(free), 2)
    for string in np.flatnonzero(part.forms.any(axis=(0, 1, 3, 4, 5))):
        for pair in combinations(range(len(free)), both):
            places = [i * n_strings + int(string) for i in pair]
            from_here = values
            for moves in product(MOVES_DB, repeat=len(pair)):
                tried = from_here.copy()
                tried[places] += moves
                found = cost(tried)
                if found < least - 2.0 * BETTER:
                    least, values = found, tried
    return values


def _descend(
    levels: CoilLevels,
    heard: _Heard,
    free: Sequence[int],
    signs: tuple[int, ...],
    values: Floats,
    white: Floats,
    usual: Floats,
    prior: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Step to the best gains; a step that makes it worse is halved.

    Returns
    -------
    values : ndarray, shape (n_values,), dB
    away : ndarray, shape (n_used,)
        Heard less predicted, in standard deviations.
    rows : ndarray, shape (n_used, n_values)
        How predictions follow the values, in standard deviations per dB.
    """
    flat = heard.used.ravel()

    def look(at: Floats) -> tuple[Floats, Floats, float]:
        predicted, slopes = levels.slopes(_gains(levels, free, signs, at))
        away = white @ _away(levels, heard, predicted + usual)[flat]
        rows = slopes[levels.points][:, :, free].reshape(len(flat), -1)[flat]
        return away, rows, float(away @ away + at @ prior @ at)

    away, rows, cost = look(values)
    for _ in range(STEPS):
        sloped = white @ rows
        step = np.linalg.solve(sloped.T @ sloped + prior, sloped.T @ away - prior @ values)
        step *= min(1.0, LONGEST_STEP_DB / max(float(np.abs(step).max(initial=0.0)), 1e-9))
        for _ in range(HALVINGS):
            tried = look(values + step)
            if tried[2] <= cost:
                break
            step = step / 2.0
        else:
            break
        values, (away, rows, cost) = values + step, tried
        if np.abs(step).max(initial=0.0) < STILL_DB:
            break
    return values, away, white @ rows


def _believed(n_strings: int) -> Floats:
    """Covariance of one coil's gains before anything is heard, shape (n_strings, n_strings), dB²."""
    shared = np.ones((n_strings, n_strings))
    apart = np.eye(n_strings) - shared / n_strings
    return np.asarray(LEVEL_SD_DB**2 * shared + BALANCE_SD_DB**2 * apart)


def _gains(levels: CoilLevels, free: Sequence[int], signs: Sequence[int], values: Floats) -> Floats:
    gains = np.ones((len(levels.coils), len(levels.strings)))
    by_coil = values.reshape(len(free), -1)
    gains[list(free)] = np.array(signs)[:, None] * 10.0 ** (by_coil / 20.0)
    return gains


def _away(levels: CoilLevels, heard: _Heard, predicted: Floats) -> Floats:
    """Heard less predicted, the mean of each group taken off, flattened."""
    away = heard.levels_db - predicted[levels.points]
    for group in set(heard.groups.tolist()):
        rows = heard.groups == group
        if heard.used[rows].any():
            away[rows] -= away[rows][heard.used[rows]].mean()
    return np.asarray(away.ravel())


def _covariance(
    levels: CoilLevels, heard: _Heard, played_db: Floats, drawn_db: Floats, hands: Hands
) -> Floats:
    """Covariance of all levels that count, what the recordings of one group share included."""
    n_bands = heard.used.shape[1]
    flat = heard.used.ravel()
    which, band = np.divmod(np.flatnonzero(flat), n_bands)
    group = heard.groups[which]
    shared = (group[:, None] == group[None, :]) & (band[:, None] == band[None, :])
    parts = drawn_db[:, levels.points].reshape(len(drawn_db), -1)[:, flat]
    found = shared * hands.common_db**2 + parts.T @ parts / len(parts)
    played = played_db[:, levels.points]
    for one in set(group.tolist()):
        chosen = np.flatnonzero(heard.groups == one)
        kept = [heard.strums[i] for i in chosen]
        inside = np.flatnonzero(group == one)
        found[np.ix_(inside, inside)] += spread_of_hands(
            kept, heard.used[chosen], played[:, chosen], hands, hand_bands=np.inf
        )
    return np.asarray(found)


def _coils(
    levels: CoilLevels, free: Sequence[int], mean: Floats, spread: Floats, reference: int, fits: bool
) -> tuple[CoilFound, ...]:
    n_strings = len(levels.strings)
    take_mean = np.full(n_strings, 1.0 / n_strings)
    take_rest = np.eye(n_strings) - 1.0 / n_strings
    usual = BALANCE_SD_DB * np.sqrt(1.0 - 1.0 / n_strings)
    sounds = levels.sounds[levels.points]
    found = []
    for number, k in enumerate(free):
        inside = slice(number * n_strings, (number + 1) * n_strings)
        values, cov = mean[inside], spread[inside, inside]
        sd = float(np.hypot(np.sqrt(take_mean @ cov @ take_mean), OWN_SD_DB))
        told = fits and WIDE * sd <= LOOSE_DB
        level = Found(float(values.mean()), WIDE * sd, told)
        sds = np.sqrt(np.diag(take_rest @ cov @ take_rest.T) + OWN_SD_DB**2)
        balance = tuple(
            Found(float(db), float(WIDE * one), bool(told and n_strings > 1 and one < SILENT_SHARE * usual))
            for db, one in zip(take_rest @ values, sds, strict=True)
        )
        reason = "" if told else _reason(sounds[:, k], sounds[:, reference], fits)
        found.append(CoilFound(levels.coils[k], level, balance, reason))
    return tuple(found)


def _reason(sounds: Flags, reference: Flags, fits: bool) -> str:
    """Tell in words why a coil's level is not told."""
    if not sounds.any():
        return "it sounds in no position read"
    if not fits:
        return "no sensitivities explain the recordings"
    if (sounds == reference).all():
        return "it sounds only where the reference coil does: no position read tells them apart"
    return f"the recordings leave it open by more than {LOOSE_DB:g} dB"


def _polarities(levels: CoilLevels, signs: Floats, weights: Floats, fits: bool) -> tuple[Polarity, ...]:
    found = []
    for k, other in combinations(range(len(levels.coils)), 2):
        both = np.flatnonzero(levels.sounds[levels.points][:, [k, other]].all(axis=1))
        if len(both):
            point = levels.points[both[0]]
            same = bool(levels.aligned[point, k] * levels.aligned[point, other] > 0)
            chance = float(weights[signs[:, k] * signs[:, other] > 0].sum())
            told = fits and max(chance, 1.0 - chance) >= TOLD
            found.append(Polarity(levels.coils[k], levels.coils[other], int(both[0]), same, chance, told))
    return tuple(found)
