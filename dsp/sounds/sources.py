"""Every network of coils as a source: its impedance, and each coil's share of its EMF.

Without coupling, both follow from those of the members, so one pass over the list gives all
networks. A coil's own capacitance lies across it and is part of it. Coupled coils are solved node
by node, separately for each relative phase: reversing a coil changes the impedance too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import laplace
from dsp.parts.kind import Part
from dsp.parts.kinds import as_two_lead
from dsp.sounds.topology import COIL, SERIES, Topology

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class GroupSource:
    """A named group as one element.

    Attributes
    ----------
    impedance_ohm : ndarray, shape (n_freqs,)
        Between its leads, its EMFs at rest.
    dc_ohm : float
        What a meter reads between them.
    """

    impedance_ohm: Complex
    dc_ohm: float


Element = Part | GroupSource


@dataclass(frozen=True)
class Sources:
    """Networks as sources, before any phases are applied.

    Attributes
    ----------
    impedance : ndarray, shape (n_networks, n_freqs), ohm
    weight : ndarray, shape (n_networks, n_elements, n_freqs)
        Share of each element's EMF in that of the network, with its start towards hot.
    """

    impedance: Complex
    weight: Complex


def closed_form_sources(
    networks: Sequence[Topology], elements: Sequence[Element], frequencies_hz: Floats
) -> Sources:
    """Return the sources of networks whose coils are not coupled.

    Parameters
    ----------
    networks : sequence of Topology
        Members of a network come before it, as in `topologies`.
    elements : sequence of Part or GroupSource
        Parts with two leads each, and groups, in the order of the bits of a mask.
    frequencies_hz : ndarray, shape (n_freqs,)
    """
    s = laplace(frequencies_hz)
    impedance = np.empty((len(networks), len(frequencies_hz)), complex)
    weight = np.zeros((len(networks), len(elements), len(frequencies_hz)), complex)
    place = {id(network): i for i, network in enumerate(networks)}
    for i, network in enumerate(networks):
        members = [place[id(member)] for member in network.members]
        if network.kind == COIL:
            (k,) = network.coils
            impedance[i], weight[i, k] = _alone(elements[k], s)
        elif network.kind == SERIES:
            impedance[i] = impedance[members].sum(axis=0)
            weight[i] = weight[members].sum(axis=0)
        else:
            admittance = 1.0 / impedance[members]
            impedance[i] = 1.0 / admittance.sum(axis=0)
            weight[i] = (weight[members] * (admittance * impedance[i])[:, None]).sum(axis=0)
    return Sources(impedance, weight)


def _alone(element: Element, s: Complex) -> tuple[Complex, Complex]:
    """Return one element's impedance, and the share of its EMF at its leads.

    Each has shape (n_freqs,).
    """
    if isinstance(element, GroupSource):
        return element.impedance_ohm, np.ones(len(s), complex)
    kind = as_two_lead(element)
    inside = kind.impedance(element, s)
    if not kind.senses:
        return inside, np.zeros(len(s), complex)
    share = 1.0 / (1.0 + kind.admittance(element, s) * inside)
    return np.asarray(inside * share), np.asarray(share)


def coupled_source(
    network: Topology,
    signs: Sequence[int],
    elements: Sequence[Element],
    couplings: Mapping[tuple[int, int], float],
    frequencies_hz: Floats,
) -> tuple[Complex, Complex]:
    """Return one network of coupled coils in one phase, solved by nodes.

    Parameters
    ----------
    signs : sequence of int
        One per element; -1 for reversed leads.
    couplings : mapping of (int, int) to float
        Coefficients between the coils' lossless inductances.
    frequencies_hz : ndarray, shape (n_freqs,)

    Returns
    -------
    impedance : ndarray, shape (n_freqs,), ohm
    weight : ndarray, shape (n_elements, n_freqs)
        With the signs. Unused coils hang free, but their own capacitance still closes a loop, which
        acts through the coupling.
    """
    ends, n_nodes = _ends(network, len(elements))
    s = laplace(frequencies_hz)
    inner = np.zeros((len(s), len(elements), len(elements)), complex)
    across = np.zeros((len(s), len(elements)), complex)
    for k, element in enumerate(elements):
        if isinstance(element, GroupSource):
            inner[:, k, k] = element.impedance_ohm
            continue
        kind = as_two_lead(element)
        inner[:, k, k] = kind.impedance(element, s)
        if kind.senses:
            across[:, k] = kind.admittance(element, s)
    for (i, j), coefficient in couplings.items():
        first_h, second_h = (_coupled_h(elements[k]) for k in (i, j))
        turned = (signs[i] or 1) * (signs[j] or 1)
        mutual = turned * coefficient * np.sqrt(first_h * second_h)
        inner[:, i, j] += s * mutual
        inner[:, j, i] += s * mutual
    incidence = np.zeros((n_nodes, len(elements)))
    for k, (a, b) in enumerate(ends):
        if a < n_nodes:
            incidence[a, k] += 1.0
        if b < n_nodes:
            incidence[b, k] -= 1.0
    admittance = np.linalg.inv(inner)
    whole = admittance.copy()
    index = np.arange(len(elements))
    whole[:, index, index] += across
    nodes = incidence @ whole @ incidence.T
    driven = np.concatenate(
        [incidence @ admittance, np.broadcast_to(np.eye(n_nodes)[:, :1], (len(s), n_nodes, 1))], axis=2
    )
    solved = np.linalg.solve(nodes, driven)[:, 0]
    signed = np.array([sign or 1 for sign in signs])
    return solved[:, -1], np.ascontiguousarray((solved[:, :-1] * signed).T)


def _coupled_h(element: Element) -> float:
    assert not isinstance(element, GroupSource)  # couplings stay inside a group
    return as_two_lead(element).coupled_h(element)


def _ends(network: Topology, n_elements: int) -> tuple[list[tuple[int, int]], int]:
    """Return the two nodes of each element, and the number of nodes but cold.

    Hot is node 0 and cold the last.
    """
    ends: dict[int, tuple[int, int]] = {}
    count = 1
    cold = -1

    def place(tree: Topology, a: int, b: int) -> None:
        nonlocal count
        if tree.kind == COIL:
            ends[tree.coils[0]] = (a, b)
        elif tree.kind == SERIES:
            at = a
            for member in tree.members[:-1]:
                following, count = count, count + 1
                place(member, at, following)
                at = following
            place(tree.members[-1], at, b)
        else:
            for member in tree.members:
                place(member, a, b)

    place(network, 0, cold)
    for k in range(n_elements):
        if k not in ends:
            ends[k] = (count, cold)
            count += 1
    return [tuple(count if node == cold else node for node in ends[k]) for k in range(n_elements)], count  # type: ignore[misc]


def dc_resistance(networks: Sequence[Topology], elements: Sequence[Element]) -> Floats:
    """Return each network's resistance, shape (n_networks,), ohm or infinite."""
    place = {id(network): i for i, network in enumerate(networks)}
    found = np.empty(len(networks))
    for i, network in enumerate(networks):
        members = found[[place[id(member)] for member in network.members]]
        if network.kind == COIL:
            element = elements[network.coils[0]]
            if isinstance(element, GroupSource):
                found[i] = element.dc_ohm
                continue
            ohm = as_two_lead(element).dc_ohm(element)
            found[i] = np.inf if ohm is None else ohm
        else:
            found[i] = members.sum() if network.kind == SERIES else _parallel(members)
    return found


def _parallel(ohms: Floats) -> float:
    """Return resistances in parallel, 0 ohm to infinite."""
    with np.errstate(divide="ignore"):
        return float(np.float64(1.0) / (1.0 / ohms).sum())


def networks_with_extra(networks: Sequence[Topology], extra: int) -> Iterator[int]:
    """Yield the indexes of networks with an extra element and a coil.

    Parameters
    ----------
    extra : int
        Number of the extra element.
    """
    bit = 1 << extra
    return (i for i, network in enumerate(networks) if network.mask & bit and network.mask != bit)
