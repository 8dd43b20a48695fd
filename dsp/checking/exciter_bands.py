"""Bands of what an exciter reads: by how much settings differ under one coil, and the signs of coils.

What the exciter induces is not known. So each setting is held against the one at which its coil is
expected loudest, and signs against those of the other coils.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.checking.bands import DRAWS, HELD, LEAST
from dsp.checking.directions import SEED, draw_steps, find_directions, with_taps
from dsp.checking.exciter import (
    NOISE_FLOOR,
    NOISE_SHARE,
    ExciterRig,
    find_exciter_directions,
    predict_all,
    transfer_of_level,
)
from dsp.checking.points import Point
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]

Sided = Literal["within", "too low", "too high", "turned"]
HEARD_FROM = 5 * NOISE_FLOOR
"""Transfer from which a coil's sign is sure."""


@dataclass(frozen=True)
class RatioBand:
    """What a sound instrument reads at one setting over another.

    Attributes
    ----------
    reference : Point
        Where the same coil is expected loudest; the point itself there.
    transfer : float
        Expected from the coil's EMF, with its sign.
    typical, low, high : float
        Ratios, with signs; 1 at the reference.
    """

    point: Point
    reference: Point
    transfer: float
    typical: float
    low: float
    high: float

    def judge(self, ratio: float) -> Sided:
        """Return on which side of it a ratio lies; turned means the wrong sign."""
        if self.low - LEAST <= ratio <= self.high + LEAST:
            return "within"
        if ratio * self.typical < 0.0 and abs(ratio) > NOISE_FLOOR < abs(self.typical):
            return "turned"
        return "too low" if abs(ratio) < abs(self.typical) else "too high"


@dataclass(frozen=True)
class JudgedTransfer:
    """A reading under an exciter or a blade, and what it says.

    Attributes
    ----------
    band : RatioBand or None
        None of a blade.
    ratio : float
        To the reference; of a blade, and where the reference is silent, 0.
    """

    point: Point
    band: RatioBand | None
    ratio: float
    side: Sided


@dataclass(frozen=True)
class DrawnTransfers:
    """What sound instruments read under an exciter, by draws.

    Attributes
    ----------
    typical : ndarray, shape (n_points,)
        Of parts as the file states them.
    drawn : ndarray, shape (count, n_points)
    """

    points: tuple[Point, ...]
    typical: Floats
    drawn: Floats

    def some(self, points: Sequence[Point]) -> DrawnTransfers:
        """Return those of some points, which stand in for their equals."""
        at = [self.points.index(one) for one in points]
        return DrawnTransfers(tuple(points), self.typical[at], self.drawn[:, at])


def draw_transfers(wiring: Wiring, points: Sequence[Point], rig: ExciterRig | None = None) -> DrawnTransfers:
    """Draw what sound instruments read at points of an exciter."""
    wiring = with_taps(wiring)
    unknown = (one for one in find_exciter_directions(wiring) if one.attribute != "level")  # ratios lose it
    directions = (*find_directions(wiring), *unknown)
    steps = np.vstack([np.zeros(len(directions)), draw_steps(DRAWS, len(directions))])
    transfer = transfer_of_level(predict_all(wiring, points, directions, steps, rig))
    typical, drawn = transfer[0], transfer[1:]
    error = np.random.default_rng(SEED + 2).standard_normal((2, *drawn.shape))
    drawn = drawn * (1.0 + NOISE_SHARE * error[0]) + NOISE_FLOOR * error[1]
    return DrawnTransfers(tuple(points), typical, drawn)


def find_ratio_bands(
    wiring: Wiring, points: Sequence[Point], rig: ExciterRig | None = None
) -> tuple[RatioBand, ...]:
    """Return the band of every reading under an exciter.

    `HELD` of sound instruments keep all of them.
    """
    return bands_of(draw_transfers(wiring, points, rig))


