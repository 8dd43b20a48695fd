"""How a position connects its coils, read from its network: series, parallel or neither.

The reduction ignores names and labels. It merges two coils between the same nodes into a
parallel group, and two coils that share a node of their own into a series group, step by step.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from dsp.wiring.network import GROUND, Network
from dsp.wiring.union import Merge

SERIES, PARALLEL, MESH = "series", "parallel", "mesh"


@dataclass(frozen=True)
class CoilLeaf:
    """A coil in a tree.

    Attributes
    ----------
    turned : bool
        The coil's start is on the cold side.
    """

    name: str
    turned: bool = False


@dataclass(frozen=True)
class Connection:
    """Coils connected in one way.

    Attributes
    ----------
    kind : str
        ``series``, ``parallel``, or ``mesh`` for anything else, such as a bridge.
    members : tuple of CoilLeaf or Connection
        Ordered from hot to cold for series.
    """

    kind: str
    members: tuple[Tree, ...]


Tree = CoilLeaf | Connection


@dataclass(frozen=True)
class _Edge:
    """A tree between two nodes, with ``a`` at its hot end."""

    a: int
    b: int
    tree: Tree


def coil_connections(network: Network, heard: Iterable[str]) -> tuple[Tree, ...]:
    """Return the groups of coils that a position connects.

    Parameters
    ----------
    network : Network
        The position's network, before or after its knobs are set.
    heard : iterable of str
        Coils that reach the output.

    Returns
    -------
    tuple of Tree
        One for coils connected directly. Several where other parts separate them, such as two
        coils with a volume pot each. Empty for silence.
    """
    wanted = set(heard)
    edges = [edge for coil in network.coils if coil.name in wanted for edge in _edges(network, coil.name)]
    outer = _outer_nodes(network, wanted)
    pieces = Merge({node for edge in edges for node in (edge.a, edge.b)} - {GROUND})
    for edge in edges:
        pieces.join([node for node in (edge.a, edge.b) if node != GROUND])
    groups: dict[int, list[_Edge]] = {}
    for edge in edges:
        groups.setdefault(pieces.root(edge.a if edge.a != GROUND else edge.b), []).append(edge)
    return tuple(_tree(group, outer) for group in groups.values())


def _edges(network: Network, name: str) -> list[_Edge]:
    """Return a coil between its ends; of a tapped one the sections in use.

    Two sections with nothing at the tap are the whole coil.
    """
    mine = [branch for branch in network.branches if branch.name == name and branch.a != branch.b]
    if len(mine) > 1:
        ends = [node for branch in network.branches for node in (branch.a, branch.b)]
        ends += [node for segment in network.segments for node in (segment.a, segment.b)]
        ends += [GROUND, GROUND, network.output, network.output]
        mine = [one for one in mine if min(ends.count(one.a), ends.count(one.b)) > 1]
        if len(mine) == 2 and ends.count(mine[0].b) == 2:
            return [_Edge(mine[0].a, mine[1].b, CoilLeaf(name))]
    return [_Edge(branch.a, branch.b, CoilLeaf(name)) for branch in mine]


def _outer_nodes(network: Network, wanted: set[str]) -> set[int]:
    """Return the nodes where anything besides the coils is connected."""
    outer = {GROUND, network.output}
    for branch in network.branches:
        if branch.name not in wanted:
            outer |= {branch.a, branch.b} if branch.a != branch.b else set()
    for segment in network.segments:
        outer |= {segment.a, segment.b}
    return outer


def _tree(edges: Sequence[_Edge], outer: set[int]) -> Tree:
    """Reduce one group between its hot end and its cold end."""
    nodes = {node for edge in edges for node in (edge.a, edge.b)}
    ends = sorted(nodes & outer, reverse=True)  # ground, node 0, sorts last: it is the cold end
    left = _reduced(list(edges), set(ends))
    if len(ends) == 2 and len(left) == 1:
        return left[0].tree if left[0].a == ends[0] else _turned(left[0].tree)
    names = sorted(name for edge in edges for name in _names(edge.tree))
    return CoilLeaf(names[0]) if len(names) == 1 else Connection(MESH, tuple(map(CoilLeaf, names)))


def _reduced(edges: list[_Edge], ends: set[int]) -> list[_Edge]:
    """Return the edges after all parallel and series steps."""
    while True:
        step = _parallel_step(edges) or _series_step(edges, ends)
        if step is None:
            return edges
        first, second, made = step
        edges = [edge for edge in edges if edge is not first and edge is not second] + [made]


def _parallel_step(edges: Sequence[_Edge]) -> tuple[_Edge, _Edge, _Edge] | None:
    seen: dict[frozenset[int], _Edge] = {}
    for edge in edges:
        other = seen.setdefault(frozenset((edge.a, edge.b)), edge)
        if other is not edge:
            tree = edge.tree if edge.a == other.a else _turned(edge.tree)
            return other, edge, _Edge(other.a, other.b, _group(PARALLEL, other.tree, tree))
    return None


def _series_step(edges: Sequence[_Edge], ends: set[int]) -> tuple[_Edge, _Edge, _Edge] | None:
    at: dict[int, list[_Edge]] = {}
    for edge in edges:
        at.setdefault(edge.a, []).append(edge)
        at.setdefault(edge.b, []).append(edge)
    for node, meeting in at.items():
        if node in ends or len(meeting) != 2:
            continue
        first, second = (edge if edge.b == node else _flipped(edge) for edge in meeting)
        # the first edge runs into the node, the second out of it
        second = _flipped(second)
        return meeting[0], meeting[1], _Edge(first.a, second.b, _group(SERIES, first.tree, second.tree))
    return None


def _flipped(edge: _Edge) -> _Edge:
    return _Edge(edge.b, edge.a, _turned(edge.tree))


def _turned(tree: Tree) -> Tree:
    """Return the same coils seen from the other end."""
    if isinstance(tree, CoilLeaf):
        return replace(tree, turned=not tree.turned)
    members = tuple(_turned(member) for member in tree.members)
    return Connection(tree.kind, members[::-1] if tree.kind == SERIES else members)


def _group(kind: str, *trees: Tree) -> Tree:
    """Connect trees in one way, merging members already connected that way."""
    members: list[Tree] = []
    for tree in trees:
        members += tree.members if isinstance(tree, Connection) and tree.kind == kind else [tree]
    return Connection(kind, tuple(members))


def _names(tree: Tree) -> list[str]:
    return (
        [tree.name] if isinstance(tree, CoilLeaf) else [n for member in tree.members for n in _names(member)]
    )


def connection_text(groups: Sequence[Tree], against: Iterable[str] = ()) -> str:
    """Return a position's coils as an expression: + series, | parallel.

    Parameters
    ----------
    groups : sequence of Tree
        From `coil_connections`. A comma separates several.
    against : iterable of str
        Coils out of phase with the others for the string. Each gets a minus.
    """
    turned = set(against)
    return ", ".join(_written(tree, turned) for tree in groups)


def _written(tree: Tree, against: set[str], *, inner: bool = False) -> str:
    if isinstance(tree, CoilLeaf):
        return f"-{tree.name}" if tree.name in against else tree.name
    sign = {SERIES: " + ", PARALLEL: " | ", MESH: " with "}[tree.kind]
    text = sign.join(_written(member, against, inner=True) for member in tree.members)
    return f"({text})" if inner else text
