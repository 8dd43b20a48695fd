"""What an exciter over one coil reads at the jack, and the pulse of a steel blade.

A small winding lies over one coil and stays there while the selector goes round. Its field induces
an EMF in that coil, and the jack shows what the wiring makes of it. How much it induces is not known,
but it is the same at every setting: ratios and signs are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import Direction, find_directions, make_copies
from dsp.checking.points import Point, noise_of, predict
from dsp.circuit.copies import Copies, respond_copies
from dsp.parts.load import Load
from dsp.sheet.readings import settings_of
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

EXCITER_HZ = (200.0, 900.0)
"""Where the transfer is read. Coils divide by their resistances at the first, by their inductances at the
second. Both lie below every resonance under a cable, so that the part in phase is nearly all of it and
its sign is sure; |Z| tells what lies above. The first is no harmonic of 60 Hz."""
TYPED_HZ = EXCITER_HZ[-1]
"""Of a level typed by hand, unless it says another. A winding's EMF grows with frequency: levels are
compared as they would be here."""
BLADE_HZ = EXCITER_HZ[0]
"""A pulse of a blade is slow."""
INPUT_OHM, CABLE_F = 1e6, 500e-12
"""Of the input at the jack, and of the cable with it: taken unless stated (common practice)."""
CABLE_SPREAD = 0.4
"""Of the cable, two standard deviations."""
NOISE_SHARE, NOISE_FLOOR = 0.015, 0.03
"""Error of a reading, one standard deviation: of the reading, and of a coil that reaches the jack alone."""
LEVEL_SD, WHOLE_LEVEL_SD = log(10) / 20 * 2.0, log(10) / 20 * 6.0
"""Standard deviation of the logarithm of what the exciter induces: in one coil against the others (2 dB), and
in all (6 dB, once readings are brought to the level expected)."""
SHARE, SHARE_SD = 0.2, 0.1
"""EMF in the other coil of a housing, as a share: our own choice, about the coefficient of two coils."""
HEARD_FROM = 5 * NOISE_FLOOR
"""Transfer from which a coil's sign and level are sure."""
BLADE_SD = 0.5
"""Of a pulse, whose sign alone is read: one of 3000 pulses of a coil alone is taken the wrong way round."""
EXCITER = "exciter"
COMMON = "every coil"


@dataclass(frozen=True)
class ExciterRig:
    """What is at the jack while an exciter plays.

    Attributes
    ----------
    input_ohm : float
        Resistance of the input that reads the jack.
    cable_f : float
        Capacitance of the cable and of the input.
    """

    input_ohm: float = INPUT_OHM
    cable_f: float = CABLE_F

    @property
    def load(self) -> Load:
        """Both as a load: the cable as one metre."""
        return Load(1.0, self.cable_f, self.input_ohm, 0.0)


def find_exciter_points(wiring: Wiring) -> tuple[Point, ...]:
    """Return every reading of an exciter and of a blade.

    The exciter lies over each coil at every setting of selector and switches, the blade over each coil
    where it is loudest; all knobs stand at 10.
    """
    settings = tuple(settings_of(wiring))
    found = [Point(one, hz, coil) for coil in wiring.coils for one in settings for hz in EXCITER_HZ]
    return (*found, *(Point(_loudest(wiring, coil, settings), 0.0, coil) for coil in _sensing(wiring)))


def _sensing(wiring: Wiring) -> tuple[str, ...]:
    return tuple(name for name, coil in wiring.coils.items() if coil.sensitivity)


def _loudest(wiring: Wiring, coil: str, settings: Sequence[Setting]) -> Setting:
    """Where a coil reaches the jack best; the first of several."""
    response, _ = respond_copies(wiring, settings, np.array([BLADE_HZ]), Copies(1))
    size = np.abs(response[:, 0, list(wiring.coils).index(coil), 0])
    return settings[int(np.argmax(size > 0.999 * size.max()))]


def find_exciter_directions(wiring: Wiring) -> tuple[Direction, ...]:
    """Return what is unknown of an exciter, each a direction.

    The level in all coils, that in each, the share that the other coil of its housing gets, and the
    cable.
    """
    (cable,) = (one for one in find_directions(wiring, cable=CABLE_SPREAD) if one.part == "cable")
    housed = {name for pair in wiring.couplings for name in (pair.first, pair.second)}
    return (
        cable,
        Direction(EXCITER, COMMON, "level", WHOLE_LEVEL_SD),
        *(Direction(EXCITER, name, "level", LEVEL_SD) for name in wiring.coils),
        *(Direction(EXCITER, name, "share", SHARE_SD) for name in wiring.coils if name in housed),
    )


def predict_all(
    wiring: Wiring,
    points: Sequence[Point],
    directions: Sequence[Direction],
    steps: Floats,
    rig: ExciterRig | None = None,
) -> Floats:
    """Return what every copy reads at points of any kind.

    Parameters
    ----------
    steps : ndarray, shape (count, n_directions)
        Standard deviations along each direction.

    Returns
    -------
    ndarray, shape (count, n_points)
        Levels: logarithms of ohms by `level_of`, transfers by `signed_level`, pulses from -1 to 1.
    """
    parts = [i for i, one in enumerate(directions) if one.part != EXCITER]
    own, back = np.unique(steps[:, parts], axis=0, return_inverse=True)
    copies = make_copies(wiring, [directions[i] for i in parts], own)
    found = np.zeros((len(steps), len(points)))
    by_ohms = [i for i, point in enumerate(points) if not point.coil]
    if by_ohms:
        found[:, by_ohms] = predict(wiring, [points[i] for i in by_ohms], copies)[back.ravel()]
    told = [i for i, point in enumerate(points) if point.coil]
    if told:
        here = [points[i] for i in told]
        transfer = transfer_copies(wiring, here, copies, rig or ExciterRig())[back.ravel()]
        found[:, told] = _levels(wiring, here, transfer, directions, steps)
    return found


