"""What carries the sound at a setting, what loads it and what rests: from the joints alone.

Current flows only around loops. A part carries the sound if one loop contains both it and the load; in
graph terms, if both are in one biconnected block. A part from the signal to ground only loads it: without
such parts the block is smaller, and that smaller block carries. Within one node, contacts carry that lie
on a way between two ends that carry. Magnetic couplings are no ways; a transformer links its two windings.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from dsp.parts.jack import SLEEVE
from dsp.parts.kind import Terminal
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, Network, build_network, closed_contacts, resistances
from dsp.wiring.reach import find_blocks, find_reaching_coils
from dsp.wiring.union import Merge

REST, LOADS, CARRIES = 0, 1, 2
"""Levels of a part, contact or terminal."""
HEARD, SHORTED, HANGS, COUPLED = "heard", "shorted", "hangs", "coupled"
"""States of a coil; a coupled one is heard through its magnetic coupling alone."""


@dataclass(frozen=True)
class Contact:
    """Two terminals of a part that it joins at a setting."""

    first: Terminal
    second: Terminal
    level: int


@dataclass(frozen=True)
class Sounding:
    """What carries (2), loads (1) or rests (0) at a setting.

    Attributes
    ----------
    parts : mapping of str to int
        The highest level within each part.
    terminals : mapping of Terminal to int
        Terminals at rest are left out.
    contacts : tuple of Contact
        Closed contacts, tracks without resistance and pieces of metal.
    joints : tuple of int
        Level of each joint of the wiring: two of its terminals have it.
    coils : mapping of str to str
        ``heard``, ``shorted``, ``hangs`` or ``coupled``.
    """

    parts: Mapping[str, int]
    terminals: Mapping[Terminal, int]
    contacts: tuple[Contact, ...]
    joints: tuple[int, ...]
    coils: Mapping[str, str]


@dataclass(frozen=True)
class _Edge:
    """A way through a part between two nodes."""

    part: str
    leads: tuple[Terminal, Terminal]
    a: int
    b: int
    passes_on: bool

    @property
    def shunts(self) -> bool:
        """Whether it leads to ground and is no coil or transformer."""
        return not self.passes_on and GROUND in (self.a, self.b)


def find_sounding(wiring: Wiring, setting: Setting) -> Sounding:
    """Find what carries the sound at a setting.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> find_sounding(wiring, wiring.setting("1")).coils
    {'neck': 'heard'}
    """
    network = build_network(wiring, setting)
    ohms = resistances(network, setting)
    at = Merge(range(network.n_nodes))
    for segment in network.segments:
        if ohms[segment.key] == 0.0:
            at.join((segment.a, segment.b))
    edges = list(_edges(wiring, network, ohms, at))
    levels = _levels(network, edges, at)
    ends = _ends(wiring, edges, levels)
    contacts = tuple(_contacts(wiring, setting, network, ohms, ends))
    terminals = dict(ends)
    for contact in contacts:
        for one in (contact.first, contact.second):
            terminals[one] = max(terminals.get(one, REST), contact.level)
    parts = dict.fromkeys(wiring.parts, REST)
    for edge, level in zip(edges, levels, strict=True):
        parts[edge.part] = max(parts[edge.part], level)
    for contact in contacts:
        for name, _ in (contact.first, contact.second):
            if name in parts:
                parts[name] = max(parts[name], contact.level)
    parts[wiring.jack] = max(ends.values(), default=REST)
    return Sounding(
        parts,
        {one: level for one, level in terminals.items() if level},
        contacts,
        tuple(_second([terminals.get(one, REST) for one in joint.terminals]) for joint in wiring.joints),
        _coil_states(wiring, network, edges, levels, at),
    )


def _second(levels: Sequence[int]) -> int:
    return sorted(levels)[-2] if len(levels) > 1 else REST


def _edges(
    wiring: Wiring, network: Network, ohms: Mapping[tuple[str, int], float], at: Merge[int]
) -> Iterator[_Edge]:
    sources = {*wiring.coils, *(branch.name for tie in network.ties for branch in tie.branches)}
    ground = at.root(GROUND)

    def node(one: int) -> int:
        root = at.root(one)
        return GROUND if root == ground else root

    for branch in network.branches:
        if branch.name in wiring.parts:
            first, last = branch.leads
            leads = ((branch.name, first), (branch.name, last))
            yield _Edge(branch.name, leads, node(branch.a), node(branch.b), branch.name in sources)
    for segment in network.segments:
        if ohms[segment.key] and isfinite(ohms[segment.key]):
            first, last = segment.leads
            leads = ((segment.pot, first), (segment.pot, last))
            yield _Edge(segment.pot, leads, node(segment.a), node(segment.b), False)


def _levels(network: Network, edges: Sequence[_Edge], at: Merge[int]) -> list[int]:
    """Return the level of each edge."""
    if at.same(network.output, GROUND):
        return [REST] * len(edges)
    output = at.root(network.output)
    full = _with_load(network, edges, output)
    lean = [edge for edge, loads in zip(edges, full, strict=True) if loads and not edge.shunts]
    carries = iter(_with_load(network, lean, output))
    return [
        (CARRIES if next(carries) else LOADS) if loads and not edge.shunts else LOADS if loads else REST
        for edge, loads in zip(edges, full, strict=True)
    ]


def _with_load(network: Network, edges: Sequence[_Edge], output: int) -> list[bool]:
    """Return whether each edge is in the load's block, or linked to it by a transformer."""
    block = find_blocks([*((edge.a, edge.b) for edge in edges), (GROUND, output)], network.n_nodes)
    linked = Merge(block)
    mine: dict[str, list[int]] = {}
    for edge, number in zip(edges, block, strict=False):
        mine.setdefault(edge.part, []).append(number)
    for tie in network.ties:
        linked.join(mine.get(tie.branches[0].name, ()))
    return [
        edge.a != edge.b and linked.same(number, block[-1])
        for edge, number in zip(edges, block, strict=False)
    ]


