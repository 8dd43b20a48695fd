"""One selector position over frequency, reduced to the nodes that pots touch.

The unknowns are the node voltages x for 1 A into the output. By reciprocity the response H_k of
coil k is the current that this ampere sends through it: H = Y_coils (x_start - x_finish), times what
its screening leaves of the EMF. So all coils need one solution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.parts.kinds import as_two_lead
from dsp.wiring.network import GROUND, Branch, Network, reference_of
from dsp.wiring.reach import find_reaching_coils

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]

MOST_BYTES = 64 << 20
"""Of one array over nodes, nodes and frequencies; about four exist at once."""


@dataclass(frozen=True)
class Reduction:
    """A position's network, reduced to its ports.

    Attributes
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)
    ports : tuple of int
        The output node (first, unless it is the sleeve) and all nodes that a pot or a tie touches.
    admittance : ndarray, shape (n_ports, n_ports, n_freqs), siemens
    current : ndarray, shape (n_coils, n_ports, n_freqs), siemens
        Current into each coil's start per volt at each port; of a tapped coil, the sum of its
        sections' times their turns; of a screened one, times the share of its EMF that is left.
    reference : tuple
        See `reference_of`.
    """

    network: Network
    frequencies_hz: Floats
    ports: tuple[int, ...]
    admittance: Complex
    current: Complex
    reference: tuple[int | None, ...]


def laplace(frequencies_hz: Floats) -> Complex:
    """Compute s = j 2 pi f of each frequency, same shape, 1/s."""
    return (2j * np.pi * np.asarray(frequencies_hz)).astype(np.complex128)


def coil_impedance(coil: Coil, frequencies_hz: Floats) -> Complex:
    """Compute the impedance of a coil's winding, its capacitance left out.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)

    Returns
    -------
    ndarray, shape (n_freqs,), ohm
        R + s L0 + sum of s L_i R_i / (s L_i + R_i).
    """
    return as_two_lead(coil).impedance(coil, laplace(frequencies_hz))


def _winding_admittances(network: Network, frequencies_hz: Floats) -> tuple[Complex, Floats]:
    """Branch admittances of all sections of windings, and their turns.

    Returns
    -------
    admittance : ndarray, shape (n_freqs, n_sections, n_sections), siemens
    turns : ndarray, shape (n_windings, n_sections)
        Share of each section in its winding's turns.
    """
    windings = [group[0] for group in network.magnets]
    index = {branch.name: i for i, branch in enumerate(windings)}
    impedance = np.zeros((len(frequencies_hz), len(windings), len(windings)), complex)
    s = laplace(frequencies_hz)
    for i, branch in enumerate(windings):
        impedance[:, i, i] = as_two_lead(branch.part).impedance(branch.part, s)
    for coupling in network.couplings:
        i, j = index[coupling.first], index[coupling.second]
        mutual_h = coupling.coefficient * np.sqrt(_coupled_h(windings[i]) * _coupled_h(windings[j]))
        impedance[:, i, j] += s * mutual_h
        impedance[:, j, i] += s * mutual_h
    if any(len(group) > 1 for group in network.magnets):
        impedance, turns = _by_sections(network, impedance)
        return np.linalg.inv(impedance).astype(np.complex128), turns
    own = np.arange(len(windings))
    if network.couplings:
        return np.linalg.inv(impedance).astype(np.complex128), np.eye(len(windings))
    impedance[:, own, own] = 1.0 / impedance[:, own, own]
    return impedance, np.eye(len(windings))


def _by_sections(network: Network, impedance: Complex) -> tuple[Complex, Floats]:
    """Spread impedances of windings over their sections: all but the resistance is shared flux."""
    rows = [
        (i, turns, ohm)
        for i, group in enumerate(network.magnets)
        for turns, ohm in as_two_lead(group[0].part).windings(group[0].part)
    ]
    turns = np.zeros((len(network.magnets), len(rows)))
    for k, (i, share, _) in enumerate(rows):
        turns[i, k] = share
    n = len(impedance)
    whole = np.zeros((n, len(network.magnets)))
    ohms = np.zeros((n, len(rows)))
    for k, (i, _, ohm) in enumerate(rows):
        whole[:, i] += ohm
        ohms[:, k] = ohm
    flux = impedance - whole[:, :, None] * np.eye(len(network.magnets))
    return turns.T @ flux @ turns + ohms[:, :, None] * np.eye(len(rows)), turns


def _coupled_h(branch: Branch) -> float:
    return as_two_lead(branch.part).coupled_h(branch.part)


def _stamp(matrix: Complex, a: int | None, b: int | None, value: Complex) -> None:
    """Add an admittance between two rows; None is the sleeve."""
    if a is not None:
        matrix[:, a, a] += value
    if b is not None:
        matrix[:, b, b] += value
    if a is not None and b is not None:
        matrix[:, a, b] -= value
        matrix[:, b, a] -= value


def _full(network: Network, frequencies_hz: Floats, rows: dict[int, int]) -> tuple[Complex, Complex]:
    """Nodal admittances (F, n, n) without pots, and what each coil's EMF sends, per node volt (F, K, n)."""
    s = laplace(frequencies_hz)
    matrix = np.zeros((len(s), len(rows), len(rows)), complex)
    reference = reference_of(network)

    def row(node: int) -> int | None:
        kept = reference[node]
        return None if kept is None else rows.get(kept)

    solved = {group[0].name for group in network.magnets[len(network.coils) :]}
    for kind, branches in network.elements:
        if reference[branches[0].a] is None or branches[0].name in solved:
            continue
        for branch, value in zip(branches, kind.admittances(branches[0].part, s), strict=True):
            if value is not None:
                _stamp(matrix, row(branch.a), row(branch.b), value)
    load = network.load
    _stamp(matrix, row(network.output), None, 1.0 / load.amplifier_ohm + s * load.capacitance_f)
    sections = [branch for group in network.magnets for branch in group]
    incidence = np.zeros((len(sections), len(rows)))
    for k, branch in enumerate(sections):
        for node, sign in ((branch.a, 1.0), (branch.b, -1.0)):
            at = row(node)
            if at is not None:
                incidence[k, at] += sign
    admittance, turns = _winding_admittances(network, frequencies_hz)
    current: Complex = admittance @ incidence
    matrix += incidence.T @ current
    if len(sections) > len(network.coils):
        current = turns[: len(network.coils)] @ current
    for k, coil in enumerate(network.coils):
        left = as_two_lead(coil.part).emf_left(coil.part, s)
        if left is not None:
            current[:, k] *= left[:, None]
    return matrix, current


