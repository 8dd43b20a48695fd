"""Pot tapers: the share of the resistance between lugs 1 and 2 at each setting.

A taper is a chain of straight lines through points (a, share), where a is knob/10.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from numbers import Real
from typing import overload

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError, Problem, nearest

Floats = NDArray[np.float64]
Point = tuple[float, float]

AUDIO_MIDPOINT = 0.15
REVERSE_AUDIO_MIDPOINT = 0.85
SINGLE = ("linear", "audio", "reverse audio", "measured audio")
"""Tapers of a pot that has its shaft to itself."""
NAMES = (*SINGLE, "blend", "reverse blend")
"""Every named taper. The last two are the tracks of a blend pot, each flat over half its travel."""
_MOST_POINTS = 1000

# Mean share of three 100 kΩ audio pots at 0, 5, … 100 % of travel. Computed from the ohms that
# B. Holmes and M. van Walstijn measured every 15 degrees of 300 ("Potentiometer law modelling and
# identification for application in physics-based virtual analog circuits", DAFx-19, companion
# pages): each pot is divided by its own total. The mean is rounded to three decimals.
_MEASURED_AUDIO = (
    *(0.0, 0.001, 0.007, 0.014, 0.022, 0.039, 0.068, 0.092, 0.114, 0.138),
    *(0.160, 0.185, 0.209, 0.308, 0.447, 0.586, 0.734, 0.889, 0.988, 1.0, 1.0),
)


@dataclass(frozen=True)
class Taper:
    """A chain of straight lines through points (a, share).

    Attributes
    ----------
    points : tuple of (float, float)
        From (0, 0) to (1, 1). The first number strictly rises; the second never falls.

    Raises
    ------
    InputError
        If the points are not such a chain; it lists every problem.
    """

    points: tuple[Point, ...]

    def __post_init__(self) -> None:
        found = problems(self.points)
        if found:
            raise InputError.of(found)

    @overload
    def share(self, a: float) -> float: ...
    @overload
    def share(self, a: Floats) -> Floats: ...
    def share(self, a: float | Floats) -> float | Floats:
        """Return the share of the resistance between lugs 1 and 2.

        Parameters
        ----------
        a : float or ndarray, any shape
            knob/10, 0 to 1.

        Returns
        -------
        float or ndarray, shape of a
            0 (wiper at lug 1) to 1 (wiper at lug 3).

        Raises
        ------
        InputError
            If any a is outside 0 to 1 or not a number.

        Examples
        --------
        >>> linear().share(0.25), audio().share(0.5), reverse_audio().share(0.5)
        (0.25, 0.15, 0.85)
        """
        where = np.asarray(a, dtype=np.float64)
        outside = ~((where >= 0.0) & (where <= 1.0))
        if np.any(outside):
            raise InputError("knob/10", str(where[outside].flat[0]), "0 to 1")
        xs, shares = zip(*self.points, strict=True)
        result = np.interp(where, xs, shares)
        return float(result) if where.ndim == 0 else np.asarray(result, dtype=np.float64)


def problems(points: object, where: str = "taper") -> list[Problem]:
    """Return the problems that keep a list of points from being a taper."""
    if not isinstance(points, Sequence) or isinstance(points, str):
        return [Problem(where, repr(points), "a list of points [a, share]")]
    if not 2 <= len(points) <= _MOST_POINTS:
        return [Problem(where, f"{len(points)} point(s)", f"2 to {_MOST_POINTS} points [a, share]")]
    found = [
        Problem(f"{where}, point {n}", repr(point), "two numbers from 0 to 1, as in [0.62, 0.22]")
        for n, point in enumerate(points, 1)
        if not _is_point(point)
    ]
    return found or _order_problems(points, where)


def _is_point(point: object) -> bool:
    return (
        isinstance(point, Sequence)
        and not isinstance(point, str)
        and len(point) == 2
        and all(isinstance(v, Real) and not isinstance(v, bool) for v in point)
        and all(math.isfinite(v) and 0.0 <= v <= 1.0 for v in point)
    )


def _order_problems(points: Sequence[Point], where: str) -> list[Problem]:
    found = []
    if tuple(points[0]) != (0.0, 0.0):
        found.append(Problem(f"{where}, point 1", repr(points[0]), "[0, 0] as the first point"))
    if tuple(points[-1]) != (1.0, 1.0):
        found.append(Problem(f"{where}, point {len(points)}", repr(points[-1]), "[1, 1] as the last point"))
    for n, (before, after) in enumerate(pairwise(points), 2):
        if not after[0] > before[0]:
            allowed = f"a setting above {before[0]:g}, the one before"
            found.append(Problem(f"{where}, point {n}", repr(after), allowed))
        if after[1] < before[1]:
            allowed = f"a share of {before[1]:g}, the one before, or more"
            found.append(Problem(f"{where}, point {n}", repr(after), allowed))
    return found


def from_points(points: object, where: str = "taper") -> Taper:
    """Return the taper through points in the form of a wiring file.

    Raises
    ------
    InputError
        If the points are not a taper. It lists every problem with ``where`` and the point.
    """
    found = problems(points, where)
    if found:
        raise InputError.of(found)
    assert isinstance(points, Sequence)  # problems() has checked it
    return Taper(tuple((float(x), float(y)) for x, y in points))


def linear() -> Taper:
    """Return a taper whose share equals the setting."""
    return Taper(((0.0, 0.0), (1.0, 1.0)))


def audio(midpoint: float = AUDIO_MIDPOINT) -> Taper:
    """Return two straight lines that meet at half travel, at a low share.

    Parameters
    ----------
    midpoint : float
        The share at 5, 0 to 1. Makers offer 5 to 30 %; 15 % is the most common (Holmes and van
        Walstijn, DAFx-19, companion pages).

    Raises
    ------
    InputError
        If it is no share from 0 to 1.
    """
    return _two_lines(midpoint)


def reverse_audio(midpoint: float = REVERSE_AUDIO_MIDPOINT) -> Taper:
    """Return two straight lines that meet at half travel, at a high share.

    Parameters
    ----------
    midpoint : float
        The share at 5, 0 to 1.

    Raises
    ------
    InputError
        If it is no share from 0 to 1.
    """
    return _two_lines(midpoint)


def _two_lines(midpoint: float) -> Taper:
    if not 0.0 <= midpoint <= 1.0:
        raise InputError("midpoint", str(midpoint), "a share from 0 to 1 (0 % to 100 %)")
    return Taper(((0.0, 0.0), (0.5, float(midpoint)), (1.0, 1.0)))


def measured_audio() -> Taper:
    """Return the mean curve of three measured audio pots.

    It has a point every 5 % of travel. The first 5 % and the last 10 % of travel do almost nothing.
    The knee lies at 62 % of travel, not at half, so two lines that meet at 5 do not fit real audio
    pots.

    References
    ----------
    B. Holmes and M. van Walstijn, "Potentiometer law modelling and identification for application
    in physics-based virtual analog circuits", DAFx-19, companion pages: the resistance between lug 1
    and wiper of three 100 kΩ pots, every 15 degrees of 300. The values here are the computed mean.
    """
    steps = len(_MEASURED_AUDIO) - 1
    return Taper(tuple((n / steps, share) for n, share in enumerate(_MEASURED_AUDIO)))


def blend() -> Taper:
    """Return a track that is whole from half travel on."""
    return Taper(((0.0, 0.0), (0.5, 1.0), (1.0, 1.0)))


def reverse_blend() -> Taper:
    """Return a track that does nothing up to half travel."""
    return Taper(((0.0, 0.0), (0.5, 0.0), (1.0, 1.0)))


def named(name: str, midpoint: float | None = None, where: str = "taper") -> Taper:
    """Return the taper with a name of the wiring file.

    Parameters
    ----------
    name : str
        One of `NAMES`.
    midpoint : float or None
        The share at 5; only for audio and reverse audio.
    where : str
        The place, for the error message.

    Raises
    ------
    InputError
        If the name is unknown, or the midpoint is out of range or does not apply.

    Examples
    --------
    >>> named("audio").share(0.5), named("linear").share(0.5)
    (0.15, 0.5)
    """
    if name in ("audio", "reverse audio"):
        default = AUDIO_MIDPOINT if name == "audio" else REVERSE_AUDIO_MIDPOINT
        return _two_lines(default if midpoint is None else midpoint)
    makers = {
        "linear": linear,
        "measured audio": measured_audio,
        "blend": blend,
        "reverse blend": reverse_blend,
    }
    if name not in makers:
        allowed = f"{', '.join(NAMES)} or a list of points"
        raise InputError(where, repr(name), allowed, nearest(name, NAMES))
    if midpoint is not None:
        raise InputError(where, f"a midpoint with {name}", "a midpoint with audio or reverse audio only")
    return makers[name]()
