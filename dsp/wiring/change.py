"""A change of a wiring: parts taken out and put in, leads unsoldered and soldered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import kind_of
from dsp.wiring.model import Joint, Wiring


@dataclass(frozen=True)
class Edit:
    """What to do at the bench.

    Attributes
    ----------
    out : tuple of str
        Parts that are taken out, every lead.
    parts : mapping of str to Part
        New parts, and old ones with another value; a pot with another taper or resistance.
    loose : tuple of Terminal
        Unsoldered first, besides the leads of ``out``.
    into : tuple of (Terminal, Terminal)
        What is soldered to the joint of what; a terminal without a joint makes one.
    joints : tuple of tuple of Terminal
        New joints.
    taper : str
        Name of the taper where the edit changes a pot's; else nothing.
    """

    out: tuple[str, ...] = ()
    parts: Mapping[str, Part] = field(default_factory=dict)
    loose: tuple[Terminal, ...] = ()
    into: tuple[tuple[Terminal, Terminal], ...] = ()
    joints: tuple[tuple[Terminal, ...], ...] = ()
    taper: str = ""

    def done(self, wiring: Wiring) -> Wiring:
        """The wiring after the change.

        Parameters
        ----------
        wiring : Wiring
        """
        parts = {name: part for name, part in wiring.parts.items() if name not in self.out}
        parts |= self.parts
        joints = tuple(
            Joint(terminals, wiring.joints[i].line if i is not None else 0)
            for i, terminals in self.rows(wiring)
        )
        return replace(wiring, parts=parts, joints=joints)

    def rows(self, wiring: Wiring) -> tuple[tuple[int | None, tuple[Terminal, ...]], ...]:
        """The joints after the change, each with the number it had before.

        Parameters
        ----------
        wiring : Wiring
            Before the change. Joints that were tied by a terminal that goes become one.
        """
        rows: list[list[Terminal] | None] = [list(joint.terminals) for joint in wiring.joints]
        for terminal in dict.fromkeys(t for joint in wiring.joints for t in joint.terminals):
            if not self._goes(terminal):
                continue
            holders = [row for row in rows if row is not None and terminal in row]
            for row in holders[1:]:
                holders[0] += [t for t in row if t not in holders[0]]
                rows[next(i for i, one in enumerate(rows) if one is row)] = None
        left = [None if row is None else [t for t in row if not self._goes(t)] for row in rows]
        new: list[list[Terminal]] = []
        for terminal, to in self.into:
            at = next((row for row in (*left, *new) if row is not None and to in row), None)
            if at is None:
                new.append([to, terminal])
            else:
                at.append(terminal)
        numbered = [(i, row) for i, row in enumerate(left) if row is not None]
        whole = [*numbered, *((None, row) for row in (*new, *map(list, self.joints)))]
        return tuple((i, tuple(row)) for i, row in whole if len(row) > 1)

    def _goes(self, terminal: Terminal) -> bool:
        return terminal in self.loose or terminal[0] in self.out

    def left(self, terminals: tuple[Terminal, ...]) -> tuple[Terminal, ...]:
        """What stays of a joint when all that goes is unsoldered."""
        return tuple(t for t in terminals if not self._goes(t))

    def words(self, wiring: Wiring) -> tuple[str, ...]:
        """What to do, a line each, in the order of work.

        Parameters
        ----------
        wiring : Wiring
            Before the change.
        """
        gone = [name for name in self.out if name not in self.parts]
        new = [f"{name} ({kind_of(part).value(part)})" for name, part in self.parts.items()]
        found = [f"take out {', '.join(gone)}"] if gone else []
        loose = [terminal for terminal in self.loose if any(terminal in j.terminals for j in wiring.joints)]
        found += [f"unsolder {', '.join(map(_name, loose))}"] if loose else []
        found += [f"fit {', '.join(new)}{self._tapered()}"] if new else []
        tied = [f"{_name(terminal)} to {_joint(wiring, self, to)}" for terminal, to in self.into]
        tied += [" – ".join(map(_name, terminals)) for terminals in self.joints]
        return (*found, *([f"solder {'; '.join(tied)}"] if tied else []))

    def _tapered(self) -> str:
        return f", {self.taper} taper" if self.taper else ""


def _name(terminal: Terminal) -> str:
    return ".".join(terminal)


def _joint(wiring: Wiring, edit: Edit, to: Terminal) -> str:
    """A joint by the terminal named and, where there is one, another that stays in it."""
    for joint in wiring.joints:
        if to in joint.terminals:
            others = [t for t in edit.left(joint.terminals) if t != to]
            return f"{_name(to)} (with {_name(others[0])})" if others else _name(to)
    return _name(to)


def fresh(wiring: Wiring, name: str) -> str:
    """A name that no part has yet.

    Parameters
    ----------
    wiring : Wiring
    name : str
        Taken as it is where it is free.
    """
    number, found = 2, name
    while found in wiring.parts:
        found, number = f"{name}_{number}", number + 1
    return found
