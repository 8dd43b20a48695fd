"""Compare what was recorded in every position with what the wiring predicts, hands divided out.

All positions share the player, the strings and the recording's gain. So the spectrum that they have in
common is left free, and ratios of positions alone count. What hands do between recordings stays: louder
or softer, nearer the bridge, a harder pick. Its spread is stated, and the strums' own scatter is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dsp.checking.faults import PRIORS, Fault, find_faults
from dsp.checking.points import setting_text
from dsp.errors import InputError
from dsp.sound.timbre import ear_bands
from dsp.verifying.expected import draw_levels, expect_energy, levels_of, strum
from dsp.verifying.strums import Strums
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Hands:
    """What hands and everything unknown add to a recording's levels.

    Standard deviations in dB.

    Attributes
    ----------
    common_db : float
        Of the spectrum that all recordings share.
    level_db : float
        Of one recording against the others: force.
    tilt_db : float
        From the lowest to the highest band: how hard pick or finger is.
    played : float
        Factor on what the string model's own hands differ by.
    ripple_db : float
        Of what changes over some bands: angle, planes, wear.
    band_db : float
        Of one band of one recording.
    """

    common_db: float = 30.0
    level_db: float = 1.5
    tilt_db: float = 2.0
    played: float = 1.0
    ripple_db: float = 0.7
    band_db: float = 0.9


HAND_BANDS = 6.0
"""Bands over which patterns of a dozen strums are believed."""
RIPPLE_BANDS = 2.5
"""Bands over which a ripple holds."""
OVER_NOISE_DB = 6.0
"""A band counts where a recording stands so far over its noise."""
DEEPEST_DB = 50.0
"""Below the loudest band of its recording no band counts."""
FEWEST_BANDS = 8
MOST_MODES = 3
"""Patterns of the strums' scatter that are kept; the rest counts band by band."""
STUDENT = 2.0
"""Added degrees of freedom: few strums tell little of their own scatter."""
MOST_MISFIT, PAIR_MISFIT = 1.3, 2.0
"""Misfit of all recordings, and of one pair, that sound instruments stay below."""
WRONG, SOUND_ENOUGH = 0.05, 0.5
"""Probability of no fault below which the verdict is against, and from which on it is for the guitar."""
CLEAR = 0.6
"""Probability from which on a cause is named."""
AS_PROPOSED, NOT_AS_PROPOSED, UNSURE = "as proposed", "not as proposed", "unsure"
SPLIT_HZ = 500.0
"""Below lies the bass, above the treble, of a position that is thin or dull."""
WIDE = 1.96
"""Standard deviations of an interval that holds 95 %."""
SAME_SD = 1.5
"""Causes whose predictions differ by less are one line."""
EXCHANGED = "exchanged"
SOUND = "no fault"
DROP_DB = 20.0
"""A silent recording asks of a cause that the position falls so far."""
FAINT_DB = 30.0
"""It is silent too where it lies so far below the loudest setting of the sound guitar (our own choice)."""


@dataclass(frozen=True)
class Pair:
    """Two recordings, the first against the second.

    Attributes
    ----------
    level_db, expected_db, level_sd_db : float
        Difference of levels, mean over the bands that count: heard, predicted, and the standard
        deviation of heard less predicted.
    heard_db, predicted_db, sd_db : ndarray, shape (n_bands,), dB
        The same by band; NaN where a band does not count.
    misfit : float
        Mean square of heard less predicted, in its own standard deviations; about 1 if all is sound.
    agrees : bool
        Whether the misfit is below `PAIR_MISFIT`.
    """

    first: int
    second: int
    level_db: float
    expected_db: float
    level_sd_db: float
    heard_db: Floats
    predicted_db: Floats
    sd_db: Floats
    misfit: float
    agrees: bool


@dataclass(frozen=True)
class Standing:
    """One recording against all others together.

    Attributes
    ----------
    level_db, level_sd_db : float
        Louder than predicted, mean over the bands that count, and its standard deviation.
    bass_db, bass_sd_db : float
        How much more the bass is too loud than the treble is.
    """

    recording: int
    level_db: float
    level_sd_db: float
    bass_db: float
    bass_sd_db: float

    def words(self) -> str:
        """Return what stands out beyond its uncertainty; empty if nothing does."""
        found = []
        if abs(self.level_db) > WIDE * self.level_sd_db:
            found.append(f"{abs(self.level_db):.0f} dB too {'loud' if self.level_db > 0 else 'low'}")
        if abs(self.bass_db) > WIDE * self.bass_sd_db:
            found.append("dull" if self.bass_db > 0 else "thin")
        return " and ".join(found)


