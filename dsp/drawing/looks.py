"""How a switch looks: rotary, blade, toggle, slide, push-pull or push button.

A file may say it (``body``), and the switches of the library do. A table of contacts alone does not: of a
rotary and a blade with the same contacts we guess what is usual (common practice): a blade has three or
five positions.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from dsp.parts.kinds import SwitchPart

ROTARY, BLADE, TOGGLE, SLIDE, PUSH_PULL, PUSH, ROW = (
    "rotary", "blade", "toggle", "slide", "push-pull", "push", "row",
)  # fmt: skip
_POLE_AND_THROW = re.compile(r"([A-Za-z])(\d+)")
_LEVERS = {frozenset({"down", "up"}): PUSH_PULL, frozenset({"out", "in"}): PUSH}
_BLADE_POSITIONS = (3, 5)


def switch_look(switch: SwitchPart) -> str:
    """Return how a switch is drawn.

    Examples
    --------
    >>> from dsp.parts.switch import bridging, push_pull, shorthand
    >>> [switch_look(one) for one in (shorthand(4, 6), shorthand(4, 5), bridging(1, 5), push_pull())]
    ['rotary', 'blade', 'blade', 'push-pull']
    """
    if switch.body:
        return switch.body
    if lever := _LEVERS.get(frozenset(switch.positions)):
        return lever
    poles = switch_poles(switch.lugs)
    if not poles:
        return ROW
    if not any(pole[0].endswith("0") for pole in poles):
        return SLIDE
    throws = max(len(pole) for pole in poles) - 1
    if throws <= 2 and len(switch.positions) <= 3:
        return TOGGLE
    return BLADE if len(switch.positions) in _BLADE_POSITIONS else ROTARY


def switch_poles(lugs: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Return lugs by pole, each with its common lug first.

    Names that show no poles give none.

    Examples
    --------
    >>> switch_poles(["A0", "A1", "B0", "B1"])
    (('A0', 'A1'), ('B0', 'B1'))
    >>> switch_poles(["N", "C", "B"])
    ()
    """
    poles: dict[str, list[tuple[int, str]]] = {}
    for lug in lugs:
        named = _POLE_AND_THROW.fullmatch(lug)
        if named is None:
            return ()
        poles.setdefault(named[1], []).append((int(named[2]), lug))
    return tuple(tuple(lug for _, lug in sorted(pole)) for pole in poles.values())