def transfer_copies(wiring: Wiring, points: Sequence[Point], copies: Copies, rig: ExciterRig) -> Complex:
    """Return transfers to the jack from the EMF of a coil and its neighbours.

    Returns
    -------
    ndarray, shape (count, n_points, 2)
        Of the coil itself, and the sum of its neighbours for a share of 1: signs of the winding and of
        the couplings count in, turns count as hum does.
    """
    loaded = replace(wiring, load=rig.load)
    settings: list[Setting] = []
    where = []
    for point in points:
        if point.setting not in settings:
            settings.append(point.setting)
        where.append(settings.index(point.setting))
    hz = sorted({point.frequency_hz or BLADE_HZ for point in points})
    response, _ = respond_copies(loaded, settings, np.array(hz), copies)
    number = {name: i for i, name in enumerate(wiring.coils)}
    turns = {name: coil.winding * (coil.hum_pick_up or 1.0) for name, coil in wiring.coils.items()}
    found = np.zeros((copies.count, len(points), 2), complex)
    for i, (point, at) in enumerate(zip(points, where, strict=True)):
        column = hz.index(point.frequency_hz or BLADE_HZ)
        found[:, i, 0] = turns[point.coil] * response[at, :, number[point.coil], column]
        for pair in wiring.couplings:
            if point.coil in (pair.first, pair.second):
                other = pair.second if point.coil == pair.first else pair.first
                # a current in the coil itself would induce the same: its sign is the coefficient's
                sign = np.sign(pair.coefficient) * np.sign(turns[point.coil])
                found[:, i, 1] += sign * abs(turns[other]) * response[at, :, number[other], column]
    return found


def _levels(
    wiring: Wiring,
    points: Sequence[Point],
    transfer: Complex,
    directions: Sequence[Direction],
    steps: Floats,
) -> Floats:
    """Levels of what the exciter or the blade gives, shape (count, n_points)."""
    moved = {
        (one.attribute, one.field): one.sd * column
        for one, column in zip(directions, steps.T, strict=True)
        if one.part == EXCITER
    }
    none = np.zeros(len(steps))
    found = np.zeros((len(steps), len(points)))
    for i, point in enumerate(points):
        own, others = transfer[:, i, 0], transfer[:, i, 1]
        if point.kind == "blade":
            coil = wiring.coils[point.coil]
            heard = coil.magnet * own.real
            found[:, i] = heard / (np.abs(heard) + NOISE_FLOOR)
            continue
        share = np.maximum(SHARE + moved.get(("share", point.coil), none), 0.0)
        level = moved.get(("level", COMMON), none) + moved.get(("level", point.coil), none)
        found[:, i] = signed_level(np.exp(level) * (own + share * others).real)
    return found


def signed_level(transfer: Floats) -> Floats:
    """Return a level that keeps its sign: a logarithm above the noise.

    Of transfers of any shape.
    """
    return np.asarray(np.arcsinh(transfer / (2 * NOISE_FLOOR)))


def transfer_of_level(level: Floats) -> Floats:
    """Return the transfers of levels by `signed_level`, of any shape."""
    return np.asarray(2 * NOISE_FLOOR * np.sinh(level))


def noise_of_all(levels: Floats, points: Sequence[Point]) -> Floats:
    """Return the standard deviation of levels of points of any kind.

    Parameters
    ----------
    levels : ndarray, shape (..., n_points)

    Returns
    -------
    ndarray, shape (..., n_points)
    """
    found = noise_of(levels, points)
    for i, point in enumerate(points):
        if point.kind == "exciter":
            size = np.abs(transfer_of_level(levels[..., i]))
            found[..., i] = (NOISE_SHARE * size + NOISE_FLOOR) / np.hypot(size, 2 * NOISE_FLOOR)
        elif point.kind == "blade":
            found[..., i] = BLADE_SD
    return found


def bring_to_level(
    wiring: Wiring, points: Sequence[Point], read: Floats, rig: ExciterRig | None = None
) -> Floats:
    """Return transfers as an exciter of the expected strength would read them.

    The coil that reads loudest, for what is expected of it, keeps its expected level: one that a fault
    silences says nothing of the exciter.

    Parameters
    ----------
    read : ndarray, shape (n_points,)
        As `exciter` points are read: input 2 over input 1, at the level of `TYPED_HZ`.

    Returns
    -------
    ndarray, shape (n_points,)
    """
    expected = transfer_copies(wiring, points, Copies(1), rig or ExciterRig())[0]
    sizes = np.abs((expected[:, 0] + SHARE * expected[:, 1]).real)
    factors = []
    for coil in dict.fromkeys(point.coil for point in points):
        here = [i for i, point in enumerate(points) if point.coil == coil]
        size = float(np.linalg.norm(read[here]))
        # what crosstalk leaves where a coil is silent says nothing of the exciter's strength
        if size > 0.0 and sizes[here].max() > HEARD_FROM:
            factors.append(float(np.linalg.norm(sizes[here])) / size)
    return read * min(factors, default=1.0)
