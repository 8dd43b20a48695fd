"""Switches as plain tables: which lugs each position joins.

A lug's name is its pole and throw: A0 is the common lug of pole A, and A1, A2, … are its throws. The
functions here build the trade's usual kinds (common practice). A file writes out any other as a table.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from string import ascii_uppercase
from typing import Any, ClassVar, Literal

from dsp.documents.field import Field
from dsp.documents.schema import NAME
from dsp.documents.tree import Items, Node, Reading, Text
from dsp.documents.values import read_names
from dsp.errors import MOST_NAMES, InputError, Problem, nearest, some
from dsp.parts.kind import Form, Part, Positioned, Refuse, Symbol, Terminal

Groups = tuple[tuple[str, ...], ...]

SHORTING, NON_SHORTING = "shorting", "non-shorting"
"""Timing of a switch: it makes the next contact before it breaks the last, or breaks first."""
BODIES = ("rotary", "blade", "toggle", "slide", "push-pull", "push")
"""What a switch is built as: a rotary and a blade may have the same table."""

MOST_LUGS = 256
MOST_POLES = 24
MOST_POSITIONS = 24
MOST_GUESSES = 5
"""Most unknown lugs of a position whose problems suggest a name."""
# No '.', which separates a lug from its switch. Short enough for a chart and a file name.
_NAME = re.compile(r"[A-Za-z0-9_+-]{1,16}")
_NAME_ALLOWED = "1 to 16 of the characters A-Z a-z 0-9 _ + -"


@dataclass(frozen=True)
class Switch(Part):
    """The lugs of a switch and, per position, the groups of lugs it joins.

    Attributes
    ----------
    lugs : tuple of str
        Every lug, in the order of the part.
    contacts : mapping of str to tuple of tuple of str
        The groups of joined lugs by position name, in the order of the lever or shaft. A
        position without groups joins nothing.
    timing : str
        `SHORTING` (makes before it breaks), `NON_SHORTING` (breaks before it makes), or empty
        where nobody has said.
    body : str
        One of `BODIES`, or empty where nobody has said. It is not audible: two switches that differ
        in it alone are equal, and results kept by what ``repr`` writes do not depend on it.

    Raises
    ------
    InputError
        If `validate` finds problems; it lists all of them.
    """

    lugs: tuple[str, ...]
    contacts: Mapping[str, Groups]
    timing: str = ""
    body: str = field(default="", repr=False, compare=False)

    def __post_init__(self) -> None:
        found = validate(self.lugs, self.contacts)
        if found:
            raise InputError.of(found)

    @property
    def positions(self) -> tuple[str, ...]:
        """The names of the positions, in order."""
        return tuple(self.contacts)

    def members(self, name: str) -> Mapping[str, Switch]:
        """Return the switches of this table: itself, under that name."""
        return {name: self}

    def member_positions(self, position: str) -> tuple[str, ...]:
        """Return the position of each member at a position of the table."""
        return (position,)

    def place(self, lug: str, name: str) -> Terminal:
        """Return the member that a lug is on, and its name there; see `members`."""
        return name, lug


def validate(
    lugs: Sequence[str], contacts: Mapping[str, Sequence[Sequence[str]]], where: str = "switch"
) -> list[Problem]:
    """Return the problems that keep a table from being a switch.

    Parameters
    ----------
    lugs : sequence of str
        The lugs' names.
    contacts : mapping of str to sequences of sequences of str
        Per position, the groups of joined lugs.
    where : str
        The place, for error messages.

    Returns
    -------
    list of Problem
        Empty for a valid table.
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
    """Return a switch whose position n joins each common lug to throw n.

    Rotary switches and blades without in-between positions have this table.

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
        If a number is out of range.

    Examples
    --------
    >>> shorthand(1, 2).contacts
    {'1': (('A0', 'A1'),), '2': (('A0', 'A2'),)}
    """
    numbers = range(1, min(positions, MOST_POSITIONS) + 1)  # refuse an absurd number before building it
    return _by_throws(poles, positions, {str(n): (n,) for n in numbers})


