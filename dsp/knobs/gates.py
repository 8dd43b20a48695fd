"""A spare pole of the selector: lugs that can confine a network to one position."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.parts.kind import Terminal
from dsp.parts.kinds import ends_of, positioned_of, terminals_of
from dsp.wiring.model import Wiring


@dataclass(frozen=True)
class Gate:
    """Free lugs of the selector.

    Attributes
    ----------
    common : Terminal
        The lug that the others are joined to.
    on : tuple of Terminal
        Joined to the common in this position alone; empty if no lug is.
    off : tuple of Terminal
        Joined to the common in every other position, never in this one; empty if the pole cannot.
    """

    position: str
    common: Terminal
    on: tuple[Terminal, ...]
    off: tuple[Terminal, ...]

    @property
    def text(self) -> str:
        """The lugs in words."""
        lugs = ", ".join(lug for _, lug in (self.common, *self.on, *self.off))
        return f"a spare pole of {self.common[0]} ({lugs})"


def find_gates(wiring: Wiring, position: str) -> tuple[Gate, ...]:
    """Return the spare poles that tell one position from the others.

    Parameters
    ----------
    position : str
        Of the selector.

    Returns
    -------
    tuple of Gate
        Those that can open and close first.
    """
    name = wiring.selector
    part = wiring.parts.get(name) if name else None
    kind = positioned_of(part)
    if name is None or part is None or kind is None or kind.sketched:
        return ()
    soldered = {terminal for joint in wiring.joints for terminal in joint.terminals}
    free = [(name, lug) for lug in terminals_of(part) if (name, lug) not in soldered]
    groups = {
        one: [
            set(group) for group in kind.joints(part, name, one, lambda other: ends_of(wiring.parts[other]))
        ]
        for one in kind.positions(part)
    }
    found: list[Gate] = []
    for common in free:
        joined = {
            one: next((group - {common} for group in rows if common in group), set())
            for one, rows in groups.items()
        }
        if any(lug not in free for lugs in joined.values() for lug in lugs):
            continue
        others = [lugs for one, lugs in joined.items() if one != position]
        everywhere = set().union(*others)
        here, elsewhere = joined[position] - everywhere, everywhere - joined[position]
        on = tuple(lug for lug in free if lug in here)[:1]
        off = tuple(lug for lug in free if lug in elsewhere) if all(one & elsewhere for one in others) else ()
        if on or off:
            found.append(Gate(position, common, on, off))
    return tuple(sorted(found, key=lambda gate: (not (gate.on and gate.off), not gate.off)))
