"""Coils that can reach the output, from the joints alone.

An EMF drives current only around loops that contain it. It reaches the load only if one loop contains
both: in graph terms, one biconnected block. Magnetic couplings and transformers link blocks. Any other
coil is exactly silent, where a solver returns rounding.

References
----------
Blocks by depth-first search: J. Hopcroft and R. Tarjan, Algorithm 447, Comm. ACM 16, 1973 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dsp.wiring.network import GROUND, Network
from dsp.wiring.union import Merge

Edge = tuple[int, int]


def find_reaching_coils(network: Network) -> tuple[bool, ...]:
    """Return for each coil whether its EMF can appear across the load.

    Returns
    -------
    tuple of bool
        In the order of ``network.coils``.
    """
    reaching = _reaching_branches(network)
    return tuple(reaching[coil.name, 0] for coil in network.coils)


def leave_reaching(network: Network) -> Network:
    """Return the network without what cannot reach the output."""
    reaching = _reaching_branches(network)
    branches = tuple(one for one in network.branches if reaching[one.name, one.number])
    names = {branch.name for branch in branches}
    couplings = tuple(one for one in network.couplings if {one.first, one.second} <= names)
    return replace(network, branches=branches, couplings=couplings)


def _reaching_branches(network: Network) -> dict[tuple[str, int], bool]:
    """Whether each branch is in one block with the load, by itself or by links."""
    edges: list[Edge] = [(branch.a, branch.b) for branch in network.branches]
    edges += [(segment.a, segment.b) for segment in network.segments]
    load = (GROUND, network.output)
    block = find_blocks([*edges, load], network.n_nodes)
    block_of = {(branch.name, branch.number): block[i] for i, branch in enumerate(network.branches)}
    linked = Merge(block)
    for coupling in network.couplings:
        if np.any(coupling.coefficient):
            linked.join((block_of[coupling.first, 0], block_of[coupling.second, 0]))
    for group in network.magnets:
        linked.join(block_of[branch.name, branch.number] for branch in group)  # one flux
    for tie in network.ties:
        linked.join(block_of[branch.name, branch.number] for branch in tie.branches)
    return {branch: linked.same(one, block[-1]) for branch, one in block_of.items()}


def find_blocks(edges: Sequence[Edge], n_nodes: int) -> list[int]:
    """Number the biconnected blocks; return the block of each edge.

    Parameters
    ----------
    edges : sequence of (int, int)
        Parallel edges are in one block. An edge from a node to itself is a block alone.
    """
    touching: list[list[int]] = [[] for _ in range(n_nodes)]
    for i, (a, b) in enumerate(edges):
        if a != b:
            touching[a].append(i)
            touching[b].append(i)
    found = [-1] * len(edges)
    order, lowest = [0] * n_nodes, [0] * n_nodes
    count = 0
    for root in range(n_nodes):
        if order[root]:
            continue
        count += 1
        order[root] = lowest[root] = count
        open_edges: list[int] = []
        path: list[tuple[int, int, int]] = [(root, -1, 0)]  # node, edge it was reached by, next edge
        while path:
            node, came, at = path.pop()
            if at < len(touching[node]):
                path.append((node, came, at + 1))
                edge = touching[node][at]
                other = edges[edge][0] if edges[edge][1] == node else edges[edge][1]
                if edge == came or (order[other] > order[node]):
                    continue
                open_edges.append(edge)
                if order[other]:
                    lowest[node] = min(lowest[node], order[other])
                else:
                    count += 1
                    order[other] = lowest[other] = count
                    path.append((other, edge, 0))
            elif path:
                above = path[-1][0]
                lowest[above] = min(lowest[above], lowest[node])
                if lowest[node] >= order[above]:
                    while True:
                        edge = open_edges.pop()
                        found[edge] = came
                        if edge == came:
                            break
    # Blocks are named by the edge that opened them; an edge from a node to itself by its own.
    return [i if name < 0 else name for i, name in enumerate(found)]
