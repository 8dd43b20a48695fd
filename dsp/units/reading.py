"""Read quantities as people write them, without guessing."""

from __future__ import annotations

import math
import re
from decimal import Decimal

from dsp.errors import InputError
from dsp.units.dimension import EXACT, PREFIXES, Dimension
from dsp.units.table import DIMENSIONS

MAX_LENGTH = 64

# Look-alikes only. Unicode's own folding (NFKC) would also turn 10² into 102.
_LOOKALIKES = str.maketrans(
    {
        "u": "µ",
        "\N{GREEK SMALL LETTER MU}": "µ",
        "\N{OHM SIGN}": "Ω",
        "\N{MINUS SIGN}": "-",
        "\N{NO-BREAK SPACE}": " ",
        "\N{NARROW NO-BREAK SPACE}": " ",
        "\N{THIN SPACE}": " ",
    }
)
_PLAIN = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?) *(.*)", re.DOTALL)
_LETTER_POINT = re.compile(r"([+-]?)([0-9]*)([A-Za-zµ])([0-9]+) *(.*)", re.DOTALL)


def parse(text: str, dimension: str, where: str = "value") -> float:
    """Read the quantity that a text states, in SI units.

    Parameters
    ----------
    text : str
        As written: ``4k7``, ``22n``, ``.022uF``, ``2H5``, ``500 kΩ``, ``18 %``.
    dimension : str
        A key of `DIMENSIONS`.
    where : str
        Place of the text, for the error message.

    Returns
    -------
    float
        The value in SI units, correctly rounded from the decimal that was written.

    Raises
    ------
    InputError
        If the text is not exactly one finite quantity of this dimension, or is ambiguous.
    KeyError
        If there is no such dimension.

    References
    ----------
    The letter for a decimal point: IEC 60062 (from memory). The prefixes: SI brochure, 9th ed., table 7.

    Examples
    --------
    >>> parse("4k7", "resistance")
    4700.0
    >>> parse(".022uF", "capacitance")
    2.2e-08
    """
    row = DIMENSIONS[dimension]
    if len(text) > MAX_LENGTH:
        raise InputError(where, f"{text[:20]!r}… ({len(text)} characters)", row.allowed)
    exact = _read(_tidy(text), row)
    if exact is None:
        raise InputError(where, repr(text), row.allowed, _hint(text, row))
    value = float(exact)
    if math.isinf(value) or (value == 0.0 and exact != 0):
        raise InputError(where, repr(text), f"{row.allowed}; within the range of a floating-point number")
    return value + 0.0  # no negative zero


def _tidy(text: str) -> str:
    """Replace look-alike signs by one spelling each."""
    return re.sub(r" */ *", "/", text.translate(_LOOKALIKES).strip(" \t"))


def _read(tidy: str, row: Dimension, *, unit_needed: bool = False) -> Decimal | None:
    """Return the exact value in SI units, or None if the text is not of this dimension."""
    endings = row.with_unit if unit_needed else row.endings
    plain = _PLAIN.fullmatch(tidy)
    if plain and plain[2] in endings:
        return EXACT.multiply(Decimal(plain[1]), endings[plain[2]])
    coded = _LETTER_POINT.fullmatch(tidy)
    if coded and coded[3] in row.points:
        names_unit = bool(coded[5]) or coded[3] not in PREFIXES
        return _read_coded(coded, row) if names_unit or not unit_needed else None
    return None


def _read_coded(coded: re.Match[str], row: Dimension) -> Decimal | None:
    """Read 4k7, 2H5, R47, 2n2F: the letter is decimal point and prefix (or unit) in one."""
    sign, whole, letter, fraction, unit = coded.groups()
    number = Decimal(f"{sign}{whole or '0'}.{fraction}")
    if letter not in PREFIXES:  # the letter is the unit: no second one may follow
        return None if unit else number
    if unit and not any(unit in u.spellings and letter in u.prefixes for u in row.units):
        return None
    return EXACT.multiply(number, PREFIXES[letter])


def _hint(text: str, row: Dimension) -> str:
    """Return a guess at the mistake, for the error message."""
    tidy = _tidy(text)
    if not tidy:
        return "the value is empty"
    if "," in tidy:
        return "a comma is ambiguous (thousands or decimals); write the decimal point as '.'"
    if _read(tidy, DIMENSIONS["number"]) is not None:
        return "the unit is missing"
    if row.note and re.search(r"[0-9] *[mM]([0-9]|$|[fF])", tidy):
        return row.note
    for unit_needed, verb in ((True, "is"), (False, "could be")):
        others = [d for d in DIMENSIONS.values() if _read(tidy, d, unit_needed=unit_needed) is not None]
        if others:
            return f"this {verb} {' or '.join(f'{d.article} {d.name}' for d in others)}"
    if _read(tidy.swapcase(), row) is not None or re.search(r"[0-9] *[mM](?![a-z])", tidy):
        return "prefixes are case-sensitive: p, n, µ and m are lower case, M is mega"
    return ""
