"""Every way to connect coils in series and parallel, without phases.

A network of a set of coils is a coil, a series of two or more networks that are not series
themselves, or a parallel of two or more that are not parallels. Building by subsets makes each
once. The order of members does not matter: to the output all orders are equal.
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
    """Coils connected with one another.

    Attributes
    ----------
    kind : str
        ``coil``, ``series`` or ``parallel``.
    mask : int
        Bit k is set if coil k is in the network.
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
        """Return the network as the text of a sketch expression.

        Parameters
        ----------
        names : sequence of str
            Names of all coils.
        signs : sequence of int, optional
            One per coil; -1 for reversed leads.
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
    """Return all networks of every non-empty subset, small masks first.

    Parameters
    ----------
    n_coils : int
        Number of coils, 1 to 6.

    Returns
    -------
    tuple of Topology
        Members of a network come before it. For 1 to 6 coils there are 1, 4, 17, 100, 837 and 9312.
        Counted by subset, they are the series-parallel networks with labelled elements (OEIS
        A006351: 1, 2, 8, 52, 472, 5504).

    Raises
    ------
    InputError
        If ``n_coils`` is out of range.
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
    """Yield the networks of one kind, one block of a partition per member."""
    for blocks in _partitions(mask):
        choices = [[one for one in by_mask[block] if one.kind != kind] for block in blocks]
        for members in product(*choices):
            yield Topology(kind, mask, members)


def _partitions(mask: int, *, whole: bool = False) -> Iterator[tuple[int, ...]]:
    """Yield the partitions of a set into two or more blocks.

    With ``whole``, the set itself as one block comes too.
    """
    if whole:
        yield (mask,)
    lowest = mask & -mask
    rest = mask ^ lowest
    others = rest
    while others:  # later blocks get every non-empty set of others
        first = lowest | (rest ^ others)
        for later in _partitions(others, whole=True):
            yield (first, *later)
        others = (others - 1) & rest


def relative_phases(topology: Topology, n_coils: int) -> Iterator[tuple[int, ...]]:
    """Yield the relative phases of a network's coils, its first coil at 1.

    Yields
    ------
    tuple of int
        One per coil: 1, -1, or 0 if the coil is not in the network.
    """
    first, *others = topology.coils
    for turned in product((1, -1), repeat=len(others)):
        signs = [0] * n_coils
        signs[first] = 1
        for k, sign in zip(others, turned, strict=True):
            signs[k] = sign
        yield tuple(signs)


def canonical_form(network: Topology) -> object:
    """Return a network without order: a coil's number, or kind and members."""
    if network.kind == COIL:
        return network.coils[0]
    return (network.kind, frozenset(canonical_form(member) for member in network.members))
