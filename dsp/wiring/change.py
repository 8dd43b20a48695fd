"""A change of a wiring: parts taken out and put in, leads unsoldered and soldered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import kind_of, positioned_of
from dsp.wiring.model import Joint, Wiring


@dataclass(frozen=True)
class Change:
    """What to do at the bench.

    Attributes
    ----------
    removed : tuple of str
        Parts to take out, every lead.
    parts : mapping of str to Part
        New parts, and present ones with another value; a pot with another taper or resistance.
    unsolder : tuple of Terminal
        Terminals to unsolder first, besides the leads of ``removed``.
    solder : tuple of (Terminal, Terminal)
        Each terminal and the one whose joint it is soldered to. A terminal without a joint starts one.
    joints : tuple of tuple of Terminal
        New joints.
    taper : str
        Name of a pot's new taper; empty where the change leaves tapers alone.
    """

    removed: tuple[str, ...] = ()
    parts: Mapping[str, Part] = field(default_factory=dict)
    unsolder: tuple[Terminal, ...] = ()
    solder: tuple[tuple[Terminal, Terminal], ...] = ()
    joints: tuple[tuple[Terminal, ...], ...] = ()
    taper: str = ""

    def apply(self, wiring: Wiring) -> Wiring:
        """Return the wiring after the change."""
        parts = {name: part for name, part in wiring.parts.items() if name not in self.removed}
        parts |= self.parts
        joints = tuple(
            Joint(terminals, wiring.joints[i].line if i is not None else 0)
            for i, terminals in self.new_joints(wiring)
        )
        return replace(wiring, parts=parts, joints=joints)

    def new_joints(self, wiring: Wiring) -> tuple[tuple[int | None, tuple[Terminal, ...]], ...]:
        """Return the joints after the change, each with its number before.

        Parameters
        ----------
        wiring : Wiring
            Before the change. Joints that share an unsoldered terminal become one.
        """
        rows: list[list[Terminal] | None] = [list(joint.terminals) for joint in wiring.joints]
        for terminal in dict.fromkeys(t for joint in wiring.joints for t in joint.terminals):
            if not self._comes_off(terminal):
                continue
            holders = [row for row in rows if row is not None and terminal in row]
            for row in holders[1:]:
                holders[0] += [t for t in row if t not in holders[0]]
                rows[next(i for i, one in enumerate(rows) if one is row)] = None
        left = [None if row is None else [t for t in row if not self._comes_off(t)] for row in rows]
        new: list[list[Terminal]] = []
        for terminal, to in self.solder:
            at = next((row for row in (*left, *new) if row is not None and to in row), None)
            if at is None:
                new.append([to, terminal])
            else:
                at.append(terminal)
        numbered = [(i, row) for i, row in enumerate(left) if row is not None]
        whole = [*numbered, *((None, row) for row in (*new, *map(list, self.joints)))]
        return tuple((i, tuple(row)) for i, row in whole if len(row) > 1)

    def _comes_off(self, terminal: Terminal) -> bool:
        return terminal in self.unsolder or terminal[0] in self.removed

    def instructions(self, wiring: Wiring) -> tuple[str, ...]:
        """Return what to do, a line each, in the order of work.

        Parameters
        ----------
        wiring : Wiring
            Before the change.
        """
        gone = [name for name in self.removed if name not in self.parts]
        sketched = {name: fields for name, part in self.parts.items() if (fields := _expressions(part))}
        new = [
            f"{name} ({kind_of(part).value_text(part)})"
            for name, part in self.parts.items()
            if name not in sketched
        ]
        lines = [f"take out {', '.join(gone)}"] if gone else []
        soldered = {terminal for joint in wiring.joints for terminal in joint.terminals}
        off = [_text(terminal) for terminal in self.unsolder if terminal in soldered]
        lines += [f"unsolder {', '.join(off)}"] if off else []
        taper = f", {self.taper} taper" if self.taper else ""
        lines += [f"fit {', '.join(new)}{taper}"] if new else []
        on = [f"{_text(terminal)} to {self._joint_text(wiring, to)}" for terminal, to in self.solder]
        on += [" – ".join(map(_text, terminals)) for terminals in self.joints]
        lines += [f"solder {'; '.join(on)}"] if on else []
        for name, expressions in sketched.items():
            before = _expressions(wiring.parts[name])
            texts = [f"{at} = {text}" for at, text in expressions.items() if before.get(at) != text]
            lines.append(f"in {name} write {'; '.join(texts)}")
        return tuple(lines)

    def _joint_text(self, wiring: Wiring, terminal: Terminal) -> str:
        """A joint by one of its terminals and, where there is one, another that stays in it."""
        for joint in wiring.joints:
            if terminal in joint.terminals:
                others = [t for t in joint.terminals if t != terminal and not self._comes_off(t)]
                return f"{_text(terminal)} (with {_text(others[0])})" if others else _text(terminal)
        return _text(terminal)


def join_changes(changes: Sequence[Change]) -> Change:
    """Return several changes of different parts as one.

    Parameters
    ----------
    changes : sequence of Change
        That share no new part. The last one's taper counts.
    """
    return Change(
        tuple(dict.fromkeys(name for one in changes for name in one.removed)),
        {name: part for one in changes for name, part in one.parts.items()},
        tuple(dict.fromkeys(terminal for one in changes for terminal in one.unsolder)),
        tuple(pair for one in changes for pair in one.solder),
        tuple(joint for one in changes for joint in one.joints),
        changes[-1].taper,
    )


def _expressions(part: Part) -> dict[str, str]:
    """Return the expressions of a sketch; of any other part nothing."""
    kind = positioned_of(part)
    return kind.file_fields(part)[kind.positions_field] if kind is not None and kind.sketched else {}


def _text(terminal: Terminal) -> str:
    return ".".join(terminal)


def free_name(wiring: Wiring, name: str) -> str:
    """Return a name that no part has: this one, or this one with a number.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> wiring = Wiring("", "", {"tone_cap": new_part("capacitor", capacitance=22e-9)})
    >>> free_name(wiring, "tone_cap"), free_name(wiring, "bypass_cap")
    ('tone_cap_2', 'bypass_cap')
    """
    number, found = 2, name
    while found in wiring.parts:
        found, number = f"{name}_{number}", number + 1
    return found
