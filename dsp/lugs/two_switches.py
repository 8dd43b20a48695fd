"""Combine switches into one: every position of each with every position of the others.

A switch is a table. A combination of positions closes the contacts of all members. Only one member
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
    """A table that combines several switches.

    Attributes
    ----------
    switches : mapping of str to Switch
        The switches by their names in a wiring, the selector first.
    rows : mapping of str to tuple of str
        Per position of the table, the position of each switch.
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
        """Return the position of each switch at a position of the table."""
        return self.rows[position]

    def place(self, lug: str, name: str) -> Terminal:
        """Return the switch that a lug is on, and its name there."""
        return self.places[lug]


def combine(members: Mapping[str, Switch]) -> Switch:
    """Return several switches as one table, or a single one unchanged.

    Parameters
    ----------
    members : mapping of str to Switch
        The first one's positions change slowest. Positions have names such as ``1+up``.

    Raises
    ------
    InputError
        If there are more than 3 switches, or more combinations than a table may have.

    Examples
    --------
    >>> from dsp.parts.switch import push_pull, shorthand
    >>> combine({"selector": shorthand(1, 2), "pull": push_pull(1)}).positions
    ('1+down', '1+up', '2+down', '2+up')
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
    return CombinedSwitch(tuple(places), contacts, switches=dict(members), rows=stands, places=places)


def possible_moves(switch: Switch) -> tuple[tuple[str, str], ...]:
    """Return the pairs of positions that one move connects.

    Parameters
    ----------
    switch : Switch
        In a combined switch one member moves, to a neighbouring position.
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


def moving_switch(switch: Switch, move: tuple[str, str]) -> Switch:
    """Return the switch that moves between two neighbouring positions."""
    before, after = (switch.member_positions(position) for position in move)
    members = switch.members("").values()
    return next(one for one, a, b in zip(members, before, after, strict=True) if a != b)


def same_member(switch: Switch, one: str, other: str) -> bool:
    """Return whether two lugs are on the same switch."""
    return switch.place(one, "")[0] == switch.place(other, "")[0]


def settings_at(switch: Switch, position: str) -> tuple[str, Mapping[str, str]]:
    """Return the selector's position, and those of other switches by name.

    Parameters
    ----------
    position : str
        A position of the table.
    """
    first, *rest = switch.member_positions(position)
    return first, dict(zip(list(switch.members(""))[1:], rest, strict=True))


def lug_name(switch: Switch, lug: str) -> str:
    """Return a lug's name, with its switch if there are several."""
    name, own = switch.place(lug, "")
    return f"{name}.{own}" if name else own
