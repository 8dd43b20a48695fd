"""Networks of coils counted against published numbers and by brute force."""

from __future__ import annotations

from itertools import combinations
from math import comb

import pytest

from dsp.errors import InputError
from dsp.sounds.sources import networks_with_extra
from dsp.sounds.topology import Topology, relative_phases, topologies

LABELLED = (1, 2, 8, 52, 472, 5504)
"""Series-parallel networks with n labelled elements: OEIS A006351 (from memory), whose first terms a
brute-force enumeration below confirms to n = 4."""


@pytest.mark.parametrize("n", range(1, 7))
def test_networks_of_every_subset(n: int) -> None:
    found = topologies(n)
    assert len(found) == sum(comb(n, k) * LABELLED[k - 1] for k in range(1, n + 1))
    assert len(set(found)) == len(found)
    for network in found:
        masks = [member.mask for member in network.members]
        assert not masks or sum(masks) == network.mask
        assert all(a & b == 0 for a, b in combinations(masks, 2))
        assert all(member.kind != network.kind for member in network.members)


@pytest.mark.parametrize(("n", "count"), [(2, 6), (3, 47), (4, 572), (5, 9997), (6, 228_386)])
def test_with_every_relative_phase(n: int, count: int) -> None:
    assert sum(2 ** (len(network.coils) - 1) for network in topologies(n)) == count
    if n <= 4:
        written = {
            network.expression_text("abcdef", s)
            for network in topologies(n)
            for s in relative_phases(network, n)
        }
        assert len(written) == count


@pytest.mark.parametrize(("n", "count"), [(2, 20), (3, 262), (4, 4712), (5, 109_194)])
def test_with_one_extra_part_anywhere(n: int, count: int) -> None:
    found = topologies(n + 1)
    kept = [found[i] for i in networks_with_extra(found, n)]
    assert sum(2 ** (len(network.coils) - 2) for network in kept) == count


def canonical(kind: str, parts: list[object]) -> object:
    """Return one form of a network, whatever the order of its assembly."""
    flat: list[object] = []
    for part in parts:
        flat += list(part[1]) if isinstance(part, tuple) and part[0] == kind else [part]  # type: ignore[index]
    return (kind, frozenset(flat))


def brute(elements: frozenset[str]) -> set[object]:
    """Return every series-parallel network of labelled elements, split in two in every way."""
    if len(elements) == 1:
        return set(elements)
    found: set[object] = set()
    members = sorted(elements)
    for size in range(1, len(members)):
        for chosen in combinations(members, size):
            rest = elements - set(chosen)
            for first in brute(frozenset(chosen)):
                for second in brute(rest):
                    found |= {canonical("s", [first, second]), canonical("p", [first, second])}
    return found


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_against_brute_force(n: int) -> None:
    def plain(network: Topology) -> object:
        if not network.members:
            return "abcd"[network.coils[0]]
        return (network.kind[0], frozenset(plain(member) for member in network.members))

    whole = [network for network in topologies(n) if network.mask == (1 << n) - 1]
    assert {plain(network) for network in whole} == brute(frozenset("abcd"[:n]))


@pytest.mark.parametrize("n", [0, 7])
def test_too_few_and_too_many_coils(n: int) -> None:
    with pytest.raises(InputError, match="1 to 6 coils"):
        topologies(n)
