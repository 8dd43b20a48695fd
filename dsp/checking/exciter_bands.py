"""Bands of what an exciter reads: by how much settings differ under one coil, and the signs of coils.

What the exciter induces is not known. So each setting is held against the one at which its coil is
expected loudest, and signs against those of the other coils.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from dsp.checking.bands import DRAWS, HELD, LEAST
from dsp.checking.directions import SEED, draw_steps, find_directions, with_taps
from dsp.checking.exciter import (
    HEARD_FROM,
    NOISE_FLOOR,
    NOISE_SHARE,
    ExciterRig,
    find_exciter_directions,
    find_exciter_points,
    predict_all,
    transfer_of_level,
)
from dsp.checking.points import Point
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]

HELD_TO: Final = "held to"
"""Side of a reading that others are held to, and that nothing else tells right from wrong."""
NOT_JUDGED: Final = "not judged"
"""Side of a reading whose coil was read at no setting that hears it."""
Sided = Literal["within", "too low", "too high", "turned", "held to", "not judged"]


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
    heard : bool
        Whether the reference hears the coil: else there is no ratio.
    """

    point: Point
    reference: Point
    transfer: float
    typical: float
    low: float
    high: float
    heard: bool

    @property
    def is_reference(self) -> bool:
        """Whether the others of its coil are held to this one."""
        return self.point == self.reference

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
    side : str
        `HELD_TO` and `NOT_JUDGED` say nothing of the instrument.
    """

    point: Point
    band: RatioBand | None
    ratio: float
    side: Sided

    @property
    def counts(self) -> bool:
        """Whether it says anything of the instrument."""
        return self.side not in (HELD_TO, NOT_JUDGED)


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
    if not points:
        return ()
    references = [_reference(points, typical, i) for i in range(len(points))]
    heard = np.abs(typical[references]) > HEARD_FROM
    ratios, middle = np.zeros(drawn.shape), np.zeros(len(points))
    for i, at in enumerate(references):
        if heard[i]:
            middle[i] = typical[i] / typical[at]
            ratios[:, i] = drawn[:, i] / drawn[:, at] if i != at else 1.0
    low, high = np.quantile(ratios, (1 - HELD, HELD), axis=0)
    below, above = np.maximum(middle - low, LEAST), np.maximum(high - middle, LEAST)
    beyond = np.maximum((ratios - middle) / above, (middle - ratios) / below).max(axis=1)
    wide = float(np.quantile(beyond, HELD))
    return tuple(
        RatioBand(
            points[i],
            points[at],
            float(typical[i]),
            float(middle[i]),
            float(middle[i] - wide * below[i]),
            float(middle[i] + wide * above[i]),
            bool(heard[i]),
        )
        for i, at in enumerate(references)
    )


def _reference(points: Sequence[Point], typical: Floats, i: int) -> int:
    """Number of the point at which the coil is expected loudest; the first of several."""
    here = [
        k
        for k, one in enumerate(points)
        if one.coil == points[i].coil and one.frequency_hz == points[i].frequency_hz
    ]
    most = max(abs(typical[k]) for k in here)
    return next(k for k in here if abs(typical[k]) >= 0.999 * most)


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
        At every point of an exciter that may be read, where they were drawn before.

    Notes
    -----
    One reading of a coil alone says nothing, nor does one pulse: that which others are held to counts
    once a coil beside it tells by its sign.
    """
    excited = [i for i, one in enumerate(points) if one.kind == "exciter"]
    pulses = [i for i, one in enumerate(points) if one.kind == "blade"]
    told = [points[i] for i in excited]
    found: dict[int, JudgedTransfer] = {}
    for i, band in zip(excited, _bands_where_read(wiring, told, rig, sound), strict=True):
        reference = read[excited[told.index(band.reference)]]
        ratio = float(read[i] / reference) if reference else 0.0
        side: Sided = band.judge(ratio) if band.heard else NOT_JUDGED
        if band.heard and band.is_reference and read[i]:
            side = HELD_TO
        found[i] = JudgedTransfer(points[i], band, ratio, side)
    levels = dict(zip(pulses, find_pulses(wiring, [points[i] for i in pulses], rig), strict=True))
    for i, level in levels.items():
        found[i] = JudgedTransfer(points[i], None, 0.0, HELD_TO if abs(level) > HEARD_FROM else NOT_JUDGED)
    loudest = {i: one.band.transfer for i, one in found.items() if one.band and one.side == HELD_TO}
    signs = {
        **(_compare_signs(points, loudest, read) if sides_kept else {}),
        **_compare_signs(points, levels, read),
    }
    for i, turned in signs.items():
        found[i] = replace(found[i], side="turned" if turned else "within")
    return tuple(found[i] for i in range(len(points)))


def _bands_where_read(
    wiring: Wiring, told: Sequence[Point], rig: ExciterRig | None, sound: DrawnTransfers | None
) -> list[RatioBand]:
    """Bands of readings: those of the plan wherever its reference was read, else by the loudest that was."""
    if not told:
        return []
    if sound is None:
        planned = [one for one in find_exciter_points(wiring) if one.kind == "exciter"]
        sound = draw_transfers(wiring, [*planned, *(one for one in told if one not in planned)], rig)
    plan = bands_of(sound)
    bands = [plan[sound.points.index(one)] for one in told]
    loose = [i for i, band in enumerate(bands) if band.reference not in told]
    for i, band in zip(loose, bands_of(sound.some([told[i] for i in loose])), strict=True):
        bands[i] = band
    return bands


def find_pulses(wiring: Wiring, points: Sequence[Point], rig: ExciterRig | None = None) -> Floats:
    """Return what a blade gives, shape (n_points,).

    From -1 to 1, and near 0 where the coil is silent.
    """
    return predict_all(with_taps(wiring), points, (), np.zeros((1, 0)), rig)[0] if points else np.zeros(0)


def _compare_signs(points: Sequence[Point], expected: Mapping[int, float], read: Floats) -> dict[int, bool]:
    """Whether the sign of a reading is not that of most coils; of none where one coil alone has a sign.

    All are where as many coils are one way as the other.
    """
    ways: dict[str, float] = {}
    for i, level in expected.items():
        if abs(level) > HEARD_FROM and read[i]:
            ways[points[i].coil] = ways.get(points[i].coil, 0.0) + level * read[i]
    if len(ways) < 2:
        return {}
    most = sum(np.sign(way) for way in ways.values())
    return {
        i: bool(np.sign(ways[points[i].coil]) * most <= 0.0)
        for i, level in expected.items()
        if abs(level) > HEARD_FROM and read[i]
    }
