"""First verifier: reduce the terminals that each position joins to a sound, and compare it.

Joints and closed contacts merge terminals. The verifier then reduces the parts in use, parallel
ones before those in series, until one is left between hot and ground. This must be the target
sound, in any order of members. The verifier does not use the code that makes charts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import Sound, TargetPart, Targets, sound_of
from dsp.parts.expression import names_in
from dsp.parts.kind import Terminal
from dsp.wiring.union import Merge


@dataclass(frozen=True)
class Fault:
    """A fault of one position.

    Attributes
    ----------
    position : str
        Position of the switch.
    kind : str
        ``sound`` (the wrong sound) or ``rule`` (the right sound, but a rule is broken).
    """

    position: str
    kind: str
    text: str


def find_faults(wanted: Targets, chart: Chart, rules: ChartRules) -> tuple[Fault, ...]:
    """Return the faults of a chart; empty for a good one.

    Parameters
    ----------
    rules : ChartRules
        Only the rules on unused coils count here.
    """
    return tuple(
        fault for position in chart.switch.positions for fault in _position(wanted, chart, rules, position)
    )


def _position(wanted: Targets, chart: Chart, rules: ChartRules, position: str) -> Iterator[Fault]:
    merge = merge_terminals(wanted, chart, position)
    target = next((t for t in wanted.targets if t.name == chart.sounds.get(position)), None)
    if target is None:
        yield Fault(position, "sound", "no sound is assigned")
        return
    if merge.same(HOT_END, COLD_END):
        yield Fault(position, "sound", "hot and ground are joined")
        return
    names = set(names_in(target.expression))
    used = [part for part in wanted.parts if part.name in names]
    polar = {part.name: part.coil for part in wanted.parts}
    want = sound_of(target.expression, polar, turned=target.name in chart.turned)
    ends = (merge.root(HOT_END), merge.root(COLD_END))
    edges = [_Edge(*_ends(merge, part), Sound("part", part.name)) for part in used]
    got = _reduced(edges, ends, polar)
    if got != want:
        yield Fault(position, "sound", "its parts are not joined as wanted")
    live = {end for edge in edges for end in (edge.a, edge.b)} | {ends[0]}
    unused = [part for part in wanted.parts if part.name not in names]
    yield from _unused(position, merge, unused, live | {ends[1]}, ends[1], names, rules)


def merge_terminals(wanted: Targets, chart: Chart, position: str) -> Merge[Terminal]:
    """Return all terminals, merged by the joints and a position's contacts."""
    lugs = [(SWITCH, lug) for lug in chart.switch.lugs]
    merge: Merge[Terminal] = Merge([HOT_END, COLD_END, *wanted.leads, *lugs])
    for net in (*chart.nets, *(link.leads for link in wanted.links)):
        merge.join(net)
    for group in chart.switch.contacts[position]:
        merge.join((SWITCH, lug) for lug in group)
    return merge


def _ends(merge: Merge[Terminal], part: TargetPart) -> tuple[Terminal, Terminal]:
    first, last = (merge.root((part.name, lead)) for lead in part.leads)
    return first, last


# --- the parts in use


@dataclass(frozen=True)
class _Edge:
    """A sound between two classes of terminals, its hot end first."""

    a: Terminal
    b: Terminal
    sound: Sound

    def from_(self, end: Terminal, polar: dict[str, bool]) -> _Edge:
        """Return the edge with its hot end at a terminal."""
        return self if self.a == end else _Edge(self.b, self.a, _turned(self.sound, polar))


def _turned(sound: Sound, polar: dict[str, bool]) -> Sound:
    if sound.kind == "part":
        return Sound("part", sound.name, polar[sound.name] and not sound.turned)
    return Sound(sound.kind, members=tuple(sorted(_turned(member, polar) for member in sound.members)))


def _joined(kind: str, one: Sound, other: Sound) -> Sound:
    members = [m for sound in (one, other) for m in (sound.members if sound.kind == kind else (sound,))]
    return Sound(kind, members=tuple(sorted(members)))


def _reduced(edges: list[_Edge], ends: tuple[Terminal, Terminal], polar: dict[str, bool]) -> Sound | None:
    """Return the sound of the parts between the ends; None if they form none."""
    left = list(edges)
    while len(left) > 1:
        step = _parallel_step(left, polar) or _series_step(left, ends, polar)
        if step is None:
            return None
        left = step
    if not left or {left[0].a, left[0].b} != set(ends) or left[0].a == left[0].b:
        return None
    return left[0].from_(ends[0], polar).sound


def _parallel_step(edges: list[_Edge], polar: dict[str, bool]) -> list[_Edge] | None:
    for i, one in enumerate(edges):
        for other in edges[i + 1 :]:
            if one.a != one.b and {one.a, one.b} == {other.a, other.b}:
                sound = _joined("parallel", one.sound, other.from_(one.a, polar).sound)
                rest = [edge for edge in edges if edge not in (one, other)]
                return [*rest, _Edge(one.a, one.b, sound)]
    return None


def _series_step(
    edges: list[_Edge], ends: tuple[Terminal, Terminal], polar: dict[str, bool]
) -> list[_Edge] | None:
    for between in {end for edge in edges for end in (edge.a, edge.b)} - set(ends):
        touching = [edge for edge in edges if between in (edge.a, edge.b)]
        if len(touching) == 2 and all(edge.a != edge.b for edge in touching):
            below = touching[1].from_(between, polar)
            above = _other_way(touching[0], between, polar)
            rest = [edge for edge in edges if edge not in touching]
            return [*rest, _Edge(above.a, below.b, _joined("series", above.sound, below.sound))]
    return None


def _other_way(edge: _Edge, end: Terminal, polar: dict[str, bool]) -> _Edge:
    """Return the edge with its cold end at a terminal."""
    return edge if edge.b == end else _Edge(edge.b, edge.a, _turned(edge.sound, polar))


# --- the parts not in use


def _unused(
    position: str,
    merge: Merge[Terminal],
    unused: list[TargetPart],
    nodes: set[Terminal],
    ground: Terminal,
    names: set[str],
    rules: ChartRules,
) -> Iterator[Fault]:
    """Yield the faults of unused parts that bridge nodes or break the rules."""
    everything = {end for part in unused for end in _ends(merge, part)} | nodes
    trees: Merge[Terminal] = Merge(everything)
    for part in unused:
        trees.join(_ends(merge, part))
    roots = [trees.root(node) for node in nodes]
    if len(set(roots)) < len(roots):
        yield Fault(position, "sound", "an unused part bridges two points of the sound")
        return
    at_live = {trees.root(node) for node in nodes if node != ground}
    for part in unused:
        first, last = _ends(merge, part)
        if not part.coil:
            continue
        if _in_a_loop(part, unused, merge, everything):
            if part.guarded or part.coupled & names:
                yield Fault(position, "sound", f"unused {part.name} is shorted and loads a coupled coil")
            elif not rules.shorted:
                yield Fault(position, "rule", f"unused {part.name} is shorted")
        if first != last and trees.root(first) in at_live and not rules.hanging:
            yield Fault(position, "rule", f"unused {part.name} hangs from a live point")


def _in_a_loop(
    part: TargetPart, unused: list[TargetPart], merge: Merge[Terminal], everything: set[Terminal]
) -> bool:
    """Return whether a part's leads are joined, also through unused parts."""
    others: Merge[Terminal] = Merge(everything)
    for other in unused:
        if other is not part:
            others.join(_ends(merge, other))
    return others.same(*_ends(merge, part))