def _ends(wiring: Wiring, edges: Iterable[_Edge], levels: Iterable[int]) -> dict[Terminal, int]:
    """Return the level of the terminals where parts carry or load, and of the jack's two."""
    ends: dict[Terminal, int] = {}
    for edge, level in zip(edges, levels, strict=True):
        for lead in edge.leads if level else ():
            ends[lead] = max(ends.get(lead, REST), level)
    if ends:
        most = max(ends.values())
        ends |= {wiring.hot: most, (wiring.jack, SLEEVE): most}
    return ends


def _contacts(
    wiring: Wiring,
    setting: Setting,
    network: Network,
    ohms: Mapping[tuple[str, int], float],
    ends: Mapping[Terminal, int],
) -> Iterator[Contact]:
    """Yield what is closed, each with its level."""
    pairs = [pair for group in closed_contacts(wiring, setting) for pair in pairwise(group)]
    pairs += [
        ((segment.pot, segment.leads[0]), (segment.pot, segment.leads[1]))
        for segment in network.segments
        if ohms[segment.key] == 0.0
    ]
    joined = Merge([*network.node_of, *(one for pair in pairs for one in pair)])
    for joint in wiring.joints:
        joined.join(joint.terminals)
    numbers: dict[Terminal, int] = {}
    for group in joined.classes():
        numbers.update(dict.fromkeys(group, len(set(numbers.values()))))
    ways = [(numbers[a], numbers[b]) for a, b in pairs]
    levels = [REST] * len(pairs)
    for level in (LOADS, CARRIES):
        for k in _between(ways, {numbers[one] for one, has in ends.items() if has >= level}):
            levels[k] = level
    for (first, second), level in zip(pairs, levels, strict=True):
        yield Contact(first, second, level)


def _between(ways: Sequence[tuple[int, int]], active: set[int]) -> Iterator[int]:
    """Yield the ways that lie on a path between two active vertices.

    A vertex of its own, joined to all active ones, makes such a path a loop.
    """
    beyond = 1 + max([*active, *(end for way in ways for end in way)], default=0)
    spokes = [(beyond, one) for one in active]
    block = find_blocks([*ways, *spokes], beyond + 1)
    with_spokes = set(block[len(ways) :])
    for k, (a, b) in enumerate(ways):
        if a != b and block[k] in with_spokes:
            yield k


def _coil_states(
    wiring: Wiring, network: Network, edges: Sequence[_Edge], levels: Sequence[int], at: Merge[int]
) -> dict[str, str]:
    reaching = dict(zip(wiring.coils, find_reaching_coils(network), strict=True))
    silent = at.same(network.output, GROUND)
    found = {}
    for name in wiring.coils:
        mine = [(edge, level) for edge, level in zip(edges, levels, strict=True) if edge.part == name]
        if any(level for _, level in mine):
            found[name] = HEARD
        elif all(edge.a == edge.b for edge, _ in mine) or mine[0][0].a == mine[-1][0].b:
            found[name] = SHORTED
        elif reaching[name] and not silent and _is_coupled(wiring, name):
            found[name] = COUPLED
        else:
            found[name] = HANGS
    return found


def _is_coupled(wiring: Wiring, name: str) -> bool:
    return any(name in (one.first, one.second) for one in wiring.couplings if one.coefficient)
