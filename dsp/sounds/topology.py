"""Every way to join coils in series and parallel, phases left open.

A network of a set of coils is a coil; or a series of two or more networks that are no series
themselves; or a parallel of two or more that are no parallels. Built by subsets, each is made
once. Series order and parallel order are the same network here: to the output they are equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from dsp.errors import InputError

MOST_COILS = 6
COIL, SERIES, PARALLEL = "coil", "series", "parallel"


@dataclass(frozen=True)
class Topology:
    """Coils joined with one another.

    Attributes
    ----------
    kind : str
        ``coil``, ``series`` or ``parallel``.
    mask : int
        Bit k is set when coil k is in it.
    members : tuple of Topology
        Empty for a coil.
    """

    kind: str
    mask: int
    members: tuple[Topology, ...] = ()

    @property
    def coils(self) -> tuple[int, ...]:
        """Numbers of its coils, rising."""
        return tuple(k for k in range(self.mask.bit_length()) if self.mask >> k & 1)

    def expression_text(self, names: Sequence[str], signs: Sequence[int] | None = None) -> str:
        """As a sketch expression.

        Parameters
        ----------
        names : sequence of str
            Of all coils.
        signs : sequence of int, optional
            Per coil, -1 for leads turned round.
        """
        return self._written(names, signs, inner=False)

    def _written(self, names: Sequence[str], signs: Sequence[int] | None, *, inner: bool) -> str:
        if self.kind == COIL:
            (k,) = self.coils
            return f"-{names[k]}" if signs is not None and signs[k] < 0 else names[k]
        sign = " + " if self.kind == SERIES else " | "
        text = sign.join(member._written(names, signs, inner=True) for member in self.members)
        return f"({text})" if inner else text


@lru_cache(maxsize=MOST_COILS)
def topologies(n_coils: int) -> tuple[Topology, ...]:
    """All networks of every non-empty subset, smaller masks first.

    Parameters
    ----------
    n_coils : int
        1 to 6.

    Returns
    -------
    tuple of Topology
        Members of a network stand before it: 1, 4, 17, 100, 837, 9312 in all for 1 to 6 coils
        (the same counts by subsets as the series-parallel networks with labelled elements,
        OEIS A006351: 1, 2, 8, 52, 472, 5504).

    Raises
    ------
    InputError
        For another number of coils.
    """
    if not 1 <= n_coils <= MOST_COILS:
        raise InputError("coils", str(n_coils), f"1 to {MOST_COILS} coils to search among")
    by_mask: dict[int, list[Topology]] = {}
    for mask in sorted(range(1, 1 << n_coils), key=lambda m: (m.bit_count(), m)):
        if mask.bit_count() == 1:
            by_mask[mask] = [Topology(COIL, mask)]
        else:
            by_mask[mask] = [*_joined(SERIES, mask, by_mask), *_joined(PARALLEL, mask, by_mask)]
    return tuple(one for found in by_mask.values() for one in found)


def _joined(kind: str, mask: int, by_mask: dict[int, list[Topology]]) -> Iterator[Topology]:
    """Networks of one kind over a set: its partitions, each block of the other kind."""
    for blocks in _partitions(mask):
        choices = [[one for one in by_mask[block] if one.kind != kind] for block in blocks]
        for members in product(*choices):
            yield Topology(kind, mask, members)


def _partitions(mask: int, *, whole: bool = False) -> Iterator[tuple[int, ...]]:
    """Partitions of a set into two or more blocks (or one, for ``whole``)."""
    if whole:
        yield (mask,)
    lowest = mask & -mask
    rest = mask ^ lowest
    others = rest
    while others:  # every non-empty set of others goes into later blocks
        first = lowest | (rest ^ others)
        for later in _partitions(others, whole=True):
            yield (first, *later)
        others = (others - 1) & rest


def relative_phases(topology: Topology, n_coils: int) -> Iterator[tuple[int, ...]]:
    """Relative phases of a network's coils, the first of them never turned.

    Yields
    ------
    tuple of int
        Per coil of all: 1, -1, or 0 for one that is not in it.
    """
    first, *others = topology.coils
    for turned in product((1, -1), repeat=len(others)):
        signs = [0] * n_coils
        signs[first] = 1
        for k, sign in zip(others, turned, strict=True):
            signs[k] = sign
        yield tuple(signs)


def canonical_form(network: Topology) -> object:
    """A network without order: a coil's number, or kind and members."""
    if network.kind == COIL:
        return network.coils[0]
    return (network.kind, frozenset(canonical_form(member) for member in network.members))