@dataclass(frozen=True)
class Cause:
    """Causes that these recordings cannot tell apart.

    Attributes
    ----------
    texts : tuple of str
        The likeliest first.
    faults : tuple of Fault
        Those that are faults of the wiring.
    probability : float
        Of the causes together, 0 to 1.
    """

    texts: tuple[str, ...]
    faults: tuple[Fault, ...]
    probability: float


@dataclass(frozen=True)
class Verdict:
    """The whole verdict.

    Attributes
    ----------
    word : str
        `AS_PROPOSED`, `NOT_AS_PROPOSED` or `UNSURE`.
    sound : float
        Probability that nothing is wrong.
    misfit : float
        As in `Pair`, of all recordings together.
    best : float
        The same with the cause that fits best.
    causes : tuple of Cause
        The likeliest first; without ``no fault``.
    unheard : tuple of str
        Causes that sound like no fault in these recordings, the likeliest first.
    named : bool
        Whether the first cause is clear.
    silent : tuple of int
        Recordings in which no strum is heard; no pair has them.
    """

    word: str
    sound: float
    misfit: float
    best: float
    causes: tuple[Cause, ...]
    unheard: tuple[str, ...]
    named: bool
    pairs: tuple[Pair, ...]
    standings: tuple[Standing, ...]
    silent: tuple[int, ...]


@dataclass(frozen=True)
class _Model:
    """Gaussian of all levels that count, flattened.

    Attributes
    ----------
    used : ndarray of bool, shape (n_recordings, n_bands)
    heard, predicted : ndarray, shape (n_recordings, n_bands), dB
    covariance : ndarray, shape (n, n), dB²
        Of the used levels, without what all recordings share.
    """

    used: Flags
    heard: Floats
    predicted: Floats
    covariance: Floats
    common: Floats


@dataclass(frozen=True)
class Guess:
    """One cause and what it would sound like.

    Attributes
    ----------
    fault : Fault or None
        None for exchanged positions.
    prior : float
        Weight.
    levels_db : ndarray, shape (n_settings, n_bands)
    fallen : ndarray of bool, shape (n_settings,)
        Where hardly anything is left of what the sound instrument gives.
    faint : ndarray of bool, shape (n_settings,)
        Where hardly anything is heard beside its loudest setting.
    """

    fault: Fault | None
    text: str
    prior: float
    levels_db: Floats
    fallen: Flags
    faint: Flags


@dataclass(frozen=True)
class Prediction:
    """What a sound instrument and every faulty one sound like.

    Attributes
    ----------
    levels_db : ndarray, shape (n_settings, n_bands)
    played_db : ndarray, shape (n_strums, n_settings, n_bands)
        What other hands add.
    drawn_db : ndarray, shape (n_drawn, n_settings, n_bands)
        What parts within their tolerances add.
    guesses : tuple of Guess
        The first is no fault.
    """

    settings: tuple[Setting, ...]
    levels_db: Floats
    played_db: Floats
    drawn_db: Floats
    guesses: tuple[Guess, ...]


def predict(
    wiring: Wiring,
    settings: Sequence[Setting],
    frets: Sequence[int | None] | None = None,
    *,
    window_s: float = 2.0,
) -> Prediction:
    """Predict strums of one chord at some settings, of every single fault too.

    Parameters
    ----------
    wiring : Wiring
        Its load that of the recording.
    frets : sequence of int or None, optional
        As in `strum`.
    window_s : float
        Time over which energy counts.
    """
    heard = strum(wiring, frets, window_s=window_s)
    plain = expect_energy(wiring, settings, heard)
    loudest = float(plain.mean(axis=0).max())
    whole = plain.sum(axis=(0, 2))
    played = levels_of(plain, loudest)
    usual = played.mean(axis=0)  # recordings too are averaged as levels
    guesses: list[Guess] = []
    for fault in find_faults(wiring):
        energy = expect_energy(fault.wiring, settings, _rescaled(heard, wiring, fault.wiring))
        levels = levels_of(energy, loudest).mean(axis=0)
        lost = _losses(energy.sum(axis=(0, 2)), whole)
        guesses.append(Guess(fault, fault.text, fault.prior, levels, *lost))
    for i, j in combinations(range(len(settings)), 2):
        order = list(range(len(settings)))
        order[i], order[j] = j, i
        names = " and ".join(setting_text(wiring, settings[k]) for k in (i, j))
        text = f"positions {names} are exchanged"
        lost = _losses(whole[order], whole)
        guesses.append(Guess(None, text, PRIORS["swap"], usual[order], *lost))
    drawn = draw_levels(wiring, settings, heard.mean(axis=0))
    return Prediction(tuple(settings), usual, played - usual, drawn, tuple(guesses))


