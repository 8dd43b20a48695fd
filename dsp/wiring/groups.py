"""Named groups: what is soldered inside each, and that nothing else is."""

from __future__ import annotations

from collections.abc import Collection

from dsp.errors import InputError
from dsp.parts.kinds import is_polar, is_sensing
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge


def groups_of(wiring: Wiring) -> tuple[str, ...]:
    """Return the names of the groups, in the file's order."""
    return tuple(name for name, part in wiring.parts.items() if is_polar(part) and not is_sensing(part))


def members_of(wiring: Wiring, group: str) -> tuple[str, ...]:
    """Return the parts that joints connect with a group's leads."""
    pieces: Merge[str] = Merge(wiring.parts)
    for joint in wiring.joints:
        pieces.join(name for name, _ in joint.terminals)
    return tuple(name for name in wiring.parts if name != group and pieces.same(name, group))


def coils_inside(wiring: Wiring, names: Collection[str]) -> dict[str, tuple[str, ...]]:
    """Return the coils soldered inside each of some groups.

    Parameters
    ----------
    names : collection of str
        Names of parts other than groups are ignored.

    Raises
    ------
    InputError
        If a group is soldered to anything outside: it meets the rest by its leads alone, and only a
        sketch joins these.
    """
    found: dict[str, tuple[str, ...]] = {}
    for group in groups_of(wiring):
        if group not in names:
            continue
        members = members_of(wiring, group)
        outside = wiring.placed | {wiring.jack, *wiring.sketches, *groups_of(wiring)}
        if strange := [name for name in members if name in outside]:
            line = wiring.lines.get(group, 0)
            where = f"{wiring.file}:{line}: {group}" if line else f"{wiring.file}: {group}"
            allowed = "only parts of its own: the rest meets a group at its hot and cold, in the sketch"
            raise InputError(where, f"soldered to {', '.join(strange)}", allowed)
        found[group] = tuple(name for name in members if name in wiring.coils)
    return found
