"""Which coils reach the jack, and plain dense solutions, without any code of dsp.circuit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dsp.parts.capacitor import Capacitor
from dsp.parts.choke import Inductor
from dsp.parts.coil import Coil, Eddy
from dsp.parts.resistor import Resistor
from dsp.wiring.network import Network

Complex = NDArray[np.complex128]
COVER = Eddy(0.12, 3e3)
"""What a metal cover adds to the loss of one coil, written out again."""


def solve(network: Network, freq_hz: float, emf: str | None = None, into: int = 0) -> Complex:
    """Solve the node voltages of a network without open pots by modified nodal analysis.

    One row per node, one per coil current. One node of every loose piece, and node 0, is tied to nothing by
    1 S: where no current has a way back, that changes no current. 1 V drives the coil `emf`, or 1 A flows
    into node `into`.
    """
    coils = {branch.name: i for i, branch in enumerate(network.coils)}
    s, n = 2j * np.pi * freq_hz, network.n_nodes
    matrix = np.zeros((n + len(coils), n + len(coils)), complex)
    right = np.zeros(n + len(coils), complex)
    for node in set(_pieces(network)):
        matrix[node, node] += 1.0
    _stamp(matrix, network.output, 0, 1 / network.load.amplifier_ohm + s * network.load.capacitance_f)
    for branch in network.branches:
        _stamp(matrix, branch.a, branch.b, _admittance(branch.part, s))
    for branch in network.coils:
        row = n + coils[branch.name]
        for node, sign in ((branch.a, 1.0), (branch.b, -1.0)):
            matrix[node, row] += sign
            matrix[row, node] += sign
        matrix[row, row] -= _winding(branch.part, s)
    for pair in network.couplings:
        i, j = coils[pair.first], coils[pair.second]
        whole = [network.coils[k].part.inductance_h for k in (i, j)]  # type: ignore[union-attr]
        mutual = s * pair.coefficient * np.sqrt(whole[0] * whole[1])
        matrix[n + i, n + j] -= mutual
        matrix[n + j, n + i] -= mutual
    if emf is None:
        right[into] = 1.0
    else:
        right[n + coils[emf]] = _left_of(next(b.part for b in network.coils if b.name == emf), s)
    solution: Complex = np.linalg.solve(matrix, right)[:n]
    return solution


def _pieces(network: Network) -> list[int]:
    """Return, per node, the lowest node that parts link it to."""
    lowest = list(range(network.n_nodes))
    pairs = [(branch.a, branch.b) for branch in network.branches] + [(network.output, 0)]
    for _ in lowest:
        for a, b in pairs:
            lowest[a] = lowest[b] = min(lowest[a], lowest[b])
    return lowest


def _stamp(matrix: Complex, a: int, b: int, siemens: complex) -> None:
    for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
        matrix[i, j] += sign * siemens


def _admittance(part: object, s: complex) -> complex:
    """Return the admittance across two nodes; a coil's winding has its own row."""
    if isinstance(part, Resistor):
        return 1.0 / part.resistance_ohm
    if isinstance(part, Inductor):
        return 1.0 / (part.resistance_ohm + s * part.inductance_h)
    assert isinstance(part, Capacitor | Coil)
    return s * part.capacitance_f


def _winding(part: object, s: complex) -> complex:
    assert isinstance(part, Coil)
    eddies = [*part.eddy, *([COVER] if part.covered else [])]
    lossless = part.inductance_h * (1.0 - sum(eddy.share for eddy in eddies))
    total = part.resistance_ohm + s * lossless
    for eddy in eddies:
        henry = part.inductance_h * eddy.share
        total += 1.0 / (1.0 / (s * henry) + 1.0 / (2.0 * np.pi * eddy.corner_hz * henry))
    return total


def _left_of(part: object, s: complex) -> complex:
    """Return what screening leaves of 1 V: all of it at rest, the rest of the share far above."""
    assert isinstance(part, Coil)
    if part.screening is None:
        return 1.0
    corner = 2.0 * np.pi * part.screening.corner_hz
    return (corner + s * (1.0 - part.screening.share)) / (corner + s)


def reaches_the_jack(network: Network) -> dict[str, bool]:
    """Return, per coil, whether a current can link it to the output, by blocks of the graph.

    Two branches share current only if a loop runs through both, that is if they lie in one block (no single
    node cuts them apart). The load is a branch; a coil's capacitance makes a loop with its winding, so that
    coupling carries over even from a coil with a lead that hangs.
    """
    edges = [(branch.a, branch.b) for branch in network.branches] + [(network.output, 0)]
    block = _blocks(network.n_nodes, edges)
    linked = {block[-1]}
    name_of = {b.name: block[i] for i, b in reversed(list(enumerate(network.branches)))}
    sections: dict[str, set[int]] = {}
    for i, branch in enumerate(network.branches):
        if isinstance(branch.part, Coil):
            sections.setdefault(branch.name, set()).add(block[i])
    links = [{name_of[pair.first], name_of[pair.second]} for pair in network.couplings if pair.coefficient]
    links += sections.values()  # those of a tapped coil share one flux
    for _ in links:  # as many rounds as the longest chain needs
        for ends in links:
            linked |= ends if ends & linked else set()
    shorted = network.output == 0
    return {name: bool(own & linked) and not shorted for name, own in sections.items()}


def _blocks(n_nodes: int, edges: list[tuple[int, int]]) -> list[int]:
    """Number the edges so that edges on one loop share a number; cuts at every node decide."""
    number = list(range(len(edges)))
    split = [[0] * n_nodes for _ in edges]
    for cut in range(n_nodes):
        # Edges on different sides of a removed `cut` get different marks.
        side = list(range(n_nodes))
        changed = True
        while changed:
            changed = False
            for a, b in edges:
                if cut not in (a, b) and side[a] != side[b]:
                    side[a] = side[b] = min(side[a], side[b])
                    changed = True
        for e, (a, b) in enumerate(edges):
            split[e][cut] = side[b] if a == cut else side[a]
            if a == b:
                split[e][cut] = -1 - e  # a shorted part is a loop of its own
    marks: dict[tuple[int, ...], int] = {}
    for e, row in enumerate(split):
        number[e] = marks.setdefault(tuple(row), e)
    return number