def _losses(energy: Floats, whole: Floats) -> tuple[Flags, Flags]:
    """Return where an instrument's settings are fallen, and where they are faint.

    Parameters
    ----------
    energy, whole : ndarray, shape (n_settings,), V² s
        Of this instrument and of the sound one.
    """
    return energy < whole * 10.0 ** (-DROP_DB / 10.0), energy < whole.max() * 10.0 ** (-FAINT_DB / 10.0)


def _rescaled(heard: Complex, wiring: Wiring, other: Wiring) -> Complex:
    """Cross-spectra of coils of other sensitivities."""
    ratio = [
        other.coils[name].sensitivity / coil.sensitivity if coil.sensitivity else 1.0
        for name, coil in wiring.coils.items()
    ]
    return np.asarray(heard * np.outer(ratio, ratio))


def verify(
    prediction: Prediction, strums: Sequence[Strums], names: Sequence[str], hands: Hands | None = None
) -> Verdict:
    """Compare recordings with a prediction.

    Parameters
    ----------
    strums : sequence of Strums
        One for each setting of the prediction.
    names : sequence of str
        What errors call the recordings.

    Raises
    ------
    InputError
        If no recording has a strum over its noise, or one has too few bands over it.
    """
    silent = tuple(i for i, one in enumerate(strums) if one.silent)
    sounding = [i for i in range(len(strums)) if i not in silent]
    if not sounding:
        raise InputError("recordings", "no strum over the noise in any", "strums in two or more")
    possible = [guess for guess in prediction.guesses if _is_possible(guess, sounding, silent)]
    if len(sounding) < 2:
        return _from_silence(possible, silent)
    model = _model(prediction, strums, names, sounding, hands or Hands())
    return _judge(model, prediction.guesses[0], possible, sounding, silent)


def _from_silence(possible: Sequence[Guess], silent: tuple[int, ...]) -> Verdict:
    """Tell what leaves all positions but one silent; nothing else can be compared."""
    ranked = sorted(possible, key=lambda guess: -guess.prior)
    texts = tuple(guess.text for guess in ranked)
    if SOUND in texts:  # they are silent on the instrument as proposed too
        unheard = tuple(text for text in texts if text != SOUND)
        sound = sum(guess.prior for guess in ranked if guess.text == SOUND)
        sound /= sum(guess.prior for guess in ranked)
        return Verdict(UNSURE, sound, 0.0, 0.0, (), unheard, False, (), (), silent)
    faults = tuple(guess.fault for guess in ranked if guess.fault is not None)
    causes = (Cause(texts, faults, 1.0),) if ranked else ()
    return Verdict(NOT_AS_PROPOSED, 0.0, 0.0, 0.0, causes, (), bool(causes), (), (), silent)


def _is_possible(guess: Guess, sounding: Sequence[int], silent: Sequence[int]) -> bool:
    """Whether a guess is silent where the recordings are, and has not fallen silent where they sound."""
    hushed = guess.fallen | guess.faint
    return not guess.fallen[sounding].any() and bool(hushed[list(silent)].all())


