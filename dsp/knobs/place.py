"""Where a knob is connected in a wiring: its two joints, and the parts in line with it."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.parts.kind import Terminal
from dsp.parts.kinds import is_passive, kind_of, terminals_of
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge

LUGS = ("1", "2", "3")


@dataclass(frozen=True)
class PotPlace:
    """A knob used as a variable resistor.

    Attributes
    ----------
    lugs : tuple of tuple of str
        Lugs used on each side. A side with two has them tied together.
    ends : tuple of Terminal
        For each side, a terminal of the joint where the knob and its line of parts end.
        If one is the sleeve's joint, it comes second.
    line : tuple of str
        Parts in series with the knob and connected to nothing else: its tone network.
    """

    knob: str
    lugs: tuple[tuple[str, ...], tuple[str, ...]]
    ends: tuple[Terminal, Terminal]
    line: tuple[str, ...]


def merge_joints(wiring: Wiring) -> Merge[Terminal]:
    """Return all terminals, merged by joints and pieces of metal alone."""
    everything = [(name, lead) for name, part in wiring.parts.items() for lead in terminals_of(part)]
    merge: Merge[Terminal] = Merge(everything)
    for joint in wiring.joints:
        merge.join(joint.terminals)
    for name, part in wiring.parts.items():
        merge.join((name, lead) for lead in kind_of(part).one_piece(part))
    return merge


def pot_place(wiring: Wiring, knob: str) -> PotPlace | None:
    """Return a pot's place, or None if it is not a variable resistor.

    Parameters
    ----------
    knob : str
        A pot, one of those that a shaft turns. None too if something is soldered to its tap.
    """
    if not is_plain(wiring, knob):
        return None
    merge = merge_joints(wiring)
    groups: dict[Terminal, tuple[str, ...]] = {}
    for lug in LUGS:
        root = merge.root((knob, lug))
        groups[root] = (*groups.get(root, ()), lug)
    used = [
        lugs
        for root, lugs in groups.items()
        if any(merge.root(t) == root for joint in wiring.joints for t in joint.terminals if t[0] != knob)
    ]
    if len(used) != 2:
        return None
    line: list[str] = []
    ends = [_end(wiring, merge, (knob, lugs[0]), knob, line) for lugs in used]
    if ends[0] is None or ends[1] is None or merge.same(ends[0], ends[1]):
        return None
    sleeve = (wiring.jack, "sleeve")
    first, second = (0, 1) if not merge.same(ends[0], sleeve) else (1, 0)
    return PotPlace(knob, (used[first], used[second]), (ends[first], ends[second]), tuple(line))  # type: ignore[arg-type]


def is_plain(wiring: Wiring, pot: str) -> bool:
    """Return whether nothing is soldered to a pot but lugs 1, 2 and 3."""
    more = [(pot, lug) for lug in terminals_of(wiring.parts[pot]) if lug not in LUGS]
    return not any(terminal in joint.terminals for joint in wiring.joints for terminal in more)


def knob_places(wiring: Wiring, knob: str) -> tuple[PotPlace, ...]:
    """Return a knob's places, none unless each track is a resistor."""
    found = [pot_place(wiring, track) for track in wiring.knobs.get(knob, ())]
    whole = tuple(place for place in found if place is not None)
    return whole if len(whole) == len(found) else ()


def is_divider(wiring: Wiring, track: str) -> bool:
    """Return whether a pot's wiper and lug 3 are soldered, as a volume's."""
    soldered = {terminal for joint in wiring.joints for terminal in joint.terminals}
    return {(track, "2"), (track, "3")} <= soldered


def why_no_place(wiring: Wiring, knob: str) -> str:
    """Return why a knob has no place for a network; empty if it has one."""
    tracks = wiring.knobs.get(knob, ())
    for track in tracks:
        named = "it" if len(tracks) == 1 else f"its track {track}"
        if not is_plain(wiring, track):
            return f"{named} has parts on its tap"
        if pot_place(wiring, track) is None:
            return f"{named} is not a variable resistor between two joints"
    return ""


def _end(wiring: Wiring, merge: Merge[Terminal], at: Terminal, knob: str, line: list[str]) -> Terminal | None:
    """Follow the parts in line from a lug to the first joint with other parts."""
    members = next(group for group in merge.classes() if at in group)
    others = [t for t in members if t[0] != knob and t[0] not in line]
    if not others:
        return None
    parts = [wiring.parts[name] for name, _ in others]
    if all(map(is_passive, parts)):
        beyond = [(name, _other(lead)) for name, lead in others]
        if len({merge.root(t) for t in beyond}) == 1 and not merge.same(beyond[0], at):
            line += [name for name, _ in others]
            return _end(wiring, merge, beyond[0], knob, line)
    return others[0]


def _other(lead: str) -> str:
    return "b" if lead == "a" else "a"


def parts_across(wiring: Wiring, first: Terminal, second: Terminal) -> tuple[str, ...]:
    """Return the parts that bridge two terminals, such as a bypass."""
    merge = merge_joints(wiring)
    found: list[str] = []
    members = next(group for group in merge.classes() if first in group)
    for name, lead in members:
        chain, at = [], (name, lead)
        while is_passive(wiring.parts[at[0]]) and at[0] not in chain:
            chain.append(at[0])
            beyond = (at[0], _other(at[1]))
            if merge.same(beyond, second):
                found += chain
                break
            onward = [t for group in merge.classes() if beyond in group for t in group if t != beyond]
            if len(onward) != 1:
                break
            at = onward[0]
    return tuple(dict.fromkeys(found))
