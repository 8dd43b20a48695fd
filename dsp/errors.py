"""The one exception for bad input.

    ValueError
    └── InputError      what stands in a file, an option or a call cannot be used

An InputError carries every problem found in one go, each saying where it is, what was got
and what is allowed, so that a person mends a file once and not once per run.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that cannot be used.

    Attributes
    ----------
    where : str
        The place: ``file:line``, a part and field, or an option.
    got : str
        What was written, as it was written.
    allowed : str
        What may stand there.
    hint : str
        A guess at what was meant, or nothing.
    """

    where: str
    got: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: got {self.got}; allowed: {self.allowed}"
        return f"{text} ({self.hint})" if self.hint else text


class InputError(ValueError):
    """Input that cannot be used: where, what was got, what is allowed.

    Parameters
    ----------
    where, got, allowed, hint : str
        As in `Problem`.
    """

    problems: tuple[Problem, ...]

    def __init__(self, where: str, got: str, allowed: str, hint: str = "") -> None:
        self.problems = (Problem(where, got, allowed, hint),)
        super().__init__(str(self.problems[0]))

    @classmethod
    def of(cls, problems: Iterable[Problem]) -> InputError:
        """One error that carries several problems, in the order given."""
        found = tuple(problems)
        first = found[0]
        error = cls(first.where, first.got, first.allowed, first.hint)
        error.problems = found
        error.args = ("\n".join(str(problem) for problem in found),)
        return error


MOST_NAMES = 20
"""Names that an error lists of what is allowed; a person reads no more."""
LONGEST_GUESSED = 60
"""Characters; longer names are slips of another kind, and comparing them takes long."""


def some(names: Iterable[str]) -> str:
    """Names as an error lists what is allowed, cut when there are many."""
    known = list(names)
    if len(known) <= MOST_NAMES:
        return ", ".join(known)
    return f"{', '.join(known[:MOST_NAMES])}, … ({len(known)} in all)"


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint at the known name that was meant; empty if none is near."""
    if len(name) > LONGEST_GUESSED:
        return ""
    by_lower = {k.lower(): k for k in known}
    match = difflib.get_close_matches(name.lower(), by_lower, n=1, cutoff=0.6)
    return f"did you mean '{by_lower[match[0]]}'?" if match else ""
