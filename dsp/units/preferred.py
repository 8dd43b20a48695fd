"""Preferred values of IEC 60063: tables, the nearest value, the next value.

The tables are stored because several values of E24 and below differ from the rounded powers
10^(i/n): 27, 30, 33, 36, 39, 43, 47 and 82.

References
----------
IEC 60063:2015, Preferred number series for resistors and capacitors. E6, E12 and E24 were read on
a public page that tabulates the standard; E3, E48 and E96 are from memory (E48 and E96 are
10^(i/n) rounded to three digits; the standard's one exception, 9.20, is in E192 alone).
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Mapping

from dsp.errors import InputError
from dsp.errors import nearest as nearest_name

_VALUES = {
    "E3": "1.0 2.2 4.7",
    "E6": "1.0 1.5 2.2 3.3 4.7 6.8",
    "E12": "1.0 1.2 1.5 1.8 2.2 2.7 3.3 3.9 4.7 5.6 6.8 8.2",
    "E24": "1.0 1.1 1.2 1.3 1.5 1.6 1.8 2.0 2.2 2.4 2.7 3.0 3.3 3.6 3.9 4.3 4.7 5.1 5.6 6.2 6.8 7.5 8.2 9.1",
    "E48": """
        1.00 1.05 1.10 1.15 1.21 1.27 1.33 1.40 1.47 1.54 1.62 1.69 1.78 1.87 1.96 2.05 2.15 2.26 2.37 2.49
        2.61 2.74 2.87 3.01 3.16 3.32 3.48 3.65 3.83 4.02 4.22 4.42 4.64 4.87 5.11 5.36 5.62 5.90 6.19 6.49
        6.81 7.15 7.50 7.87 8.25 8.66 9.09 9.53
    """,
    "E96": """
        1.00 1.02 1.05 1.07 1.10 1.13 1.15 1.18 1.21 1.24 1.27 1.30 1.33 1.37 1.40 1.43 1.47 1.50 1.54 1.58
        1.62 1.65 1.69 1.74 1.78 1.82 1.87 1.91 1.96 2.00 2.05 2.10 2.15 2.21 2.26 2.32 2.37 2.43 2.49 2.55
        2.61 2.67 2.74 2.80 2.87 2.94 3.01 3.09 3.16 3.24 3.32 3.40 3.48 3.57 3.65 3.74 3.83 3.92 4.02 4.12
        4.22 4.32 4.42 4.53 4.64 4.75 4.87 4.99 5.11 5.23 5.36 5.49 5.62 5.76 5.90 6.04 6.19 6.34 6.49 6.65
        6.81 6.98 7.15 7.32 7.50 7.68 7.87 8.06 8.25 8.45 8.66 8.87 9.09 9.31 9.53 9.76
    """,
}
SERIES: Mapping[str, tuple[float, ...]] = {
    name: tuple(float(value) for value in text.split()) for name, text in _VALUES.items()
}

_SMALLEST, _LARGEST = 1e-18, 1e18
_MOST_STEPS = 1000
# Relative difference treated as rounding; the smallest step of a series is 2 %.
_SAME = 1e-9


def nearest_value(value: float, series: str) -> float:
    """Return the preferred value nearest by ratio, in the same unit.

    Parameters
    ----------
    value : float
        In any unit, 1e-18 to 1e18.
    series : str
        A key of `SERIES`, such as ``"E12"``.

    Returns
    -------
    float
        The lower value in a tie.

    Raises
    ------
    InputError
        If the value is out of range or the series unknown.

    Examples
    --------
    >>> nearest_value(24e-9, "E6")
    2.2e-08
    """
    row = _row(series)
    place = _floor(_checked(value), row)
    below, above = _value(row, place), _value(row, place + 1)
    return below if value / below <= above / value else above


def step_value(value: float, series: str, up: int) -> float:
    """Return the preferred value a number of steps above or below a value.

    Parameters
    ----------
    value : float
        In any unit, 1e-18 to 1e18; it may lie between two values of the series.
    series : str
        A key of `SERIES`.
    up : int
        1 for the next value above, -1 for the next below, 0 for the nearest.

    Returns
    -------
    float
        Strictly above (below) the value unless ``up`` is 0.

    Raises
    ------
    InputError
        If the value is out of range, the series unknown, or ``up`` beyond 1000 steps.
    """
    row = _row(series)
    if abs(up) > _MOST_STEPS:
        raise InputError("steps", str(up), f"-{_MOST_STEPS} to {_MOST_STEPS}")
    if up == 0:
        return nearest_value(value, series)
    place = _floor(_checked(value), row)
    on_series = value <= _value(row, place) * (1 + _SAME)
    return _value(row, place + up + (1 if up < 0 and not on_series else 0))


def _row(series: str) -> tuple[float, ...]:
    if series not in SERIES:
        raise InputError("series", repr(series), ", ".join(SERIES), nearest_name(series, SERIES))
    return SERIES[series]


def _checked(value: float) -> float:
    if not (math.isfinite(value) and _SMALLEST <= value <= _LARGEST):
        raise InputError("value", str(value), f"a number from {_SMALLEST:g} to {_LARGEST:g}")
    return value


def _value(row: tuple[float, ...], place: int) -> float:
    """Return the value at a place counted through all decades; place 0 is 1.0."""
    decade, index = divmod(place, len(row))
    return float(f"{row[index]}e{decade}")


def _floor(value: float, row: tuple[float, ...]) -> int:
    """Return the place of the largest preferred value that is not above this one."""
    decade = math.floor(math.log10(value))
    place = decade * len(row) + bisect.bisect_right(row, value / 10.0**decade) - 1
    while _value(row, place) > value * (1 + _SAME):
        place -= 1
    while _value(row, place + 1) <= value * (1 + _SAME):
        place += 1
    return place
