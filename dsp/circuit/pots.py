"""Putting the knobs back into a reduced position, for many settings at once.

What is left after the reduction is a network of very few nodes. It is eliminated by hand,
node by node, on arrays that broadcast: an entry that no knob changes stays one row over
frequency, one that only the tone knob changes has the tone's axis only, and just the last
steps are done at full size.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import Complex, Reduction
from dsp.wiring.network import GROUND
from dsp.wiring.union import Merge

Resistances = Mapping[tuple[str, bool], NDArray[np.float64]]
"""Per pot and segment (True: lugs 1-2): resistance, shape broadcastable to (..., 1), ohm."""

Entry = Complex | None


@dataclass(frozen=True)
class Folded:
    """A reduced position with the ports that joined segments made one.

    Attributes
    ----------
    names : tuple of int
        The nodes left, each called after one of its ports.
    of_port : mapping of int to int
        Name that each port goes by.
    output : int or None
        Row of the output node; None where it is joined to the sleeve.
    admittance, current : list of list of ndarray or None
        Entries over frequency, None for zero.
    joined : frozenset
    """

    names: tuple[int, ...]
    of_port: Mapping[int, int]
    output: int | None
    admittance: list[list[Entry]]
    current: list[list[Entry]]
    joined: frozenset[tuple[str, bool]]


def fold(reduction: Reduction, joined: frozenset[tuple[str, bool]]) -> Folded:
    """The position with the segments that have no resistance taken as joints.

    Parameters
    ----------
    reduction : Reduction
    joined : frozenset
        Segments (pot, is it lugs 1-2) of no resistance.
    """
    names, of_port = _merged_ports(reduction, joined)
    output = of_port.get(reduction.network.output, of_port[GROUND])
    row = names.index(output) if output in names else None
    return Folded(tuple(names), of_port, row, *_folded(reduction, names, of_port), joined)


def solve_settings(
    reduction: Reduction, folded: Folded, resistances: Resistances
) -> tuple[Entry, list[Entry]]:
    """Responses of settings that agree on which segments are joints.

    Parameters
    ----------
    reduction : Reduction
    folded : Folded
        From `fold`.
    resistances : mapping
        Of the segments that are no joints; each array's last axis has length 1 and stands for
        frequency.

    Returns
    -------
    output_impedance : ndarray or None
        Shape (..., n_freqs), ohm; None where the output is shorted.
    responses : list of ndarray or None
        One per coil, EMF to output; None where the coil gives nothing at all.
    """
    if folded.output is None:
        return None, [None] * len(reduction.network.coils)
    matrix = [list(row) for row in folded.admittance]
    knobs = _add_segments(matrix, reduction, folded, resistances)
    order = sorted(range(len(matrix)), key=lambda i: (i == folded.output, knobs[i]))
    volts = _eliminate(matrix, order)
    responses: list[Entry] = []
    for row in folded.current:
        total: Entry = None
        for entry, volt in zip(row, volts, strict=True):
            if entry is not None and volt is not None:
                total = entry * volt if total is None else total + entry * volt
        responses.append(total)
    return volts[folded.output], responses


def _merged_ports(
    reduction: Reduction, joined: frozenset[tuple[str, bool]]
) -> tuple[list[int], dict[int, int]]:
    """Names of the nodes left, and the name each port goes by, the sleeve's among them."""
    merge = Merge([GROUND, *reduction.ports])
    for segment in reduction.network.segments:
        if (segment.pot, segment.low) in joined:
            ends = [reduction.reference[node] for node in (segment.a, segment.b)]
            if None not in ends:
                merge.join(end for end in ends if end is not None)
    ground = merge.root(GROUND)
    of_port = {port: merge.root(port) for port in (GROUND, *reduction.ports)}
    names = list(dict.fromkeys(of_port[port] for port in reduction.ports if of_port[port] != ground))
    return names, of_port


def _folded(
    reduction: Reduction, names: Sequence[int], of_port: Mapping[int, int]
) -> tuple[list[list[Entry]], list[list[Entry]]]:
    """Admittances and coil currents with the ports of one node added up; zeros as None."""
    same = [[of_port[port] == name for port in reduction.ports] for name in names]
    fold = np.array(same, float).reshape(len(names), len(reduction.ports))  # maybe none, maybe no ports
    admittance = np.einsum("ap,pqf,bq->abf", fold, reduction.admittance, fold, optimize=True)
    current = np.einsum("kpf,ap->kaf", reduction.current, fold, optimize=True)

    def entries(block: Complex) -> list[list[Entry]]:
        return [[cell if np.any(cell) else None for cell in row] for row in block]

    return entries(admittance), entries(current)


def _add_segments(
    matrix: list[list[Entry]], reduction: Reduction, folded: Folded, resistances: Resistances
) -> list[int]:
    """Stamp the segments that are resistors; returns how many touch each row."""
    row = {name: i for i, name in enumerate(folded.names)}
    joined, of_port = folded.joined, folded.of_port
    touched = [0] * len(folded.names)
    for segment in reduction.network.segments:
        key = (segment.pot, segment.low)
        ends = [reduction.reference[node] for node in (segment.a, segment.b)]
        if key in joined or None in ends:
            continue
        a, b = (row.get(of_port[end]) for end in ends if end is not None)
        if a == b:
            continue
        conductance = (1.0 / resistances[key]).astype(complex)
        for i in (a, b):
            if i is not None:
                matrix[i][i] = _plus(matrix[i][i], conductance)
                touched[i] += 1
        if a is not None and b is not None:
            matrix[a][b] = _plus(matrix[a][b], -conductance)
            matrix[b][a] = matrix[a][b]
    return touched


def _plus(entry: Entry, value: Complex) -> Complex:
    return value if entry is None else entry + value


def _eliminate(matrix: list[list[Entry]], order: Sequence[int]) -> list[Entry]:
    """Node voltages for 1 A into the last node of the order.

    The matrix is symmetric and every pivot is the admittance of a passive network seen from
    a node that a resistor touches, so its real part is above zero and no pivoting is needed.
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