def _model(
    prediction: Prediction,
    strums: Sequence[Strums],
    names: Sequence[str],
    sounding: Sequence[int],
    hands: Hands,
) -> _Model:
    kept = [strums[i] for i in sounding]
    predicted = prediction.levels_db[sounding]
    n_bands = predicted.shape[1]
    heard = np.array([one.levels_db.mean(axis=0) for one in kept])
    noise = np.array([one.noise_db for one in kept])
    used = (heard > noise + OVER_NOISE_DB) & (heard > heard.max(axis=1, keepdims=True) - DEEPEST_DB)
    used &= used.sum(axis=0) >= 2  # a band heard once compares with nothing
    heard = heard - np.mean((heard - predicted)[used])  # the recording's gain
    counts = used.sum(axis=1)
    if counts.min() < FEWEST_BANDS:
        worst = names[sounding[int(np.argmin(counts))]]
        got = f"{counts.min()} bands stand {OVER_NOISE_DB:g} dB over its noise"
        allowed = f"{FEWEST_BANDS} or more of {n_bands}"
        hint = "start with a second of damped strings, turn away from hum, play louder"
        raise InputError(worst, got, allowed, hint)
    flat = used.ravel()
    cov = spread_of_hands(kept, used, prediction.played_db[:, sounding], hands)
    parts = prediction.drawn_db[:, sounding].reshape(len(prediction.drawn_db), -1)[:, flat]
    cov = cov + parts.T @ parts / len(parts)
    band = np.flatnonzero(flat) % n_bands
    apart = np.abs(band[:, None] - band[None, :])
    common = (apart == 0) * hands.common_db**2
    return _Model(used, heard, predicted, cov, common)


def spread_of_hands(
    kept: Sequence[Strums], used: Flags, played_db: Floats, hands: Hands, *, hand_bands: float = HAND_BANDS
) -> Floats:
    """Return what hands add to the levels that count, by recording.

    Parameters
    ----------
    kept : sequence of Strums
        One for each recording: their scatter counts as well.
    used : ndarray of bool, shape (n_recordings, n_bands)
    played_db : ndarray, shape (n_strums, n_recordings, n_bands)
        What other hands add by the string model.
    hand_bands : float
        Bands over which its patterns are believed.

    Returns
    -------
    ndarray, shape (n_used, n_used), dB²
    """
    n_bands = used.shape[1]
    flat = used.ravel()
    which, band = np.divmod(np.flatnonzero(flat), n_bands)
    same = which[:, None] == which[None, :]
    apart = np.abs(band[:, None] - band[None, :])
    slope = band / (n_bands - 1.0) - 0.5
    played = played_db.reshape(len(played_db), -1)[:, flat]
    held = np.exp(-0.5 * (apart / hand_bands) ** 2)
    cov = same * hands.level_db**2
    cov = cov + same * np.outer(slope, slope) * hands.tilt_db**2
    cov = cov + same * held * (played.T @ played) * (hands.played**2 / (len(played) - 1))
    cov = cov + same * hands.ripple_db**2 * np.exp(-0.5 * (apart / RIPPLE_BANDS) ** 2)
    cov = cov + np.eye(len(which)) * hands.band_db**2
    scatter, modes = _scatter(kept)
    share = 1.0 / np.array([len(one.levels_db) for one in kept])[which]
    cov = cov + np.diag(scatter[band] * share)
    for mode in modes:
        cov = cov + same * np.outer(mode[band], mode[band]) * share[:, None]
    return np.asarray(cov)


def _scatter(kept: Sequence[Strums]) -> tuple[Floats, Floats]:
    """Return the strums' scatter: variance by band, and the patterns that bands share.

    Returns
    -------
    ndarray, shape (n_bands,), dB²
    ndarray, shape (n_modes, n_bands), dB
    """
    away = np.concatenate([one.levels_db - one.levels_db.mean(axis=0) for one in kept])
    free = max(len(away) - len(kept), 1)
    _, size, rows = np.linalg.svd(away / np.sqrt(free), full_matrices=False)
    modes = size[:MOST_MODES, None] * rows[:MOST_MODES]
    rest = np.maximum(np.sum(away**2, axis=0) / free - np.sum(modes**2, axis=0), 0.0)
    return (rest * (1.0 + STUDENT / free)), modes


