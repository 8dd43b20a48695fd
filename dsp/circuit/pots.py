"""Put the pots back into a reduced position, for many settings at once.

The reduction leaves very few nodes. They are eliminated one by one on arrays that broadcast. An
entry that no knob changes has the frequency axis alone; one that the tone knob changes has the
tone's axis too. Only the last steps run at full size.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import Complex, Floats, Reduction
from dsp.parts.kind import Ends
from dsp.wiring.network import GROUND
from dsp.wiring.union import Merge

Key = tuple[str, int]
"""A pot and the number of its segment."""
Resistances = Mapping[Key, NDArray[np.float64]]
"""Resistance of each segment, shape broadcastable to (..., 1), ohm."""

Entry = Complex | None
Terms = tuple[tuple[int, float], ...]
"""A voltage as a sum of node voltages: rows and factors."""
NOTHING = 1e-9
"""Factors of a tie below this part of its largest are rounding."""


@dataclass(frozen=True)
class PotTerms:
    """A reduced position without the nodes that joints and ties take away.

    Attributes
    ----------
    output : int or None
        Row of the output node; None where it is shorted to the sleeve.
    admittance, current : list of list of ndarray or None
        Entries over frequency, None for zero.
    segments : mapping of Key to tuple of (int, float)
        Voltage of every open segment, as rows and factors.
    """

    output: int | None
    admittance: list[list[Entry]]
    current: list[list[Entry]]
    segments: Mapping[Key, Terms]


def fold_pots(reduction: Reduction, joined: frozenset[Key]) -> PotTerms:
    """Merge the ports that pots, joints and ties make one.

    Parameters
    ----------
    joined : frozenset of Key
        Segments without resistance; they join their ends.
    """
    names, of_port = _merged_ports(reduction, joined)
    output = of_port.get(reduction.network.output, of_port[GROUND])
    row = names.index(output) if output in names else None
    # Voltage of every port, a sum over the nodes left: (n_nodes, n_ports), maybe none of either.
    same = [[of_port[port] == name for port in reduction.ports] for name in names]
    share = np.array(same, float).reshape(len(names), len(reduction.ports))
    if reduction.network.ties:
        free = _free_nodes(_tie_rows(reduction, share), row)
        share = free.T @ share
        row = None if row is None else next((i for i, node in enumerate(free.T) if node[row]), None)
    volts = {port: _terms(column) for port, column in zip(reduction.ports, share.T, strict=True)}
    segments = {
        segment.key: terms
        for segment in reduction.network.segments
        if segment.key not in joined and (terms := _voltage(reduction, volts, segment))
    }
    admittance, current = _fold(reduction, share)
    return PotTerms(row, _entries(admittance), _entries(current), segments)


def _fold(reduction: Reduction, share: Floats) -> tuple[Complex, Complex]:
    """Admittance between the nodes left and coil currents per volt at each."""
    n_nodes, n_ports = share.shape
    if not n_nodes or (n_nodes == n_ports and np.array_equal(share, np.eye(n_nodes))):
        return reduction.admittance[:n_nodes, :n_nodes], reduction.current[:, :n_nodes]
    factors = share.astype(complex)
    n_freqs = len(reduction.frequencies_hz)
    rows = (factors @ reduction.admittance.reshape(n_ports, -1)).reshape(n_nodes, n_ports, n_freqs)
    return factors @ rows, factors @ reduction.current


def _entries(block: Complex) -> list[list[Entry]]:
    return [[cell if cell.any() else None for cell in row] for row in block]


def _terms(factors: Floats) -> Terms:
    return tuple((i, f) for i, f in enumerate(factors.tolist()) if f)


def _voltage(reduction: Reduction, volts: Mapping[int, Terms], ends: Ends) -> Terms:
    """Voltage between two nodes, as terms of the nodes left; empty in a piece that cannot matter."""
    first, second = reduction.reference[ends.a], reduction.reference[ends.b]
    if first is None or second is None or first == second:
        return ()
    found = dict(volts.get(first, ()))
    for i, factor in volts.get(second, ()):
        found[i] = found.get(i, 0.0) - factor
    return tuple((i, factor) for i, factor in found.items() if factor)


def _tie_rows(reduction: Reduction, share: Floats) -> Floats:
    """Factors of each tie over the nodes left, shape (n_ties, n_nodes)."""
    volts = {port: _terms(column) for port, column in zip(reduction.ports, share.T, strict=True)}
    rows = np.zeros((len(reduction.network.ties), len(share)))
    for row, tie in zip(rows, reduction.network.ties, strict=True):
        for branch, turns in zip(tie.branches, tie.factors, strict=True):
            for i, factor in _voltage(reduction, volts, branch):
                row[i] += turns * factor
    return rows


def _free_nodes(ties: Floats, output: int | None) -> Floats:
    """Express all node voltages by those of the nodes that ties leave free.

    Parameters
    ----------
    ties : ndarray, shape (n_ties, n_nodes)
        Each row times the node voltages is zero.
    output : int or None
        A node to keep free where possible.

    Returns
    -------
    ndarray, shape (n_nodes, n_free)

    Notes
    -----
    Gauss-Jordan elimination on the ties alone, which hold at every frequency. Each tie makes the node
    with its largest factor dependent, so that no factor grows.
    """
    left = ties.copy()
    least = NOTHING * np.max(np.abs(ties), axis=1, initial=0.0)
    dependent: dict[int, int] = {}
    for i, row in enumerate(left):
        row[np.abs(row) <= least[i]] = 0.0
        if not np.any(row):
            continue  # follows from the others
        sizes = np.abs(row)
        if output is not None and np.count_nonzero(row) > 1:
            sizes[output] = 0.0
        node = int(np.argmax(sizes))
        dependent[node] = i
        row /= row[node]
        for k, other in enumerate(left):
            if k != i and other[node]:
                other -= other[node] * row
    free = [node for node in range(ties.shape[1]) if node not in dependent]
    found = np.zeros((ties.shape[1], len(free)))
    found[free, range(len(free))] = 1.0
    for node, i in dependent.items():
        found[node] = -left[i, free]
    return found


def solve_settings(
    reduction: Reduction, terms: PotTerms, resistances: Resistances
) -> tuple[Entry, list[Entry]]:
    """Compute the responses of settings in which the same segments are joints.

    Parameters
    ----------
    terms : PotTerms
        From `fold_pots`.
    resistances : mapping
        Of the other segments; the last axis of each array has length 1, for frequency.

    Returns
    -------
    output_impedance : ndarray or None
        Shape (..., n_freqs), ohm; None where the output is shorted.
    responses : list of ndarray or None
        EMF to output, one per coil; None for a silent coil.
    """
    if terms.output is None:
        return None, [None] * len(reduction.network.coils)
    matrix = [list(row) for row in terms.admittance]
    knobs = _add_segments(matrix, terms, resistances)
    order = sorted(range(len(matrix)), key=lambda i: (i == terms.output, knobs[i]))
    volts = _eliminate(matrix, order)
    responses: list[Entry] = []
    for row in terms.current:
        total: Entry = None
        for entry, volt in zip(row, volts, strict=True):
            if entry is not None and volt is not None:
                total = entry * volt if total is None else total + entry * volt
        responses.append(total)
    return volts[terms.output], responses


def _merged_ports(reduction: Reduction, joined: frozenset[Key]) -> tuple[list[int], dict[int, int]]:
    """Names of the nodes left, and of each port and the sleeve the node it is part of."""
    merge = Merge([GROUND, *reduction.ports])
    for segment in reduction.network.segments:
        if segment.key in joined:
            ends = [reduction.reference[node] for node in (segment.a, segment.b)]
            if None not in ends:
                merge.join(end for end in ends if end is not None)
    ground = merge.root(GROUND)
    of_port = {port: merge.root(port) for port in (GROUND, *reduction.ports)}
    names = list(dict.fromkeys(of_port[port] for port in reduction.ports if of_port[port] != ground))
    return names, of_port


def _add_segments(matrix: list[list[Entry]], terms: PotTerms, resistances: Resistances) -> list[int]:
    """Stamp the open segments; return how many touch each row."""
    touched = [0] * len(matrix)
    for key, factors in terms.segments.items():
        conductance = (1.0 / resistances[key]).astype(complex)
        for n, (i, factor) in enumerate(factors):
            matrix[i][i] = _plus(matrix[i][i], _times(factor * factor, conductance))
            touched[i] += 1
            for j, other in factors[n + 1 :]:
                matrix[i][j] = _plus(matrix[i][j], _times(factor * other, conductance))
                matrix[j][i] = matrix[i][j]
    return touched


def _times(factor: float, value: Complex) -> Complex:
    """A product that costs nothing where the factor is one."""
    return value if factor == 1.0 else -value if factor == -1.0 else factor * value


def _plus(entry: Entry, value: Complex) -> Complex:
    return value if entry is None else entry + value


def _eliminate(matrix: list[list[Entry]], order: Sequence[int]) -> list[Entry]:
    """Compute the node voltages for 1 A into the last node of the order.

    No pivoting is needed. The matrix is symmetric, and every pivot is the admittance of a passive
    network at a node that a resistor touches: its real part is above zero.
    """
    factors: list[tuple[int, list[tuple[int, Complex]]]] = []
    for step, node in enumerate(order[:-1]):
        pivot = matrix[node][node]
        if pivot is None:
            factors.append((node, []))
            continue
        inverse = 1.0 / pivot
        rest = [(i, entry) for i in order[step + 1 :] if (entry := matrix[i][node]) is not None]
        scaled = [(i, entry * inverse) for i, entry in rest]
        for (i, factor), at in zip(scaled, range(len(rest)), strict=True):
            for j, entry in rest[at:]:
                matrix[i][j] = _plus(matrix[i][j], -(factor * entry))
                matrix[j][i] = matrix[i][j]
        factors.append((node, scaled))
    volts: list[Entry] = [None] * len(matrix)
    last = matrix[order[-1]][order[-1]]
    assert last is not None  # the load is always there
    volts[order[-1]] = 1.0 / last
    for node, scaled in reversed(factors):
        total: Entry = None
        for i, factor in scaled:
            volt = volts[i]
            if volt is not None:
                total = _plus(total, -(factor * volt))
        volts[node] = total
    return volts
