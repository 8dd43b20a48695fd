"""Find how coils are wound against one another, from an exciter laid over each in turn.

What the jack reads over the current is divided by what the wiring makes of one volt in that coil, under
the input and the cable. What is left is the EMF of the coil for one ampere: its ratio between coils tells
turns and place, its sign the winding with its leads, its ratio between poles the balance of the strings.
An exciter's field alternates, so no magnet is heard: a string's level is winding times magnet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import find_directions, with_taps
from dsp.checking.exciter import (
    BLADE_HZ,
    EXCITER_HZ,
    HEARD_FROM,
    LEVEL_SD,
    NOISE_FLOOR,
    NOISE_SHARE,
    ExciterRig,
    find_exciter_directions,
    predict_all,
    transfer_copies,
    transfer_of_level,
)
from dsp.checking.points import Point, setting_text
from dsp.circuit.copies import Copies
from dsp.errors import InputError, Problem
from dsp.sheet.readings import settings_of
from dsp.takes.player import instrument_of
from dsp.verifying.sensitivity import (
    BALANCE_SD_DB,
    LOOSE_DB,
    SILENT_SHARE,
    CoilFound,
    Found,
)
from dsp.verifying.verdict import WIDE
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]

DB = 20.0 / np.log(10.0)
"""Decibels of a natural logarithm of 1."""
PLACE_SD_DB = DB * LEVEL_SD / sqrt(2.0)
"""Standard deviation of how an exciter lies over a coil. Two coils then differ by 2 dB: the figure of
`dsp.checking.exciter`, taken as one standard deviation. The whole coil and all its poles share it, so that
laying the exciter again narrows nothing."""
POLE_SD_DB = 0.5
"""The same of one pole against the coil's others, with a spacer that keeps the height (our own choice)."""
OPEN_SD_DB = 200.0
"""Nothing is believed of a level, a balance or an exciter's strength before it is read."""
DISAGREE = 1e-3
"""Probability below which recordings of one coil do not agree."""


@dataclass(frozen=True)
class Laid:
    """Where an exciter lay, and the setting that was read.

    Attributes
    ----------
    string : int or None
        Index of the string over whose pole it lay, lowest first; None over the whole coil.
    """

    coil: str
    string: int | None
    setting: Setting


@dataclass(frozen=True)
class ExpectedWindings:
    """What one volt in each coil would read, and how sound guitars differ.

    Attributes
    ----------
    coils : tuple of str
        Those that an exciter lay over.
    transfers : ndarray, shape (n_laid, n_frequencies)
        At `EXCITER_HZ`, with the signs that the file says.
    slopes_db : ndarray, shape (n_directions, n_laid, n_frequencies), dB
        For one standard deviation of each part, of the cable and of what a neighbour hears.
    filed_db : ndarray, shape (n_laid,), dB
        What the file says of the coil there: its sensitivity and its balance.
    """

    laid: tuple[Laid, ...]
    coils: tuple[str, ...]
    transfers: Floats
    slopes_db: Floats
    filed_db: Floats


@dataclass(frozen=True)
class WindingFound:
    """One coil under the exciter.

    Attributes
    ----------
    found : CoilFound
        In dB on the file's, as if all magnets were alike; the level of the reference is 0.
    strings : tuple of int
        Of the balance, by their index.
    ratio_db : float
        Level over that of the reference.
    turned : bool or None
        Whether its sign against the reference is not the file's; None if it is not told.
    agrees : bool
        Whether its recordings say one thing.
    """

    found: CoilFound
    strings: tuple[int, ...]
    ratio_db: float
    turned: bool | None
    agrees: bool


@dataclass(frozen=True)
class Windings:
    """What an exciter tells of all coils.

    Attributes
    ----------
    coils : tuple of WindingFound
        The reference first.
    misfit : float
        Mean square of what recordings of one coil differ by, in standard deviations.
    """

    reference: str
    coils: tuple[WindingFound, ...]
    misfit: float