def _judge(
    model: _Model, nothing: Guess, possible: Sequence[Guess], sounding: Sequence[int], silent: tuple[int, ...]
) -> Verdict:
    """Weigh the guesses.

    Parameters
    ----------
    nothing : Guess
        No fault; among the possible ones unless a recording is silent that should sound.
    """
    flat = model.used.ravel()
    # Lengths in the whitened space count standard deviations.
    white = np.linalg.inv(np.linalg.cholesky(model.covariance + model.common))
    rows = np.array([guess.levels_db[sounding].ravel()[flat] for guess in (nothing, *possible)]) @ white.T
    square = np.sum((white @ model.heard.ravel()[flat] - rows) ** 2, axis=1)
    free = max(int(flat.sum()) - int(model.used.any(axis=0).sum()), 1)
    log_odds = np.log([guess.prior for guess in possible]) - 0.5 * square[1:]
    chance = np.exp(log_odds - log_odds.max(initial=-np.inf))
    chance /= max(chance.sum(), 1e-300)
    found = _merge(possible, rows[1:], chance)
    sound = sum(one.probability for one in found if SOUND in one.texts)
    others = tuple(one for one in found if SOUND not in one.texts)
    unheard = tuple(text for one in found if SOUND in one.texts for text in one.texts if text != SOUND)
    misfit, best = float(square[0] / free), float(square.min() / free)
    wrong = sound < WRONG or misfit > MOST_MISFIT
    word = NOT_AS_PROPOSED if wrong else AS_PROPOSED if sound >= SOUND_ENOUGH else UNSURE
    named = wrong and bool(others) and others[0].probability > CLEAR and best < MOST_MISFIT
    pairs = tuple(_pair(model, sounding, i, j) for i, j in combinations(range(len(sounding)), 2))
    standings = tuple(_standing(model, sounding, i) for i in range(len(sounding)))
    return Verdict(word, sound, misfit, best, others, unheard, named, pairs, standings, silent)


def _merge(guesses: Sequence[Guess], rows: Floats, chance: Floats) -> list[Cause]:
    """Join causes that these recordings cannot tell apart, the likeliest of each first.

    Parameters
    ----------
    rows : ndarray, shape (n_guesses, n)
        Predictions in their standard deviations.
    chance : ndarray, shape (n_guesses,)
    """
    left = np.argsort(-chance, kind="stable")
    found: list[Cause] = []
    while len(left):
        near = np.sum((rows[left] - rows[left[0]]) ** 2, axis=1) < SAME_SD**2
        members, left = left[near], left[~near]
        texts = tuple(dict.fromkeys(guesses[k].text for k in members))
        faults = tuple(fault for k in members if (fault := guesses[k].fault) is not None)
        found.append(Cause(texts, faults, float(chance[members].sum())))
    return sorted(found, key=lambda one: -one.probability)


def _pair(model: _Model, sounding: Sequence[int], i: int, j: int) -> Pair:
    n_bands = model.used.shape[1]
    both = model.used[i] & model.used[j]
    index = np.cumsum(model.used.ravel()).reshape(model.used.shape) - 1
    rows, columns = index[i][both], index[j][both]
    heard, predicted, sd = (np.full(n_bands, np.nan) for _ in range(3))
    heard[both] = (model.heard[i] - model.heard[j])[both]
    predicted[both] = (model.predicted[i] - model.predicted[j])[both]
    a, b = model.covariance[rows], model.covariance[columns]
    cov = a[:, rows] + b[:, columns] - a[:, columns] - b[:, rows]
    sd[both] = np.sqrt(np.diag(cov))
    away = (heard - predicted)[both]
    count = max(int(both.sum()), 1)
    if both.any():
        misfit = float(away @ np.linalg.solve(cov, away)) / count
        level_sd = float(np.sqrt(cov.sum())) / count
        levels = float(heard[both].mean()), float(predicted[both].mean())
    else:
        misfit, level_sd, levels = 0.0, float("nan"), (float("nan"), float("nan"))
    numbers = sounding[i], sounding[j]
    agrees = misfit < PAIR_MISFIT
    return Pair(*numbers, *levels, level_sd, heard, predicted, sd, misfit, agrees)


def _standing(model: _Model, sounding: Sequence[int], i: int) -> Standing:
    """Compare one recording with the mean of the others in every band that both have."""
    used, away = model.used, model.heard - model.predicted
    shared = used[i] & (used.sum(axis=0) >= 2)
    index = np.cumsum(used.ravel()).reshape(used.shape) - 1
    bands = np.flatnonzero(shared)
    rows = np.zeros((len(bands), len(model.covariance)))
    for row, band in enumerate(bands):
        others = [k for k in np.flatnonzero(used[:, band]) if k != i]
        rows[row, index[i, band]] = 1.0
        rows[row, index[others, band]] = -1.0 / len(others)
    apart = rows @ away.ravel()[used.ravel()]
    bass = ear_bands().edges_hz[bands] < SPLIT_HZ
    level = np.full(len(bands), 1.0 / max(len(bands), 1))
    lean = bass / max(bass.sum(), 1) - ~bass / max((~bass).sum(), 1)
    sds = [float(np.sqrt((one @ rows) @ model.covariance @ (one @ rows))) for one in (level, lean)]
    return Standing(sounding[i], float(level @ apart), sds[0], float(lean @ apart), sds[1])
