"""A lug chart: what is soldered to what at a switch, and what each position of it gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

from dsp.parts.kind import Terminal
from dsp.parts.switch import Switch
from dsp.wiring.union import Merge

SWITCH = "*switch"
"""Stands for the switch in a terminal; no part can be called so."""
HOT_END: Terminal = ("*end", "hot")
COLD_END: Terminal = ("*end", "cold")
"""What the rest of the circuit hangs on: the controls' hot joint, and the ground joint."""

MOST_LUGS_TURNED = 6
"""Lugs of a pole for which every renaming is tried, 720 of them."""

Net = tuple[Terminal, ...]


@dataclass(frozen=True)
class Chart:
    """Joints of a switch, and what each of its positions is meant to give.

    Attributes
    ----------
    nets : tuple of Net
        Terminals soldered together, at least two each: leads, lugs ``(SWITCH, lug)``, and in
        the first two nets `HOT_END` and `COLD_END`.
    sounds : mapping of str to str
        Switch position to the name of the sound it gives.
    turned : frozenset of str
        Sounds whose absolute polarity is the reverse of the sketch's.
    """

    switch: Switch
    nets: tuple[Net, ...]
    sounds: Mapping[str, str]
    turned: frozenset[str] = frozenset()

    @property
    def lugs(self) -> tuple[str, ...]:
        """Lugs with something soldered to them, in the order of the part."""
        used = {lead for net in self.nets for part, lead in net if part == SWITCH}
        return tuple(lug for lug in self.switch.lugs if lug in used)

    @property
    def poles(self) -> int:
        """How many poles of the switch are used."""
        lugs = set(self.lugs)
        return sum(any(lug in lugs for lug in pole) for pole in poles_of(self.switch))

    @property
    def wires(self) -> int:
        """Wires to cut, see `count_wires`."""
        return sum(count_wires(net) for net in self.nets)


def count_wires(net: Net) -> int:
    """How many wires a net needs beside the parts' own leads.

    Every lead reaches one point by itself. Lugs, and the controls' or ground joint, are points:
    n points are tied by n - 1 wires.
    """
    points = sum(part == SWITCH or (part, lead) in (HOT_END, COLD_END) for part, lead in net)
    return max(points - 1, 0)


def poles_of(switch: Switch) -> tuple[tuple[str, ...], ...]:
    """Groups of lugs that positions join; lugs never joined are left out."""
    merge: Merge[str] = Merge(switch.lugs)
    for groups in switch.contacts.values():
        for group in groups:
            merge.join(group)
    return tuple(tuple(lugs) for lugs in merge.classes() if len(lugs) > 1)


def equal_poles(switch: Switch) -> tuple[tuple[int, ...], ...]:
    """Poles that do the same everywhere, as groups of indices into `poles_of`."""
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
    """Whether any two positions could change places, throws and all.

    So it is where each position joins every common lug to a throw of its own: the order of sounds
    then costs nothing.
    """
    first, *others = switch.positions
    return all(_swaps(switch, first, other) for other in others)


def _swaps(switch: Switch, a: str, b: str) -> bool:
    """Whether renaming lugs can exchange two positions and leave the others as they are."""
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
    """Whether the switch is the same with its positions taken backwards.

    So it is with a blade whose in-between positions join neighbouring throws.
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