def _solved(matrix: Complex, columns: Complex) -> Complex:
    """Solve a batch of systems.

    A choke without resistance and a capacitor in one loop have no solution exactly at resonance. There
    each node gets 1e-18 S, far below any insulator.
    """
    try:
        return np.linalg.solve(matrix, columns).astype(np.complex128, copy=False)
    except np.linalg.LinAlgError:
        leaky = matrix + 1e-18 * np.eye(matrix.shape[1])
        return np.linalg.solve(leaky, columns).astype(np.complex128, copy=False)


def bands(network: Network, n_freqs: int) -> Iterator[slice]:
    """Yield stretches of frequencies whose matrices fit in `MOST_BYTES`.

    Yields
    ------
    slice
        A single one, except for networks far larger than any guitar's.
    """
    rows = network.n_nodes + len(network.coils)
    step = max(1, MOST_BYTES // (16 * rows * rows))
    for start in range(0, n_freqs, step):
        yield slice(start, min(start + step, n_freqs))


def reduce_position(network: Network, frequencies_hz: Floats) -> Reduction:
    """Eliminate every node that is not a port.

    Parameters
    ----------
    network : Network
        Its pots may be open or set.
    frequencies_hz : ndarray, shape (n_freqs,)
        Each above 0.

    References
    ----------
    Schur complement of the nodal matrix; G. Kron, "Tensor Analysis of Networks", 1939 (from memory).
    """
    frequencies_hz = np.asarray(frequencies_hz, float)
    reference = reference_of(network)
    kept = [node for node, ref in enumerate(reference) if ref == node and node != GROUND]
    touched = {reference[node] for seg in network.segments for node in (seg.a, seg.b)}
    touched |= {reference[node] for tie in network.ties for b in tie.branches for node in (b.a, b.b)}
    ports = [node for node in kept if node == network.output]
    ports += [node for node in kept if node in touched and node != network.output]
    inner = [node for node in kept if node not in ports]
    rows = {node: i for i, node in enumerate([*ports, *inner])}
    matrix, current = _full(network, frequencies_hz, rows)
    current[:, ~np.array(find_reaching_coils(network), bool)] = 0.0
    p = len(ports)
    if inner and ports:
        fold = _solved(matrix[:, p:, p:], matrix[:, p:, :p])
        admittance = matrix[:, :p, :p] - matrix[:, :p, p:] @ fold
        current = current[:, :, :p] - current[:, :, p:] @ fold
    else:
        admittance, current = matrix[:, :p, :p], current[:, :, :p]
    return Reduction(
        network,
        frequencies_hz,
        tuple(ports),
        np.ascontiguousarray(np.moveaxis(admittance, 0, -1)),
        np.ascontiguousarray(np.moveaxis(current, 0, -1)),
        tuple(reference),
    )