def check_reach(wiring: Wiring, laid: Sequence[Laid], names: Sequence[str], rig: ExciterRig) -> None:
    """Refuse settings at which the excited coil does not reach the jack.

    Parameters
    ----------
    names : sequence of str
        What errors call the recordings.

    Raises
    ------
    InputError
        With every such recording, and the settings at which its coil is heard.
    """
    settings = tuple(settings_of(wiring))
    problems = []
    for name, one in zip(names, laid, strict=True):
        if not _reaches(wiring, [one.setting], one.coil, rig)[0]:
            heard = _reaches(wiring, settings, one.coil, rig)
            where = [setting_text(wiring, at) for at, there in zip(settings, heard, strict=True) if there]
            got = f"{one.coil} at {setting_text(wiring, one.setting)}, where it does not reach the jack"
            problems.append(Problem(name, got, " or ".join(where) or "a coil that reaches the jack"))
    if problems:
        raise InputError.of(problems)


def _reaches(wiring: Wiring, settings: Sequence[Setting], coil: str, rig: ExciterRig) -> list[bool]:
    points = [Point(one, hz, coil) for one in settings for hz in EXCITER_HZ]
    own = np.abs(transfer_copies(wiring, points, Copies(1), rig)[0, :, 0].real) / _turns(wiring, coil)
    return [bool(row.min() > HEARD_FROM) for row in own.reshape(-1, len(EXCITER_HZ))]


def _turns(wiring: Wiring, coil: str) -> float:
    """Of a coil as `transfer_copies` counts them."""
    return wiring.coils[coil].hum_pick_up or 1.0


def expect_windings(wiring: Wiring, laid: Sequence[Laid], rig: ExciterRig) -> ExpectedWindings:
    """Return what one volt in each coil reads.

    Parameters
    ----------
    laid : sequence of Laid
        As `check_reach` allows.
    """
    points = [Point(one.setting, hz, one.coil) for one in laid for hz in EXCITER_HZ]
    tapped = with_taps(wiring)
    unknown = (one for one in find_exciter_directions(tapped) if one.attribute != "level")
    directions = (*find_directions(tapped), *unknown)
    each = np.eye(len(directions))
    steps = np.vstack([np.zeros(len(directions)), each, -each])
    read = transfer_of_level(predict_all(tapped, points, directions, steps, rig))
    read = read.reshape(len(steps), len(laid), len(EXCITER_HZ))
    level_db = 20.0 * np.log10(np.maximum(np.abs(read), NOISE_FLOOR))
    up, down = level_db[1 : len(each) + 1], level_db[len(each) + 1 :]
    turns = np.array([_turns(wiring, one.coil) for one in laid])
    filed = np.array([_filed_db(wiring, one) for one in laid])
    coils = tuple(dict.fromkeys(one.coil for one in laid))
    return ExpectedWindings(tuple(laid), coils, read[0] / turns[:, None], (up - down) / 2.0, filed)


def _filed_db(wiring: Wiring, laid: Laid) -> float:
    """What a file says of a coil over one pole, or over all."""
    coil = wiring.coils[laid.coil]
    balance = coil.string_balance_db or (0.0,) * len(instrument_of(wiring.instrument)[0].strings)
    own = float(np.mean(balance)) if laid.string is None else balance[laid.string]
    return float(20.0 * np.log10(coil.sensitivity) + own)


def choose_laid_reference(laid: Sequence[Laid]) -> str:
    """Return the coil with most recordings, the first of equals."""
    coils = [one.coil for one in laid]
    return max(dict.fromkeys(coils), key=coils.count)


