"""Print quantities in engineering form, so that `parse` reads them back."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal

from dsp.errors import InputError
from dsp.units.dimension import EXACT
from dsp.units.table import DIMENSIONS

_MOST_DIGITS = 17  # a float holds no more


def show(value: float, dimension: str, digits: int | None = 4) -> str:
    """Format a quantity in engineering form: 4.7 kΩ, 22 nF, 2.5 H, 18 %.

    Parameters
    ----------
    value : float
        In SI units.
    dimension : str
        A key of `DIMENSIONS`.
    digits : int or None
        Significant digits, 1 to 17; None prints the fewest that read back as the same float.

    Returns
    -------
    str
        `parse` reads it back as the same float, or as the value rounded to ``digits``
        significant digits (half to even, in decimal).

    Raises
    ------
    InputError
        If the value is not finite or ``digits`` is out of range.
    KeyError
        If there is no such dimension.

    Examples
    --------
    >>> show(4700.0, "resistance")
    '4.7 kΩ'
    >>> show(0.1534, "share", digits=2)
    '15 %'
    """
    if not math.isfinite(value):
        raise InputError("value", str(value), f"a finite {dimension}")
    if digits is not None and not 1 <= digits <= _MOST_DIGITS:
        raise InputError("digits", str(digits), f"1 to {_MOST_DIGITS}, or None")
    exact = Decimal(repr(float(value)))  # the shortest decimal that is this float
    if digits is not None:
        exact = Context(prec=digits, rounding=ROUND_HALF_EVEN).plus(exact)
    ending, size = _scale(abs(exact), DIMENSIONS[dimension].printed)
    return f"{_plain(EXACT.divide(exact, size))} {ending}".rstrip()


def count_words(n: int, thing: str, ending: str = "s") -> str:
    """Return a number of things in words, such as ``1 pole`` or ``3 poles``."""
    return f"{n} {thing}{'' if n == 1 else ending}"


def _scale(magnitude: Decimal, printed: tuple[tuple[str, Decimal], ...]) -> tuple[str, Decimal]:
    """Return the largest unit that leaves at least 1 before the point; the plain one for 0."""
    if not magnitude:
        return next((row for row in printed if row[1] == 1), printed[0])
    fitting = [row for row in printed if row[1] <= magnitude]
    return fitting[-1] if fitting else printed[0]


def _plain(number: Decimal) -> str:
    """Format a number without trailing zeros; use an exponent only for very long ones."""
    if not number:
        return "0"
    number = number.normalize(EXACT)
    if -6 <= number.adjusted() <= 9:
        return f"{number:f}"
    return f"{number:e}".replace("e+", "e")
