"""Two switches as one: every position of the one with every position of the other.

A switch is a table, and tables multiply: a combination closes the contacts of both. Only one of them
moves at a time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise, product

from dsp.errors import InputError
from dsp.parts.kind import Terminal
from dsp.parts.switch import MOST_POSITIONS, Groups, Switch

MOST_SWITCHES = 3


@dataclass(frozen=True)
class CombinedSwitch(Switch):
    """A table of several switches.

    Attributes
    ----------
    switches : mapping of str to Switch
        By their names in a wiring, the selector first.
    rows : mapping of str to tuple of str
        Per position of the table, where each switch stands.
    places : mapping of str to (str, str)
        Per lug of the table, the switch and the lug's own name there.
    """

    switches: Mapping[str, Switch] = field(default_factory=dict)
    rows: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    places: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    def members(self, name: str) -> Mapping[str, Switch]:
        """Return the switches by their names in a wiring."""
        return self.switches

    def member_positions(self, position: str) -> tuple[str, ...]:
        """Return where each switch stands at a position of the table."""
        return self.rows[position]

    def place(self, lug: str, name: str) -> Terminal:
        """Return the switch that a lug is on, and its name there."""
        return self.places[lug]


def combine(members: Mapping[str, Switch]) -> Switch:
    """Several switches as one table; a single one as it is.

    Parameters
    ----------
    members : mapping of str to Switch
        The first one's positions change slowest. Positions are called ``1+up`` and so on.

    Raises
    ------
    InputError
        If there are more than 3 switches, or more combinations than a table may have.
    """
    if not 1 <= len(members) <= MOST_SWITCHES:
        raise InputError("switches", str(len(members)), f"1 to {MOST_SWITCHES}")
    if len(members) == 1:
        return next(iter(members.values()))
    rows = list(product(*(switch.positions for switch in members.values())))
    if len(rows) > MOST_POSITIONS:
        got = f"{' x '.join(str(len(switch.positions)) for switch in members.values())} positions"
        raise InputError("switches", got, f"up to {MOST_POSITIONS} combinations")
    places = {
        f"{i}-{lug}": (name, lug)
        for i, (name, switch) in enumerate(members.items(), 1)
        for lug in switch.lugs
    }
    contacts: dict[str, Groups] = {}
    for row in rows:
        groups = (
            tuple(f"{i}-{lug}" for lug in group)
            for i, (switch, stand) in enumerate(zip(members.values(), row, strict=True), 1)
            for group in switch.contacts[stand]
        )
        contacts["+".join(row)] = tuple(groups)
    stands = dict(zip(contacts, rows, strict=True))
    return CombinedSwitch(tuple(places), contacts, dict(members), stands, places)


def possible_moves(switch: Switch) -> tuple[tuple[str, str], ...]:
    """Pairs of positions that one move leads between.

    Parameters
    ----------
    switch : Switch
        Of a product one member moves, to a position next to its own.
    """
    found = []
    rows = {position: switch.member_positions(position) for position in switch.positions}
    for n, member in enumerate(switch.members("").values()):
        beside = set(pairwise(member.positions))
        for a, row in rows.items():
            for b, other in rows.items():
                same = row[:n] == other[:n] and row[n + 1 :] == other[n + 1 :]
                if same and (row[n], other[n]) in beside:
                    found.append((a, b))
    return tuple(found)


def same_member(switch: Switch, one: str, other: str) -> bool:
    """Whether two lugs are on one switch."""
    return switch.place(one, "")[0] == switch.place(other, "")[0]


def settings_at(switch: Switch, position: str) -> tuple[str, Mapping[str, str]]:
    """Position of the selector, and of the other switches by name.

    Parameters
    ----------
    position : str
        Of the table.
    """
    first, *rest = switch.member_positions(position)
    return first, dict(zip(list(switch.members(""))[1:], rest, strict=True))


def lug_name(switch: Switch, lug: str) -> str:
    """A lug as one finds it: with its switch where there are several."""
    name, own = switch.place(lug, "")
    return f"{name}.{own}" if name else own