def find_windings(
    expected: ExpectedWindings,
    read: Floats,
    names: Sequence[str],
    *,
    reference: str | None = None,
    sides_kept: bool = True,
) -> Windings:
    """Find how coils are wound against the reference.

    Parameters
    ----------
    read : ndarray, shape (n_laid, n_frequencies)
        Jack over current with its sign, of any strength, as `read_exciter` gives it.
    names : sequence of str
        What errors call the recordings.
    reference : str, optional
        One of the coils; `choose_laid_reference` unless given.
    sides_kept : bool
        Whether the exciter lay on every coil with the same side down; if not, signs stay unknown.

    Raises
    ------
    InputError
        For a recording without the exciter's tone at the jack, or a reference that none lay over.
    """
    reference = reference or choose_laid_reference(expected.laid)
    if reference not in expected.coils:
        raise InputError("reference", f"{reference}, which no exciter lay over", " or ".join(expected.coils))
    problems = [
        Problem(
            name,
            "channel 2: nothing of the exciter",
            f"its tone: {one.coil} reaches the jack there",
            f"does the exciter lie over {one.coil}, and is the setting the one that is named?",
        )
        for name, one, row in zip(names, expected.laid, read, strict=True)
        if not row.all()
    ]
    if problems:
        raise InputError.of(problems)
    away = 20.0 * np.log10(np.abs(read / expected.transfers)) - expected.filed_db[:, None]
    error = _error(expected)
    squares, freedom = 0.0, 0
    agrees: dict[str, bool] = {}
    ways: dict[str, float] = {}
    for coil in expected.coils:
        here = [one.coil == coil for one in expected.laid]
        ways[coil] = float(np.sign(read * expected.transfers)[here].mean())  # 1 or -1 if all are one way
        square, degrees = _disagreement(expected, away.ravel(), error, coil)
        agrees[coil] = abs(ways[coil]) == 1.0 and _chance(square, degrees) > DISAGREE
        squares, freedom = squares + square, freedom + degrees
    values, spread, columns = _solve(expected, away.ravel(), error, reference)
    found = []
    for coil in sorted(expected.coils, key=lambda name: name != reference):
        told = sides_kept and agrees[coil] and agrees[reference]
        turned = ways[coil] != ways[reference] if told else None
        found.append(_winding(expected, coil, reference, values, spread, columns, agrees, turned))
    return Windings(reference, tuple(found), squares / max(freedom, 1))


Columns = Mapping[tuple[str, int | None], int]


def _rows(expected: ExpectedWindings) -> list[Laid]:
    """Of every reading, where the exciter lay."""
    return [one for one in expected.laid for _ in EXCITER_HZ]


def _error(expected: ExpectedWindings) -> Floats:
    """Covariance of readings, the places of the exciter aside.

    Shape (n_readings, n_readings), dB². The floor of a recording is common to its frequencies.
    """
    slopes = expected.slopes_db.reshape(len(expected.slopes_db), -1)
    floor = DB * NOISE_FLOOR / np.abs(expected.transfers).ravel()
    which = np.repeat(np.arange(len(expected.laid)), len(EXCITER_HZ))
    same = which[:, None] == which[None, :]
    own = np.eye(len(which)) * (DB * NOISE_SHARE) ** 2
    return np.asarray(slopes.T @ slopes + own + same * np.outer(floor, floor))


def _disagreement(expected: ExpectedWindings, away: Floats, error: Floats, coil: str) -> tuple[float, int]:
    """Return how far recordings of one coil are apart over each place: a square, its degrees of freedom."""
    rows = _rows(expected)
    here = [i for i, one in enumerate(rows) if one.coil == coil]
    places = list(dict.fromkeys(rows[i].string for i in here))
    design = np.array([[float(rows[i].string == place) for place in places] for i in here])
    weight = np.linalg.inv(error[np.ix_(here, here)])
    seen = away[here]
    best = np.linalg.solve(design.T @ weight @ design, design.T @ weight @ seen)
    rest = seen - design @ best
    return float(rest @ weight @ rest), len(here) - len(places)


def _chance(square: float, degrees: int) -> float:
    from scipy.special import gammaincc

    return float(gammaincc(degrees / 2.0, square / 2.0)) if degrees else 1.0


def _solve(
    expected: ExpectedWindings, away: Floats, error: Floats, reference: str
) -> tuple[Floats, Floats, Columns]:
    """Return levels and balances with their covariance, and which is which.

    Values are of shape (n_values,), dB. The level of the reference is none of them.
    """
    rows = _rows(expected)
    columns: dict[tuple[str, int | None], int] = {("", None): 0, ("", 0): 1}  # over coils, over poles
    prior = [np.eye(2) * OPEN_SD_DB**2]
    for coil in expected.coils:
        if coil != reference:
            columns[coil, None] = len(columns)
            prior.append(np.array([[OPEN_SD_DB**2]]))
    for coil in expected.coils:
        strings = _strings(expected, coil)
        for string in strings:
            columns[coil, string] = len(columns)
        n = len(strings)
        prior.append(OPEN_SD_DB**2 * (np.eye(n) - 1.0 / max(n, 1)))
    believed = np.zeros((len(columns), len(columns)))
    at = 0
    for block in prior:
        believed[at : at + len(block), at : at + len(block)] = block
        at += len(block)
    design = np.zeros((len(rows), len(columns)))
    for i, one in enumerate(rows):
        design[i, 0 if one.string is None else 1] = 1.0
        if one.coil != reference:
            design[i, columns[one.coil, None]] = 1.0
        if one.string is not None:
            design[i, columns[one.coil, one.string]] = 1.0
    both = error + _place_error(rows)
    gain = believed @ design.T @ np.linalg.inv(design @ believed @ design.T + both)
    return np.asarray(gain @ away), np.asarray(believed - gain @ design @ believed), columns


