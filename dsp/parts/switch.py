"""Switches as plain tables: which lugs each position joins.

Lugs are named by pole and throw: A0 is the common lug of pole A, A1, A2, … its throws. The tables
below are the trade's usual kinds (common practice); any other is written out as a table.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Literal

from dsp.errors import InputError, Problem, nearest, some

Groups = tuple[tuple[str, ...], ...]

MOST_LUGS = 256
MOST_POLES = 24
MOST_POSITIONS = 24
MOST_GUESSES = 5
"""Unknown lugs of a position that come with a guess."""
# No '.', which parts a lug from its switch; short enough for a chart and a file name.
_NAME = re.compile(r"[A-Za-z0-9_+-]{1,16}")
_NAME_ALLOWED = "1 to 16 of the characters A-Z a-z 0-9 _ + -"


@dataclass(frozen=True)
class Switch:
    """The lugs of a switch and, per position, the groups of lugs it joins.

    Attributes
    ----------
    lugs : tuple of str
        Every lug, in the order of the part.
    contacts : mapping of str to tuple of tuple of str
        Position name to groups of joined lugs, in the order of the lever or shaft. A position
        without groups joins nothing.

    Raises
    ------
    InputError
        With every problem that `validate` finds.
    """

    lugs: tuple[str, ...]
    contacts: Mapping[str, Groups]

    def __post_init__(self) -> None:
        found = validate(self.lugs, self.contacts)
        if found:
            raise InputError.of(found)

    @property
    def positions(self) -> tuple[str, ...]:
        """The names of the positions, in order."""
        return tuple(self.contacts)


def validate(
    lugs: Sequence[str], contacts: Mapping[str, Sequence[Sequence[str]]], where: str = "switch"
) -> list[Problem]:
    """Everything that keeps a table from being a switch.

    Parameters
    ----------
    lugs : sequence of str
        The lugs' names.
    contacts : mapping of str to sequences of sequences of str
        Per position, the groups of joined lugs.
    where : str
        The place, for the messages.

    Returns
    -------
    list of Problem
        Empty for a sound table.
    """
    found = _lug_problems(lugs, where)
    if not 1 <= len(contacts) <= MOST_POSITIONS:
        allowed = f"1 to {MOST_POSITIONS} positions"
        found.append(Problem(f"{where}.contacts", f"{len(contacts)} positions", allowed))
    for position, groups in list(contacts.items())[:MOST_POSITIONS]:
        place = f"{where}.contacts, position {position}"
        if not _NAME.fullmatch(position):
            found.append(Problem(place, repr(position), _NAME_ALLOWED))
        found += _group_problems(groups, lugs, place)
    return found


def _lug_problems(lugs: Sequence[str], where: str) -> list[Problem]:
    place = f"{where}.lugs"
    if not 2 <= len(lugs) <= MOST_LUGS:
        return [Problem(place, f"{len(lugs)} lugs", f"2 to {MOST_LUGS} lugs")]
    found = [Problem(place, repr(lug), _NAME_ALLOWED) for lug in lugs if not _NAME.fullmatch(lug)]
    twice = [lug for lug, count in Counter(lugs).items() if count > 1]
    return found + [Problem(place, f"{lug} more than once", "each lug once") for lug in twice]


def _group_problems(groups: Sequence[Sequence[str]], lugs: Sequence[str], place: str) -> list[Problem]:
    found = []
    for group in groups:
        if len(group) < 2:
            got = f"[{', '.join(group)}]"
            found.append(Problem(place, got, "two or more lugs in each group (a lug alone is left out)"))
    named = Counter(lug for group in groups for lug in group)
    for lug, count in named.items():
        if lug not in lugs:
            hint = nearest(lug, lugs) if len(found) < MOST_GUESSES else ""
            found.append(Problem(place, lug, f"one of the lugs {some(lugs)}", hint))
        elif count > 1:
            allowed = "each lug once (lugs joined to the same lug are one group)"
            found.append(Problem(place, f"{lug} {count} times", allowed))
    return found


def shorthand(poles: int, positions: int) -> Switch:
    """Position n joins the common lug of every pole to its throw n.

    The table of a rotary switch and of a blade without in-between positions. Whether a rotary is
    shorting (make before break) shows only while it turns; at rest its contacts are these.

    Parameters
    ----------
    poles, positions : int
        Up to 24 each, and up to 256 lugs.

    Returns
    -------
    Switch
        Lugs A0, A1, …, An, B0, …; positions "1" to "n".

    Raises
    ------
    InputError
        If either number is out of range.
    """
    numbers = range(1, min(positions, MOST_POSITIONS) + 1)  # an absurd number is refused, not built
    return _by_throws(poles, positions, {str(n): (n,) for n in numbers})


def bridging(poles: int, positions: int) -> Switch:
    """A blade switch whose in-between positions join neighbouring throws.

    Position 1 joins A0 and A1, position 2 A0, A1 and A2, position 3 A0 and A2, and so on: three
    throws give five positions, two throws the three-position toggle of two-pickup guitars.

    Parameters
    ----------
    poles : int
        1 to 24.
    positions : int
        Odd, 3 to 23.

    Raises
    ------
    InputError
        If either number is out of range.
    """
    if positions % 2 == 0 or not 3 <= positions <= MOST_POSITIONS:
        raise InputError("positions", str(positions), f"an odd number from 3 to {MOST_POSITIONS - 1}")
    joined = {str(n): ((n + 1) // 2,) if n % 2 else (n // 2, n // 2 + 1) for n in range(1, positions + 1)}
    return _by_throws(poles, (positions + 1) // 2, joined)


def on_on(poles: int) -> Switch:
    """A two-position toggle or slide switch: change-over in every pole."""
    return shorthand(poles, 2)


def on_off_on(poles: int) -> Switch:
    """A three-position toggle that joins nothing in the middle."""
    return _by_throws(poles, 2, {"1": (1,), "2": (), "3": (2,)})


def on_on_on(poles: int = 2, centre: Literal["A1 B2", "A2 B1"] = "A1 B2") -> Switch:
    """A three-position toggle whose poles change over one after the other.

    Both kinds are sold, and which one a switch is shows only on a meter.

    Parameters
    ----------
    poles : int
        Even, 2 to 24; poles C, E, … do as A does and D, F, … as B.
    centre : {"A1 B2", "A2 B1"}
        The throws that the middle position joins to A0 and B0.

    Raises
    ------
    InputError
        If the number of poles is odd or out of range, or the centre is neither.
    """
    if poles % 2 or not 2 <= poles <= MOST_POLES:
        raise InputError("poles", str(poles), f"an even number from 2 to {MOST_POLES}")
    if centre not in ("A1 B2", "A2 B1"):
        raise InputError("centre", repr(centre), "'A1 B2' or 'A2 B1'")
    first = 1 if centre == "A1 B2" else 2
    middle = [first, 3 - first] * (poles // 2)
    throws = {"1": [1] * poles, "2": middle, "3": [2] * poles}
    groups = {
        position: tuple((f"{pole}0", f"{pole}{n}") for pole, n in zip(_poles(poles), row, strict=True))
        for position, row in throws.items()
    }
    return Switch(_lugs(poles, 2), groups)


def push_pull(poles: int = 2) -> Switch:
    """The switch under a push-pull pot: "down" joins throw 1, "up" throw 2."""
    return _by_throws(poles, 2, {"down": (1,), "up": (2,)})


def push(poles: int = 2) -> Switch:
    """A latching push switch: "out" joins throw 1, "in" throw 2."""
    return _by_throws(poles, 2, {"out": (1,), "in": (2,)})


def push_to_make() -> Switch:
    """A momentary push button: nothing "out", A0 and A1 joined "in"."""
    return _by_throws(1, 1, {"out": (), "in": (1,)})


def _by_throws(poles: int, throws: int, joined: Mapping[str, tuple[int, ...]]) -> Switch:
    """All poles alike: per position, the throws joined to each common lug."""
    found = [
        Problem(what, str(got), f"1 to {most}")
        for what, got, most in (("poles", poles, MOST_POLES), ("positions", throws, MOST_POSITIONS))
        if not 1 <= got <= most
    ]
    if not found and poles * (throws + 1) > MOST_LUGS:
        got = f"{poles} poles x {throws} throws, {poles * (throws + 1)} lugs"
        found = [Problem("poles and positions", got, f"up to {MOST_LUGS} lugs")]
    if found:
        raise InputError.of(found)
    contacts = {
        position: tuple((f"{p}0", *(f"{p}{n}" for n in row)) for p in _poles(poles)) if row else ()
        for position, row in joined.items()
    }
    return Switch(_lugs(poles, throws), contacts)


def _poles(count: int) -> str:
    return ascii_uppercase[:count]


def _lugs(poles: int, throws: int) -> tuple[str, ...]:
    return tuple(f"{pole}{n}" for pole in _poles(poles) for n in range(throws + 1))
