"""What one row of the table of dimensions holds, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from functools import cached_property

# Enough digits that any quantity of 64 characters times any factor is exact.
EXACT = Context(prec=200)

# K for kilo and meg for mega are habits of the trade; only k and M are printed.
PREFIXES: Mapping[str, Decimal] = {
    "p": Decimal("1e-12"),
    "n": Decimal("1e-9"),
    "µ": Decimal("1e-6"),
    "m": Decimal("1e-3"),
    "k": Decimal("1e3"),
    "K": Decimal("1e3"),
    "M": Decimal("1e6"),
    "meg": Decimal("1e6"),
    "Meg": Decimal("1e6"),
    "G": Decimal("1e9"),
}


@dataclass(frozen=True)
class Unit:
    """One unit of a dimension, as people write it.

    Attributes
    ----------
    spellings : tuple of str
        Every accepted spelling, the printed one first.
    factor : Decimal
        What one such unit is in SI units.
    prefixes : tuple of str
        The prefixes it may carry, keys of `PREFIXES`.
    """

    spellings: tuple[str, ...]
    factor: Decimal = Decimal(1)
    prefixes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Dimension:
    """How quantities of one dimension are written and printed.

    Attributes
    ----------
    name : str
        What the dimension is called, with its article in `article`.
    article : str
        "a" or "an".
    units : tuple of Unit
        The units that may be written.
    alone : tuple of str
        Prefixes that may stand without a unit, as in 22n. One that could be misread is left out.
    points : tuple of str
        Letters that may stand for the decimal point, as in 4k7 and 2H5 (the marking code of
        IEC 60062, from memory).
    bare : str
        What a number without a unit means; empty if such a number is refused.
    printed : tuple of (str, Decimal)
        What `show` prints after the number and its size in SI units, smallest first.
    examples : tuple of str
        Quantities as people write them, for messages and help.
    note : str
        What is refused, and why.
    """

    name: str
    article: str
    units: tuple[Unit, ...]
    alone: tuple[str, ...]
    points: tuple[str, ...]
    bare: str
    printed: tuple[tuple[str, Decimal], ...]
    examples: tuple[str, ...]
    note: str = ""

    @cached_property
    def with_unit(self) -> Mapping[str, Decimal]:
        """Every ending that names a unit, and its size in SI units."""
        endings: dict[str, Decimal] = {}
        for unit in self.units:
            for spelling in unit.spellings:
                endings[spelling] = unit.factor
                for prefix in unit.prefixes:
                    size = EXACT.multiply(PREFIXES[prefix], unit.factor)
                    endings[prefix + spelling] = size
                    if len(spelling) > 2 and spelling.isalpha():  # a word: "500 k ohm"
                        endings[f"{prefix} {spelling}"] = size
        return endings

    @cached_property
    def endings(self) -> Mapping[str, Decimal]:
        """Every ending that may follow a number, and its size in SI units."""
        bare = {"": Decimal(1)} if self.bare else {}
        return bare | {p: PREFIXES[p] for p in self.alone} | dict(self.with_unit)

    @cached_property
    def allowed(self) -> str:
        """What may be written, in words, with examples."""
        bare = f"; a number alone is {self.bare}" if self.bare else "; a number alone is refused"
        return f"{self.article} {self.name} such as {', '.join(self.examples)}{bare}"