def bands_of(sound: DrawnTransfers) -> tuple[RatioBand, ...]:
    """Return the bands of transfers that were drawn."""
    points, typical, drawn = sound.points, sound.typical, sound.drawn
    references = [_reference(points, typical, i) for i in range(len(points))]
    ratios, middle = np.zeros(drawn.shape), np.zeros(len(points))
    for i, at in enumerate(references):
        if abs(typical[at]) > HEARD_FROM:
            middle[i] = typical[i] / typical[at]
            ratios[:, i] = drawn[:, i] / drawn[:, at] if i != at else 1.0
    low, high = np.quantile(ratios, (1 - HELD, HELD), axis=0)
    below, above = np.maximum(middle - low, LEAST), np.maximum(high - middle, LEAST)
    beyond = np.maximum((ratios - middle) / above, (middle - ratios) / below).max(axis=1)
    wide = float(np.quantile(beyond, HELD))
    return tuple(
        RatioBand(point, points[at], float(was), float(to), float(to - wide * down), float(to + wide * up))
        for point, at, was, to, down, up in zip(
            points, references, typical, middle, below, above, strict=True
        )
    )


def _reference(points: Sequence[Point], typical: Floats, i: int) -> int:
    """Number of the point at which the coil is expected loudest; the first of several."""
    here = [
        k
        for k, one in enumerate(points)
        if one.coil == points[i].coil and one.frequency_hz == points[i].frequency_hz
    ]
    most = max(abs(typical[k]) for k in here)
    return next(k for k in here if abs(typical[k]) > 0.999 * most)


def judge_transfers(
    wiring: Wiring,
    points: Sequence[Point],
    read: Floats,
    rig: ExciterRig | None = None,
    *,
    sides_kept: bool = True,
    sound: DrawnTransfers | None = None,
) -> tuple[JudgedTransfer, ...]:
    """Judge what an exciter and a blade read of a sound wiring.

    Parameters
    ----------
    points : sequence of Point
        Each once.
    read : ndarray, shape (n_points,)
        Transfers of any strength; of a blade 1 or -1.
    sides_kept : bool
        Whether the exciter lay on every coil with the same side down; else signs between coils say
        nothing.
    sound : DrawnTransfers, optional
        At every point of an exciter among these, where they were drawn before.
    """
    excited = [i for i, one in enumerate(points) if one.kind == "exciter"]
    pulses = [i for i, one in enumerate(points) if one.kind == "blade"]
    told = [points[i] for i in excited]
    bands = dict[int, RatioBand]()
    if excited:
        drawn = sound.some(told) if sound else draw_transfers(wiring, told, rig)
        bands = dict(zip(excited, bands_of(drawn), strict=True))
    number = {(one.coil, one.frequency_hz, id(one)): i for i, one in enumerate(points)}
    found: dict[int, JudgedTransfer] = {}
    for i, band in bands.items():
        reference = number[band.reference.coil, band.reference.frequency_hz, id(band.reference)]
        ratio = float(read[i] / read[reference]) if read[reference] else 0.0
        found[i] = JudgedTransfer(points[i], band, ratio, band.judge(ratio))
    if sides_kept:
        expected = {i: band.transfer for i, band in bands.items() if band.point is band.reference}
        for i in _turned(points, expected, read):
            found[i] = JudgedTransfer(points[i], bands[i], found[i].ratio, "turned")
    levels = dict(zip(pulses, find_pulses(wiring, [points[i] for i in pulses], rig), strict=True))
    turned = _turned(points, levels, read)
    for i in pulses:
        found[i] = JudgedTransfer(points[i], None, 0.0, "turned" if i in turned else "within")
    return tuple(found[i] for i in range(len(points)))


def find_pulses(wiring: Wiring, points: Sequence[Point], rig: ExciterRig | None = None) -> Floats:
    """Return what a blade gives, shape (n_points,).

    From -1 to 1, and near 0 where the coil is silent.
    """
    return predict_all(with_taps(wiring), points, (), np.zeros((1, 0)), rig)[0] if points else np.zeros(0)


def _turned(points: Sequence[Point], expected: dict[int, float], read: Floats) -> set[int]:
    """Readings whose sign is not that of most coils; all where as many are one way as the other."""
    ways: dict[str, float] = {}
    for i, level in expected.items():
        if abs(level) > HEARD_FROM and read[i]:
            ways[points[i].coil] = ways.get(points[i].coil, 0.0) + level * read[i]
    most = sum(np.sign(way) for way in ways.values())
    return {i for i in expected if (way := ways.get(points[i].coil, 0.0)) and np.sign(way) * most <= 0.0}
