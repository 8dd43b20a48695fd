"""A lug chart: the joints at a switch, and the sound of each of its positions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

from dsp.parts.kind import Terminal
from dsp.parts.switch import Switch
from dsp.wiring.union import Merge

SWITCH = "*switch"
"""The switch's name in a terminal. No part can have this name."""
HOT_END: Terminal = ("*end", "hot")
COLD_END: Terminal = ("*end", "cold")
"""The two ends of the rest of the circuit: the controls' hot joint and the ground joint."""

MOST_LUGS_TURNED = 6
"""Most lugs of a pole for which every renaming is tried; six have 720."""

Net = tuple[Terminal, ...]


@dataclass(frozen=True)
class Chart:
    """The joints of a switch, and the sound that each position should give.

    Attributes
    ----------
    nets : tuple of Net
        Terminals soldered together, at least two each: leads, and lugs as ``(SWITCH, lug)``. The
        first two nets also hold `HOT_END` and `COLD_END`.
    sounds : mapping of str to str
        The name of the sound at each switch position.
    turned : frozenset of str
        Sounds whose absolute polarity is the reverse of the sketch's.
    """

    switch: Switch
    nets: tuple[Net, ...]
    sounds: Mapping[str, str]
    turned: frozenset[str] = frozenset()

    @property
    def lugs(self) -> tuple[str, ...]:
        """The soldered lugs, in the order of the part."""
        used = {lead for net in self.nets for part, lead in net if part == SWITCH}
        return tuple(lug for lug in self.switch.lugs if lug in used)

    @property
    def poles(self) -> int:
        """The number of poles in use."""
        lugs = set(self.lugs)
        return sum(any(lug in lugs for lug in pole) for pole in poles_of(self.switch))

    @property
    def wires(self) -> int:
        """The number of wires to cut; see `count_wires`."""
        return sum(count_wires(net) for net in self.nets)


def count_wires(net: Net) -> int:
    """Return the number of wires that a net needs besides the parts' leads.

    Lugs, the controls' joint and the ground joint are points. Each lead reaches one point by
    itself. Joining n points takes n - 1 wires.

    Examples
    --------
    A coil's lead on two lugs needs one wire between them:

    >>> count_wires(frozenset({("neck", "start"), (SWITCH, "A0"), (SWITCH, "B0")}))
    1
    """
    points = sum(part == SWITCH or (part, lead) in (HOT_END, COLD_END) for part, lead in net)
    return max(points - 1, 0)


def poles_of(switch: Switch) -> tuple[tuple[str, ...], ...]:
    """Return the switch's poles: lugs that its positions join, in groups.

    Lugs that no position joins are left out.

    Examples
    --------
    >>> from dsp.parts.switch import shorthand
    >>> poles_of(shorthand(2, 2))
    (('A0', 'A1', 'A2'), ('B0', 'B1', 'B2'))
    """
    merge: Merge[str] = Merge(switch.lugs)
    for groups in switch.contacts.values():
        for group in groups:
            merge.join(group)
    return tuple(tuple(lugs) for lugs in merge.classes() if len(lugs) > 1)


def equal_poles(switch: Switch) -> tuple[tuple[int, ...], ...]:
    """Return groups of poles that act alike, as indices into `poles_of`."""
    found: dict[tuple[object, ...], list[int]] = {}
    for i, pole in enumerate(poles_of(switch)):
        place = {lug: k for k, lug in enumerate(pole)}
        pattern = tuple(
            tuple(sorted(tuple(sorted(place[lug] for lug in group)) for group in groups if group[0] in place))
            for groups in switch.contacts.values()
        )
        found.setdefault((len(pole), pattern), []).append(i)
    return tuple(tuple(group) for group in found.values())


def are_positions_equal(switch: Switch) -> bool:
    """Return whether any two positions can be exchanged with their throws.

    They can if each position joins every common lug to its own throw. Any order of the sounds
    then costs the same.
    """
    first, *others = switch.positions
    return all(_swaps(switch, first, other) for other in others)


def _swaps(switch: Switch, a: str, b: str) -> bool:
    """Return whether renaming lugs can exchange just these two positions."""
    names: dict[str, str] = {}
    for one in switch.contacts[a]:
        partner = next((other for other in switch.contacts[b] if set(one) & set(other)), None)
        if partner is None or len(partner) != len(one):
            return False
        mine, theirs = ([lug for lug in g if lug not in h] for g, h in ((one, partner), (partner, one)))
        names |= dict(zip((*mine, *theirs), (*theirs, *mine), strict=True))
    tables = {
        position: {frozenset(names.get(lug, lug) for lug in group) for group in groups}
        for position, groups in switch.contacts.items()
    }
    want = {position: set(map(frozenset, groups)) for position, groups in switch.contacts.items()}
    want[a], want[b] = want[b], want[a]
    return tables == want


def is_mirrored(switch: Switch) -> bool:
    """Return whether the switch stays the same with its positions reversed.

    A blade whose in-between positions join neighbouring throws does.
    """
    for pole in poles_of(switch):
        if len(pole) > MOST_LUGS_TURNED:
            return False
        tables = [
            {frozenset(group) for group in groups if group[0] in pole} for groups in switch.contacts.values()
        ]
        renamings = (dict(zip(pole, order, strict=True)) for order in permutations(pole))
        if not any(
            [{frozenset(names[lug] for lug in group) for group in table} for table in tables] == tables[::-1]
            for names in renamings
        ):
            return False
    return True
