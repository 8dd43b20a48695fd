"""Instruments of one wiring by tolerance: how far they sound apart, and what makes it so.

Every instrument is computed exactly. A share of what differs is the power of the timbre's difference
that one part's spread makes alone, one standard deviation to either side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import (
    CABLE,
    Direction,
    draw_steps,
    find_directions,
    hum_field,
    make_copies,
    with_taps,
)
from dsp.circuit.copies import Copies, respond_copies
from dsp.circuit.response import hum_weights
from dsp.parts.spreads import BY_FIELD
from dsp.sound.audible import largest_difference
from dsp.sound.spectra import standard_notes
from dsp.sound.timbre import SUB_BANDS, ear_bands, timbre, timbre_distance
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]

REFERENCE_HZ = 100.0
PEAK_HZ = np.geomspace(700.0, 14_000.0, 72)
"""Where a resonance is looked for, shape (72,): 0.7 semitones apart, a parabola in between."""
CURVE_HZ = np.geomspace(60.0, 16_000.0, 97)
"""Where the bands of responses are computed, shape (97,)."""
DRAWN = 200
"""Instruments for them and for half widths: the ten that are built leave bands ragged, and span less."""
WITHIN = 0.95
"""Share of instruments within a band."""
SELECTED = 1 / 3
"""What selecting a part leaves of its spread."""
SILENT_DB = -60.0
"""Level below the loudest setting at which nothing is compared."""


@dataclass(frozen=True)
class SettingSpread:
    """How far instruments differ at one setting.

    Those are `DRAWN` instruments, the farthest two of those that are built.

    Attributes
    ----------
    resonance_hz : float
        Of the middle instrument; NaN where few have a peak.
    semitones, height_db, level_db : float
        Half widths of the bands that hold 95 % of those drawn.
    hum_db : float
        Hum left that 95 % stay below, relative to the same coils adding up.
    timbre_db : float
        Distance from the middle that 95 % keep.
    farthest_db, farthest_band_db : float
        Of the farthest two, the same two at every setting: their distance, and the difference of the
        band that differs most.
    farthest_level_db : float
        Level of the second of them over the first.
    """

    setting: Setting
    resonance_hz: float
    semitones: float
    height_db: float
    level_db: float
    hum_db: float
    timbre_db: float
    farthest_db: float
    farthest_band_db: float
    farthest_level_db: float


@dataclass(frozen=True)
class Share:
    """What one part adds to the differences.

    Attributes
    ----------
    share : float
        Of the power of all differences of timbre, 0 to 1.
    gain : float
        By which selecting it to a third of its spread lowers the distance, as a share of it.
    """

    part: str
    share: float
    gain: float


@dataclass(frozen=True)
class Spread:
    """The spread of a number of instruments.

    Attributes
    ----------
    shares : tuple of Share
        The largest first.
    ends : ndarray, shape (2, n_directions)
        The two that are farthest apart, in standard deviations of each direction.
    """

    built: int
    directions: tuple[Direction, ...]
    settings: tuple[SettingSpread, ...]
    shares: tuple[Share, ...]
    ends: Floats


@dataclass(frozen=True)
class Curves:
    """Responses of many instruments, all coils together, dB over `CURVE_HZ`.

    Attributes
    ----------
    nominal_db, low_db, high_db : ndarray, shape (n_settings, n_freqs)
        As drawn, and the ends of the band that holds 95 % of them.
    ends_db : ndarray, shape (2, n_settings, n_freqs)
        Of the farthest two.
    """

    nominal_db: Floats
    low_db: Floats
    high_db: Floats
    ends_db: Floats


@dataclass(frozen=True)
class Heard:
    """What is heard of every copy at every setting.

    Attributes
    ----------
    timbre : ndarray, shape (n_settings, count, n_bands)
    level_db, peak_hz, height_db, hum_db : ndarray, shape (n_settings, count)
        The resonance's frequency and height are NaN where there is none.
    """

    timbre: Floats
    level_db: Floats
    peak_hz: Floats
    height_db: Floats
    hum_db: Floats


def find_spread(
    wiring: Wiring, settings: Sequence[Setting], built: int, *, cable: float = 0.0, seed: int = 17
) -> Spread:
    """Draw instruments and compare them.

    Parameters
    ----------
    built : int
        How many, 2 or more.
    cable : float
        Spread of the player's cable, as a share of its capacitance.
    """
    wiring = with_taps(wiring)
    directions = find_directions(wiring, alike=True, cable=cable)
    steps = draw_steps(built, len(directions), seed)
    heard = listen(wiring, settings, make_copies(wiring, directions, steps))
    sounding = [i for i, row in enumerate(heard.level_db) if row.min() > heard.level_db.max() + SILENT_DB]
    apart = _apart(heard.timbre[sounding])
    ends = np.unravel_index(np.argmax((apart**2).sum(axis=0)), apart.shape[1:])
    first, second = int(ends[0]), int(ends[1])
    chosen = [settings[i] for i in sounding]
    many = make_copies(wiring, directions, draw_steps(DRAWN, len(directions), seed + 1))
    drawn = listen(wiring, chosen, many)
    two = heard.timbre[sounding][:, [first, second]]
    louder = (heard.level_db[:, second] - heard.level_db[:, first])[sounding]
    rows = tuple(_row(one, drawn, i, two[i], float(louder[i])) for i, one in enumerate(chosen))
    shares = _shares(wiring, directions, settings, sounding)
    return Spread(built, directions, rows, shares, steps[[first, second]])


def listen(wiring: Wiring, settings: Sequence[Setting], copies: Copies) -> Heard:
    """Compute what is heard of every copy, by the standard notes."""
    bands = ear_bands()
    spectra = standard_notes(wiring, bands)
    n = len(bands.centres_hz)
    hz = np.concatenate([bands.centres_hz, PEAK_HZ, [REFERENCE_HZ]])
    coil, _ = respond_copies(wiring, settings, hz, copies)
    heard = coil[..., :n]
    energy = np.einsum("sckf,fkl,sclf->scf", heard, spectra, heard.conj(), optimize=True).real
    by_band = energy.reshape(*energy.shape[:2], -1, SUB_BANDS).sum(axis=-1)
    total = 10 * np.log10(by_band.sum(axis=-1) + 1e-30)
    curve = 20 * np.log10(np.abs(coil[..., n:-1]) + 1e-15)
    loudest = np.argmax(np.abs(coil[..., -1]).mean(axis=1), axis=1)
    curve = np.stack([row[:, k] for row, k in zip(curve, loudest, strict=True)])
    reference = np.stack([row[:, k, -1] for row, k in zip(coil, loudest, strict=True)])
    peak, top = _peaks(curve)
    weights = _hum_weights(wiring, copies)
    left = np.abs(np.einsum("kc,sck->sc", weights, coil[..., -1]))
    adding = np.einsum("kc,sck->sc", np.abs(weights), np.abs(coil[..., -1]))
    hum = np.minimum(20 * np.log10((left + 1e-12) / (adding + 1e-12)), 0.0)
    return Heard(timbre(by_band), total, peak, top - 20 * np.log10(np.abs(reference) + 1e-15), hum)


def _hum_weights(wiring: Wiring, copies: Copies) -> Floats:
    """What a hum field induces in every coil of every copy, shape (n_coils, count)."""
    ones = np.ones(copies.count)
    factors = [
        copies.factors.get((name, BY_FIELD["coil", hum_field(coil)].attribute), ones)
        for name, coil in wiring.coils.items()
    ]
    return hum_weights(wiring)[:, None] * np.array(factors)


def _peaks(curve: Floats) -> tuple[Floats, Floats]:
    """Frequency and level of the highest point of curves, NaN at an end; a parabola through three."""
    at = np.argmax(curve, axis=-1)
    inside = (at > 0) & (at < curve.shape[-1] - 1)
    at = np.clip(at, 1, curve.shape[-1] - 2)
    left, middle, right = (np.take_along_axis(curve, (at + i)[..., None], -1)[..., 0] for i in (-1, 0, 1))
    bend = left - 2 * middle + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    step = np.log(PEAK_HZ[1] / PEAK_HZ[0])
    peak = np.where(inside, PEAK_HZ[at] * np.exp(step * shift), np.nan)
    return peak, np.where(inside, middle - 0.25 * (left - right) * shift, np.nan)


def _apart(vectors: Floats) -> Floats:
    """Distances of all pairs of copies at each setting, shape (n_settings, count, count)."""
    square = np.mean(vectors**2, axis=-1)
    product = np.einsum("scb,sdb->scd", vectors, vectors) / vectors.shape[-1]
    return np.asarray(np.sqrt(np.maximum(square[:, :, None] + square[:, None] - 2 * product, 0.0)))


def _half_width(values: Floats) -> float:
    low, high = np.quantile(values, ((1 - WITHIN) / 2, (1 + WITHIN) / 2))
    return float(high - low) / 2


def _row(setting: Setting, heard: Heard, i: int, two: Floats, louder_db: float) -> SettingSpread:
    """Tell one setting.

    Parameters
    ----------
    two : ndarray, shape (2, n_bands), dB
        Timbres of the farthest two.
    louder_db : float
        Level of the second over the first.
    """
    peaks = heard.peak_hz[i]
    seen = peaks[np.isfinite(peaks)]
    known = len(seen) > WITHIN * len(peaks)
    vectors = heard.timbre[i]
    away = np.sqrt(np.mean((vectors - vectors.mean(axis=0)) ** 2, axis=-1))
    heights = heard.height_db[i][np.isfinite(peaks)]
    return SettingSpread(
        setting,
        float(np.median(seen)) if known else float("nan"),
        _half_width(12 * np.log2(seen)) if known else float("nan"),
        _half_width(heights) if known else float("nan"),
        _half_width(heard.level_db[i]),
        float(np.quantile(heard.hum_db[i], WITHIN)),
        float(np.quantile(away, WITHIN)),
        float(timbre_distance(two[0], two[1])),
        float(largest_difference(two[0], two[1])),
        louder_db,
    )


def _shares(
    wiring: Wiring, directions: Sequence[Direction], settings: Sequence[Setting], sounding: Sequence[int]
) -> tuple[Share, ...]:
    n = len(directions)
    steps = np.concatenate([np.eye(n), -np.eye(n)])
    chosen = [settings[i] for i in sounding]
    vectors = listen(wiring, chosen, make_copies(wiring, directions, steps)).timbre
    power = np.mean(((vectors[:, :n] - vectors[:, n:]) / 2) ** 2, axis=(0, 2))
    by_part: dict[str, float] = {}
    for one, own in zip(directions, power, strict=True):
        by_part[one.part] = by_part.get(one.part, 0.0) + float(own)
    whole = sum(by_part.values()) or 1.0
    found = (
        Share(part, own / whole, 1.0 - float(np.sqrt(1.0 - (1.0 - SELECTED**2) * own / whole)))
        for part, own in by_part.items()
    )
    return tuple(sorted(found, key=lambda one: -one.share))


def find_curves(
    wiring: Wiring, settings: Sequence[Setting], spread: Spread, *, cable: float = 0.0, seed: int = 18
) -> Curves:
    """Draw instruments for the bands of their responses.

    Parameters
    ----------
    spread : Spread
        Whose farthest two are drawn too.
    cable : float
        As for `find_spread`.
    """
    wiring = with_taps(wiring)
    directions = find_directions(wiring, alike=True, cable=cable)
    steps = draw_steps(DRAWN, len(directions), seed)
    steps = np.concatenate([np.zeros((1, len(directions))), spread.ends, steps])
    coil, _ = respond_copies(wiring, settings, CURVE_HZ, make_copies(wiring, directions, steps))
    signs = np.array([one.string_sign for one in wiring.coils.values()], float)
    level = 20 * np.log10(np.abs(np.einsum("k,sckf->scf", signs, coil)) + 1e-8)
    low, high = np.quantile(level[:, 3:], ((1 - WITHIN) / 2, (1 + WITHIN) / 2), axis=1)
    return Curves(level[:, 0], low, high, np.moveaxis(level[:, 1:3], 1, 0))


def end_values(
    wiring: Wiring, directions: Sequence[Direction], steps: Floats
) -> tuple[tuple[Direction, float], ...]:
    """Return the factor, or what is added, of every direction.

    Parameters
    ----------
    steps : ndarray, shape (n_directions,)

    Returns
    -------
    tuple of (Direction, float)
        The cable's only if it differs too.
    """
    copies = make_copies(wiring, directions, steps[None])
    found = []
    for one, step in zip(directions, steps, strict=True):
        if one.part == CABLE:
            found.append((one, float(copies.cable[0]) if copies.cable is not None else 1.0))
            continue
        added = one.number >= 0 or one.attribute == "taper"
        key = one.part, one.attribute
        value = one.sd * float(step) if added else float(copies.factors[key][0])
        found.append((one, value))
    return tuple(found)
