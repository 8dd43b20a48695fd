"""Couplings between the coils of networks, put in one after another.

The current in one winding is an EMF in the other, so a coupling changes two windings alone: the
inverse of a sum of a matrix and one of rank two follows from that of the matrix (M. Woodbury, 1950;
W. Hager, SIAM Review 31 (1989) 221, from memory). Only the product of two coils' phases enters.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.reduction import laplace
from dsp.parts.kinds import as_two_lead
from dsp.sounds.sources import Element, GroupSource

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Signs = NDArray[np.int8]


@dataclass(frozen=True)
class _Edge:
    """A coupling, and the pairs whose currents later ones need.

    Attributes
    ----------
    reactance : ndarray, shape (n_freqs,), ohm
        Of the mutual inductance.
    """

    first: int
    second: int
    reactance: Complex
    needed: tuple[tuple[int, int], ...]


class Couplings:
    """The couplings of some elements.

    Parameters
    ----------
    coefficients : mapping of (int, int) to float
        Between the elements' lossless inductances.
    """

    def __init__(
        self,
        elements: Sequence[Element],
        coefficients: Mapping[tuple[int, int], float],
        frequencies_hz: Floats,
    ) -> None:
        s = laplace(frequencies_hz)
        coupled = {k for pair in coefficients for k in pair}
        everything = range(len(elements))
        self.pairs = tuple((i, j) for i in everything for j in everything[i:] if coupled & {i, j})
        self._at = {(i, j): n for n, pair in enumerate(self.pairs) for i, j in (pair, pair[::-1])}
        self._edges: list[_Edge] = []
        listed = list(coefficients.items())
        for n, ((i, j), coefficient) in enumerate(listed, 1):
            later = {k for pair, _ in listed[n:] for k in pair}
            needed = tuple(pair for pair in self.pairs if later & {*pair})
            mutual_h = coefficient * np.sqrt(_coupled_h(elements[i]) * _coupled_h(elements[j]))
            self._edges.append(_Edge(i, j, s * mutual_h, needed))
        self._degree = {k: sum(k in pair for pair in coefficients) for k in coupled}

    def windings(self, signs: Signs) -> Signs:
        """Return phases, those of free coils filled in, shape of signs.

        The phase of a free coil does not matter. One with a single coupling takes its partner's, so
        that fewer products of phases differ. All are 1 or -1.

        Parameters
        ----------
        signs : ndarray of int, shape (n_phases, n_elements)
        """
        filled = np.where(signs == 0, 1, signs).astype(np.int8)
        for edge in self._edges:
            for own, other in ((edge.first, edge.second), (edge.second, edge.first)):
                if self._degree[own] == 1 and not signs[0, own]:
                    filled[:, own] = filled[:, other]
        return filled

    def weights(
        self, weight: Complex, current: Complex, windings: Signs
    ) -> Iterator[tuple[NDArray[np.intp], Complex]]:
        """Yield the elements' weights with the couplings, by products of phases.

        Parameters
        ----------
        weight : ndarray, shape (n_elements, n, n_freqs)
            Of loaded networks without couplings, before any phases.
        current : ndarray, shape (n_pairs, n, n_freqs), siemens
            Of the same, by `pairs`.
        windings : ndarray of int, shape (n_phases, n_elements)

        Yields
        ------
        rows : ndarray of int
            Phases that these weights hold for.
        weight : ndarray, shape (n_elements, n, n_freqs)
            Before the signs.
        """
        products = np.array([windings[:, edge.first] * windings[:, edge.second] for edge in self._edges])
        products = products.reshape(len(self._edges), len(windings))
        yield from self._put_in(0, weight, current, np.arange(len(windings)), products)

    def _put_in(
        self, n: int, weight: Complex, current: Complex, rows: NDArray[np.intp], products: Signs
    ) -> Iterator[tuple[NDArray[np.intp], Complex]]:
        if n == len(self._edges):
            yield rows, weight
            return
        for sign in (1, -1):
            some = rows[products[n, rows] == sign]
            if len(some):
                yield from self._put_in(n + 1, *self._with(n, sign, weight, current), some, products)

    def _with(self, n: int, sign: int, weight: Complex, current: Complex) -> tuple[Complex, Complex]:
        """Return weights and the currents still needed, with one coupling more."""
        edge, at = self._edges[n], self._at
        i, j = edge.first, edge.second
        back = -sign * edge.reactance  # a current in one winding takes from the other's EMF
        own_i, own_j, cross = (current[at[pair]] for pair in ((i, i), (j, j), (i, j)))
        whole = 1.0 - back * cross
        scaled = back / (whole * whole - (back * back) * own_i * own_j)
        both, at_i, at_j = scaled * whole, scaled * back * own_j, scaled * back * own_i
        changed = weight.copy()
        driven_i = weight[i] * at_i + weight[j] * both
        driven_j = weight[i] * both + weight[j] * at_j
        for k in range(len(weight)):
            changed[k] += driven_i * current[at[i, k]] + driven_j * current[at[j, k]]
        if not edge.needed:
            return changed, current
        after = np.empty_like(current)
        for one in dict.fromkeys(pair[0] for pair in edge.needed):
            from_i, from_j = current[at[one, i]], current[at[one, j]]
            drive_i, drive_j = from_i * at_i + from_j * both, from_i * both + from_j * at_j
            for other in (pair[1] for pair in edge.needed if pair[0] == one):
                place = at[one, other]
                after[place] = current[place] + drive_i * current[at[i, other]]
                after[place] += drive_j * current[at[j, other]]
        return changed, after


def _coupled_h(element: Element) -> float:
    assert not isinstance(element, GroupSource)  # couplings stay inside a group
    return as_two_lead(element).coupled_h(element)