def bridging(poles: int, positions: int) -> Switch:
    """Return a blade whose in-between positions join neighbouring throws.

    Position 1 joins A0 and A1, position 2 joins A0, A1 and A2, position 3 joins A0 and A2, and so
    on. Three throws give five positions. Two throws give the three-position toggle of two-pickup
    guitars.

    Parameters
    ----------
    poles : int
        1 to 24.
    positions : int
        Odd, 3 to 23.

    Raises
    ------
    InputError
        If a number is out of range.

    Examples
    --------
    >>> bridging(1, 3).contacts
    {'1': (('A0', 'A1'),), '2': (('A0', 'A1', 'A2'),), '3': (('A0', 'A2'),)}
    """
    if positions % 2 == 0 or not 3 <= positions <= MOST_POSITIONS:
        raise InputError("positions", str(positions), f"an odd number from 3 to {MOST_POSITIONS - 1}")
    joined = {str(n): ((n + 1) // 2,) if n % 2 else (n // 2, n // 2 + 1) for n in range(1, positions + 1)}
    return _by_throws(poles, (positions + 1) // 2, joined)


def on_on(poles: int) -> Switch:
    """Return a two-position toggle or slide switch with change-over poles."""
    return shorthand(poles, 2)


def on_off_on(poles: int) -> Switch:
    """Return a three-position toggle that joins nothing in the middle."""
    return _by_throws(poles, 2, {"1": (1,), "2": (), "3": (2,)})


def on_on_on(poles: int = 2, centre: Literal["A1 B2", "A2 B1"] = "A1 B2") -> Switch:
    """Return a three-position toggle whose poles change over in turn.

    Both kinds are sold. Only a meter shows which kind a switch is.

    Parameters
    ----------
    poles : int
        2 to 24. Poles C, E, … act like A, and D, F, … like B.
    centre : {"A1 B2", "A2 B1"}
        The throws that the middle position joins to A0 and B0.

    Raises
    ------
    InputError
        If the number of poles is out of range, or the centre is neither of the two.

    Examples
    --------
    >>> on_on_on().contacts["2"]
    (('A0', 'A1'), ('B0', 'B2'))
    """
    if not 2 <= poles <= MOST_POLES:
        raise InputError(
            "poles", str(poles), f"2 to {MOST_POLES}: the middle joins poles to different throws"
        )
    if centre not in ("A1 B2", "A2 B1"):
        raise InputError("centre", repr(centre), "'A1 B2' or 'A2 B1'")
    first = 1 if centre == "A1 B2" else 2
    middle = [(first, 3 - first)[i % 2] for i in range(poles)]
    throws = {"1": [1] * poles, "2": middle, "3": [2] * poles}
    groups = {
        position: tuple((f"{pole}0", f"{pole}{n}") for pole, n in zip(_poles(poles), row, strict=True))
        for position, row in throws.items()
    }
    return Switch(_lugs(poles, 2), groups)


def neighbours(rows: int, positions: int) -> Switch:
    """Return a slide switch whose slider joins neighbouring lugs of a row.

    Position n joins lugs n and n + 1. It has no common lug but the inner ones.

    Parameters
    ----------
    rows : int
        1 to 24, of positions + 1 lugs each.
    positions : int
        2 to 24.

    Raises
    ------
    InputError
        If a number is out of range.

    Examples
    --------
    >>> neighbours(1, 3).contacts
    {'1': (('A1', 'A2'),), '2': (('A2', 'A3'),), '3': (('A3', 'A4'),)}
    """
    if not 2 <= positions <= MOST_POSITIONS:
        raise InputError("positions", str(positions), f"2 to {MOST_POSITIONS}")
    _check_size(rows, positions)
    lugs = tuple(f"{row}{n}" for row in _poles(rows) for n in range(1, positions + 2))
    contacts = {
        str(n): tuple((f"{row}{n}", f"{row}{n + 1}") for row in _poles(rows)) for n in range(1, positions + 1)
    }
    return Switch(lugs, contacts)


def push_pull(poles: int = 2) -> Switch:
    """Return a push-pull pot's switch: "down" joins throw 1, "up" throw 2."""
    return _by_throws(poles, 2, {"down": (1,), "up": (2,)})


def push(poles: int = 2) -> Switch:
    """Return a latching push switch: "out" joins throw 1, "in" throw 2."""
    return _by_throws(poles, 2, {"out": (1,), "in": (2,)})


def push_to_make() -> Switch:
    """Return a momentary push button that joins A0 and A1 only at "in"."""
    return _by_throws(1, 1, {"out": (), "in": (1,)})


def _by_throws(poles: int, throws: int, joined: Mapping[str, tuple[int, ...]]) -> Switch:
    """Return a switch of equal poles from the throws joined per position."""
    _check_size(poles, throws)
    contacts = {
        position: tuple((f"{p}0", *(f"{p}{n}" for n in row)) for p in _poles(poles)) if row else ()
        for position, row in joined.items()
    }
    return Switch(_lugs(poles, throws), contacts)


def _check_size(poles: int, throws: int) -> None:
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


def _poles(count: int) -> str:
    return ascii_uppercase[:count]


def _lugs(poles: int, throws: int) -> tuple[str, ...]:
    return tuple(f"{pole}{n}" for pole in _poles(poles) for n in range(throws + 1))


def read_contacts(reading: Reading, node: Node, what: str) -> dict[str, Groups]:
    """Read the groups of joined lugs per position; `Switch` checks them."""
    contacts = {}
    for key, groups in reading.entries(node, what):
        place = f"{what}.{key.text}"
        if isinstance(groups, Items) and (
            lugs := [lug.text for lug in groups.items if isinstance(lug, Text)]
        ):
            hint = f"did you mean [[{', '.join(lugs)}]]?" if 1 < len(lugs) <= MOST_NAMES else ""
            got = f"[{some(lugs)}]"
            reading.refuse(groups, place, "a list of groups, each a list of lugs", got=got, hint=hint)
            continue
        contacts[key.text] = tuple(
            tuple(
                lug.text if isinstance(lug, Text) else lug.describe() for lug in reading.items(group, place)
            )
            for group in reading.items(groups, place)
        )
    return contacts


CHANGE_OVER = "change-over"


@dataclass(frozen=True)
class _Function:
    """A usual kind of switch: how it is made, and its positions if they are always as many."""

    make: Callable[[int, int], Switch]
    positions: int | None = None


FUNCTIONS: Mapping[str, _Function] = {
    CHANGE_OVER: _Function(shorthand),
    "on-on": _Function(lambda poles, _: on_on(poles), 2),
    "on-off-on": _Function(lambda poles, _: on_off_on(poles), 3),
    "on-on-on": _Function(lambda poles, _: on_on_on(poles), 3),
    "on-on-on mirrored": _Function(lambda poles, _: on_on_on(poles, "A2 B1"), 3),
    "bridging": _Function(bridging),
    "neighbours": _Function(neighbours),
}
"""What a switch of any number of poles does, by its word in a wiring file."""

LUGS_SCHEMA = {"type": "array", "items": NAME}
CONTACTS_SCHEMA = {
    "type": "object",
    "additionalProperties": {
        "type": "array",
        "items": {"type": "array", "items": NAME, "minItems": 2},
    },
}


class SwitchKind(Positioned[Switch]):
    """Switches."""

    name = "switch"
    part = Switch
    positions_field = "contacts"
    fields = (
        Field("lugs", "lugs", "names of the lugs"),
        Field("contacts", "contacts", "per position, the groups of lugs the switch joins"),
        Field("poles", "count", "shorthand: number of poles, instead of lugs and contacts", "", 1, 24),
        Field("positions", "count", "shorthand: number of positions", "", 1, 24),
        Field(
            "function",
            "choice",
            "shorthand: what each pole does; change-over, one throw at a time, unless given",
            choices=tuple(FUNCTIONS),
        ),
        Field(
            "timing",
            "choice",
            "shorting makes the next contact before it breaks the last; a meter or the data sheet tells",
            choices=(SHORTING, NON_SHORTING),
        ),
        Field(
            "body",
            "choice",
            "what it is built as and drawn like; guessed from its contacts unless given",
            choices=BODIES,
        ),
    )
    forms: ClassVar[Mapping[str, Form]] = {
        "lugs": Form(read_names, lambda field: dict(LUGS_SCHEMA)),
        "contacts": Form(read_contacts, lambda field: dict(CONTACTS_SCHEMA)),
    }

    def leads(self, part: Switch) -> tuple[str, ...]:
        """Return the lugs."""
        return part.lugs

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Switch | None:
        """Build a switch from its table or from numbers of poles and positions."""
        timing, body = found.get("timing") or "", found.get("body") or ""
        table, short = {"lugs", "contacts"} & set(found), {"poles", "positions", "function"} & set(found)
        function = found.get("function") or CHANGE_OVER
        needed = {"poles"} if (own := FUNCTIONS[function]).positions else {"poles", "positions"}
        if len(table) != (0 if short else 2) or not (table or needed <= short):
            got = ", ".join(sorted(table | short)) or "neither"
            refuse("either lugs and contacts, or poles and positions", got=got)
            return None
        if short:
            return self._short(found["poles"], found.get("positions"), own, timing, body, refuse)
        problems = validate(found["lugs"], found["contacts"], "")
        for problem in problems:
            path = ("contacts", problem.where.partition("position ")[2])
            refuse(problem.allowed, got=problem.got, hint=problem.hint, place=problem.where, path=path)
        return None if problems else Switch(found["lugs"], found["contacts"], timing, body)

    def _short(
        self, poles: int, positions: int | None, function: _Function, timing: str, body: str, refuse: Refuse
    ) -> Switch | None:
        """Build a switch from its numbers."""
        if function.positions and positions not in (None, function.positions):
            refuse(f"{function.positions}, or none written", got=str(positions), place=".positions")
            return None
        try:
            return replace(function.make(poles, positions or 0), timing=timing, body=body)
        except InputError as error:
            for problem in error.problems:
                refuse(problem.allowed, got=problem.got, place=f": {problem.where}")
            return None

    def symbol(self, part: Switch) -> Symbol:
        """Draw a box with the lugs in columns, one per pole if names show poles."""
        poles = list(dict.fromkeys(lug[:1] for lug in part.lugs))
        columns = [[lug for lug in part.lugs if lug[:1] == pole] for pole in poles]
        leads = {
            lug: (8.0 + 16.0 * i, 8.0 + 12.0 * k)
            for i, column in enumerate(columns)
            for k, lug in enumerate(column)
        }
        size = (16.0 * len(columns), 4.0 + 12.0 * max(map(len, columns)))
        dots = " ".join(f"M{x - 2:g} {y:g}a2 2 0 1 0 4 0a2 2 0 1 0 -4 0" for x, y in leads.values())
        return Symbol(f"M0 0H{size[0]:g}V{size[1]:g}H0Z {dots}", size, leads)

    def file_fields(self, part: Switch) -> dict[str, Any]:
        """Return the kind, the whole table, and what is said of timing and body."""
        contacts = {name: [list(group) for group in groups] for name, groups in part.contacts.items()}
        told = {name: word for name in ("timing", "body") if (word := getattr(part, name))}
        return {"kind": self.name, "lugs": list(part.lugs), "contacts": contacts, **told}

    def positions(self, part: Switch) -> tuple[str, ...]:
        """Return the names of the positions, in order."""
        return part.positions

    def joints(
        self, part: Switch, name: str, position: str, leads_of: Callable[[str], tuple[str, ...]]
    ) -> Iterator[tuple[Terminal, ...]]:
        """Yield the groups of lugs that a position joins."""
        for group in part.contacts[position]:
            yield tuple((name, lug) for lug in group)