def _place_error(rows: Sequence[Laid]) -> Floats:
    """Covariance of how the exciter lay, shape (n_readings, n_readings), dB²."""
    coils = np.array([[float(a.coil == b.coil) for b in rows] for a in rows])
    places = np.array([[float(a.string is not None and a.string == b.string) for b in rows] for a in rows])
    return np.asarray(coils * (PLACE_SD_DB**2 + POLE_SD_DB**2 * places))


def _strings(expected: ExpectedWindings, coil: str) -> list[int]:
    """Indices of the strings over whose poles an exciter lay, lowest first."""
    return sorted({one.string for one in expected.laid if one.coil == coil and one.string is not None})


def _winding(
    expected: ExpectedWindings,
    coil: str,
    reference: str,
    values: Floats,
    spread: Floats,
    columns: Columns,
    agrees: Mapping[str, bool],
    turned: bool | None,
) -> WindingFound:
    strings = tuple(_strings(expected, coil))
    level, reason = Found(0.0, 0.0, agrees[coil]), ""
    if coil != reference:
        at = columns[coil, None]
        within = WIDE * float(np.sqrt(spread[at, at]))
        reason = _reason(coil, reference, agrees, within)
        level = Found(float(values[at]), within, not reason)
    elif not agrees[coil]:
        reason = "its recordings do not agree"
    usual = BALANCE_SD_DB * sqrt(1.0 - 1.0 / max(len(strings), 1))
    balance = []
    for string in strings:
        at = columns[coil, string]
        sd = float(np.sqrt(max(spread[at, at], 0.0)))
        told = agrees[coil] and len(strings) > 1 and sd < SILENT_SHARE * usual
        balance.append(Found(float(values[at]), WIDE * sd, told))
    ratio_db = level.db + _mean_filed_db(expected, coil) - _mean_filed_db(expected, reference)
    return WindingFound(
        CoilFound(coil, level, tuple(balance), reason), strings, ratio_db, turned, agrees[coil]
    )


def _mean_filed_db(expected: ExpectedWindings, coil: str) -> float:
    by_place = {
        one.string: db for one, db in zip(expected.laid, expected.filed_db, strict=True) if one.coil == coil
    }
    return float(by_place[None]) if None in by_place else float(np.mean(list(by_place.values())))


def _reason(coil: str, reference: str, agrees: Mapping[str, bool], within_db: float) -> str:
    """Tell in words why a coil's level is not told; nothing if it is."""
    if not agrees[coil]:
        return "its recordings do not agree"
    if not agrees[reference]:
        return f"recordings of {reference}, which it is held to, do not agree"
    if within_db > LOOSE_DB:
        return (
            f"the recordings leave it open by more than {LOOSE_DB:g} dB: lay the exciter over both whole"
            " coils, or over poles of both"
        )
    return ""


def find_together(wiring: Wiring, first: str, second: str, rig: ExciterRig) -> tuple[Setting, bool] | None:
    """Return a setting in which two coils sound, and whether in phase.

    The first such setting, for strings, by the file's windings and magnets; None if there is none.
    """
    settings = tuple(settings_of(wiring))
    own = []
    for coil in (first, second):
        points = [Point(one, BLADE_HZ, coil) for one in settings]
        heard = transfer_copies(wiring, points, Copies(1), rig)[0, :, 0].real
        own.append(heard * wiring.coils[coil].magnet / _turns(wiring, coil))
    for setting, a, b in zip(settings, *own, strict=True):
        if min(abs(a), abs(b)) > HEARD_FROM:
            return setting, bool(a * b > 0.0)
    return None
