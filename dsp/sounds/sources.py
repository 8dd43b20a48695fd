"""Every network of coils as a source: its impedance, and each coil's share of its EMF.

Both follow from those of the members, so one pass over the list gives all networks, many at once. A
coil's own capacitance lies across it and is part of it. Where coils are coupled, the currents in their
windings follow the same way; `dsp.sounds.coupled` puts the coupling in.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

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
AT_ONCE = 128
"""Networks computed at once: their arrays stay in a core's cache."""


@dataclass(frozen=True)
class Sources:
    """Some networks as sources, before any phases and couplings.

    Attributes
    ----------
    impedance : ndarray, shape (n, n_freqs), ohm
    weight : ndarray, shape (n_elements, n, n_freqs)
        Share of each element's EMF in that of the network, with its start towards hot.
    current : ndarray, shape (n_pairs, n, n_freqs), siemens
        By pairs of elements: current in the one's winding per EMF of the other, leads open.
    """

    impedance: Complex
    weight: Complex
    current: Complex

    def select(self, rows: NDArray[np.intp]) -> Sources:
        """Return some of the networks.

        Parameters
        ----------
        rows : ndarray of int, shape (n_some,)
        """
        return Sources(self.impedance[rows], self.weight[:, rows], self.current[:, rows])


class SourceTable:
    """The sources of a list of networks, made some at a time.

    All of six coupled coils would take 300 MB.

    Parameters
    ----------
    networks : sequence of Topology
        Members of a network come before it, as in `topologies`.
    elements : sequence of Part or GroupSource
        Parts with two leads each, and groups, in the order of the bits of a mask.
    frequencies_hz : ndarray, shape (n_freqs,)
    pairs : sequence of (int, int)
        Pairs of elements whose winding currents are wanted, each once.
    """

    def __init__(
        self,
        networks: Sequence[Topology],
        elements: Sequence[Element],
        frequencies_hz: Floats,
        pairs: Sequence[tuple[int, int]] = (),
    ) -> None:
        s = laplace(frequencies_hz)
        self._networks = networks
        self._first, self._second = (np.array([pair[k] for pair in pairs], np.intp) for k in (0, 1))
        self._alone = [_alone(element, s) for element in elements]
        self._shape = (len(elements), len(pairs), len(s))
        used = {id(member) for network in networks for member in network.members}
        kept = [i for i, network in enumerate(networks) if id(network) in used]
        self._place = {id(networks[i]): row for row, i in enumerate(kept)}
        self._kept = self._empty(len(kept))
        for _, some in groupby(range(len(kept)), lambda row: networks[kept[row]].mask.bit_count()):
            rows = list(some)
            for start in range(0, len(rows), AT_ONCE):
                part = rows[start : start + AT_ONCE]
                self._put(self._kept, np.array(part), self.sources([kept[row] for row in part]))

    def _empty(self, n: int) -> Sources:
        n_elements, n_pairs, n_freqs = self._shape
        return Sources(
            np.empty((n, n_freqs), complex),
            np.empty((n_elements, n, n_freqs), complex),
            np.empty((n_pairs, n, n_freqs), complex),
        )

    @staticmethod
    def _put(into: Sources, rows: NDArray[np.intp], found: Sources) -> None:
        into.impedance[rows], into.weight[:, rows] = found.impedance, found.weight
        into.current[:, rows] = found.current

    def sources(self, some: Sequence[int]) -> Sources:
        """Return the sources of some of the networks, by their numbers."""
        found = self._empty(len(some))
        alike: dict[tuple[str, int], list[int]] = {}
        for row, i in enumerate(some):
            network = self._networks[i]
            alike.setdefault((network.kind, len(network.members)), []).append(row)
        for (kind, n_members), rows in alike.items():
            whole = [self._networks[some[row]] for row in rows]
            if kind == COIL:
                made = self._of_elements([network.coils[0] for network in whole])
            else:
                places = np.array([[self._place[id(one)] for one in network.members] for network in whole])
                members = [self._kept.select(places[:, k]) for k in range(n_members)]
                made = self._in_series(members) if kind == SERIES else self._in_parallel(members)
            self._put(found, np.array(rows), made)
        return found

    def _of_elements(self, numbers: Sequence[int]) -> Sources:
        found = self._empty(len(numbers))
        found.weight[:], found.current[:] = 0.0, 0.0
        for row, k in enumerate(numbers):
            found.impedance[row], found.weight[k, row], current = self._alone[k]
            found.current[(self._first == k) & (self._second == k), row] = current
        return found

    def idle_current(self, element: int) -> Complex:
        """Return a free winding's current per EMF, shape (n_freqs,), siemens."""
        return self._alone[element][2]

    @staticmethod
    def _in_series(members: Sequence[Sources]) -> Sources:
        return Sources(
            _sum([one.impedance for one in members]),
            _sum([one.weight for one in members]),
            _sum([one.current for one in members]),
        )

    def _in_parallel(self, members: Sequence[Sources]) -> Sources:
        """Return members in parallel: what drives each is the voltage that all have in common."""
        admittance = [1.0 / one.impedance for one in members]
        impedance = 1.0 / _sum(admittance)
        short = [one.weight * each for one, each in zip(members, admittance, strict=True)]
        whole = _sum(short)
        if not len(self._first):
            return Sources(impedance, whole * impedance, members[0].current)
        current = -whole[self._first] * whole[self._second] * impedance
        for one, each in zip(members, short, strict=True):
            current += one.current + each[self._first] * one.weight[self._second]
        return Sources(impedance, whole * impedance, current)


def _sum(members: Sequence[Complex]) -> Complex:
    total = members[0] + members[1]
    for one in members[2:]:
        total += one
    return total


def _alone(element: Element, s: Complex) -> tuple[Complex, Complex, Complex]:
    """Return one element's impedance, the share of its EMF at its leads, and its current.

    Each has shape (n_freqs,). The current is that in its winding per EMF, its leads open.
    """
    if isinstance(element, GroupSource):
        return element.impedance_ohm, np.ones(len(s), complex), np.zeros(len(s), complex)
    kind = as_two_lead(element)
    inside = kind.impedance(element, s)
    if not kind.senses:
        return inside, np.ones(len(s), complex), np.zeros(len(s), complex)
    across = kind.admittance(element, s)
    share = 1.0 / (1.0 + across * inside)
    return np.asarray(inside * share), np.asarray(share), np.asarray(across * share)


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
