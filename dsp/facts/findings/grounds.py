"""Findings about metal: grounded, floating, live, or grounded twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from dsp.facts.findings.states import State, group_by_condition, line_of
from dsp.facts.findings.table import Finding
from dsp.parts.kind import Terminal
from dsp.parts.kinds import kind_of
from dsp.parts.metal import STRINGS, Metal
from dsp.wiring.model import Wiring
from dsp.wiring.network import GROUND, Network, build_network
from dsp.wiring.reach import Edge, find_blocks, find_reaching_coils
from dsp.wiring.union import Merge

GROUNDED, THROUGH, LIVE, FLOATING = "grounded", "through parts", "metal live", "metal floating"


def find_ground_faults(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield what the metal of a wiring is joined to; a reminder without."""
    metals = {name: part for name, part in wiring.parts.items() if isinstance(part, Metal)}
    how = _joined_to(wiring, list(metals), states)
    for name in metals:
        for rule in (LIVE, FLOATING):
            hit = [state for state in states if how[name, state.shape] == rule]
            for positions, when, _ in group_by_condition(hit, states) if hit else ():
                where = () if len(hit) == len(states) else positions
                yield Finding(rule, (name,), where, line_of(wiring, name), when)
    yield from _strings(wiring, [name for name, part in metals.items() if part.of == STRINGS], how)
    yield from _loops(wiring)


def _strings(
    wiring: Wiring, names: list[str], how: dict[tuple[str, tuple[int, ...]], str]
) -> Iterator[Finding]:
    """Yield that the strings are grounded, or a reminder where the file does not show them."""
    if not names:
        yield Finding("strings not grounded")
    for name in names:
        found = {one for (metal, _), one in how.items() if metal == name}
        if found <= {GROUNDED, THROUGH}:
            detail = "through other parts" if THROUGH in found else ""
            yield Finding("strings grounded", (name,), (), line_of(wiring, name), detail)


def _joined_to(
    wiring: Wiring, names: list[str], states: list[State]
) -> dict[tuple[str, tuple[int, ...]], str]:
    """Return what each piece of metal is joined to, by its name and a state's shape."""
    found: dict[tuple[str, tuple[int, ...]], str] = {}
    for state in states if names else ():
        network = build_network(wiring, state.setting)
        for name in names:
            if (name, state.shape) not in found:
                found[name, state.shape] = _state_of(network, network.node_of[name, "a"])
    return found


def _state_of(network: Network, node: int) -> str:
    if node == GROUND:
        return GROUNDED
    solid = Merge(range(network.n_nodes))  # what current can flow through; capacitors left out
    for kind, branches in network.elements:
        for branch, ohm in zip(branches, kind.dc_ohms(branches[0].part), strict=True):
            if ohm is not None:
                solid.join((branch.a, branch.b))
    for segment in network.segments:
        solid.join((segment.a, segment.b))
    pieces = Merge(range(network.n_nodes))
    for branch in network.branches:
        pieces.join((branch.a, branch.b))
    pieces.join(n for n in range(network.n_nodes) if solid.same(n, GROUND))
    alone = not any(solid.same(node, other) for other in range(network.n_nodes) if other != node)
    if any(find_reaching_coils(replace(network, output=node))):
        return FLOATING if alone else LIVE
    return THROUGH if pieces.same(node, GROUND) else FLOATING


def _loops(wiring: Wiring) -> Iterator[Finding]:
    """Yield metal that lies in a ring of joints: it has two ways to ground.

    Pieces of metal and joints are the nodes of a graph, and a soldered terminal is an edge. A block of
    several edges holds a ring.
    """
    place: dict[Terminal, Terminal] = {}
    for name, part in wiring.parts.items():
        for lead in kind_of(part).leads(part):
            whole = lead in kind_of(part).one_piece(part)
            place[name, lead] = (name, "") if whole else (name, lead)
    ground = Merge({*place.values(), (wiring.jack, "sleeve")})
    for joint in wiring.joints:
        ground.join(place[terminal] for terminal in joint.terminals)
    numbers = {terminal: i for i, terminal in enumerate(dict.fromkeys(place.values()))}
    edges: dict[Edge, str] = {}
    for i, joint in enumerate(wiring.joints):
        for terminal in joint.terminals:
            one = place[terminal]
            if ground.same(one, (wiring.jack, "sleeve")):
                edges[numbers[one], len(numbers) + i] = one[0] if not one[1] else ""
    block = find_blocks(list(edges), len(numbers) + len(wiring.joints))
    size = Counter(block)
    rings: dict[int, list[str]] = {}
    for number, metal in zip(block, edges.values(), strict=True):
        if size[number] > 1 and metal:
            rings.setdefault(number, []).append(metal)
    for names in rings.values():
        metals = tuple(dict.fromkeys(names))
        yield Finding("ground made twice", metals, (), line_of(wiring, metals[0]))
