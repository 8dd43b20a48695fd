"""A row of the table of dimensions: its units, prefixes and examples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from functools import cached_property

# Enough digits to keep a quantity of 64 characters exact under any factor.
EXACT = Context(prec=200)

# The trade also writes K for kilo and meg for mega; only k and M are printed.
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
        Size of the unit in SI units.
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
        In words, without its article.
    article : str
        "a" or "an".
    units : tuple of Unit
        The units that may be written.
    alone : tuple of str
        Prefixes allowed without a unit, as in 22n. Ambiguous ones are left out.
    points : tuple of str
        Letters allowed in place of the decimal point, as in 4k7 and 2H5 (marking code of
        IEC 60062, from memory).
    bare : str
        Meaning of a number without a unit; empty if a unit is required.
    printed : tuple of (str, Decimal)
        Endings that `show` prints, each with its size in SI units, smallest first.
    examples : tuple of str
        Quantities as people write them, for messages and help.
    note : str
        Spellings that are refused, and why.
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
        """Endings that name a unit, each with its size in SI units."""
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
        """All endings allowed after a number, each with its size in SI units."""
        bare = {"": Decimal(1)} if self.bare else {}
        return bare | {p: PREFIXES[p] for p in self.alone} | dict(self.with_unit)

    @cached_property
    def allowed(self) -> str:
        """The spellings allowed, in words, with examples."""
        bare = f"; a number alone is {self.bare}" if self.bare else "; a number alone is refused"
        return f"{self.article} {self.name} such as {', '.join(self.examples)}{bare}"
