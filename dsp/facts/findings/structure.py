"""Structure of a setting's network that a person should know of: loose, shorted, aerial."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.parts.kind import Terminal
from dsp.parts.kinds import is_sensing, kind_of
from dsp.wiring.network import GROUND, Network
from dsp.wiring.union import Merge


@dataclass(frozen=True)
class Structure:
    """What the joints alone tell of one network.

    Attributes
    ----------
    shorted : tuple of str
        Parts with a branch whose two leads are one node, where their kind has a rule for it: coils.
    hanging : tuple of Terminal
        Leads of coils and other parts that nothing else is joined to, the other lead in use.
    aerials : tuple of Terminal
        Leads by which a coil with a loose lead hangs from something live, itself or through
        others: it then picks up electric hum like an aerial. Hanging from the sleeve is safe.
    unused : tuple of Terminal
        Leads of branches with neither lead in use.
    """

    jack_shorted: bool
    shorted: tuple[str, ...]
    hanging: tuple[Terminal, ...]
    aerials: tuple[Terminal, ...]
    unused: tuple[Terminal, ...]


def structure_of(network: Network) -> Structure:
    """Loose and shorted parts of a network.

    Parameters
    ----------
    network : Network
        Of a position; knobs open.
    """
    touching = _touching(network)
    roots = _roots(network, touching)
    shorted, hanging, aerials, unused = [], [], [], []
    for branch in network.branches:
        first, last = ((branch.name, lead) for lead in branch.leads)
        loose = [touching[branch.a] == 1, touching[branch.b] == 1]
        if branch.a == branch.b:
            if kind_of(branch.part).rules.shorted:
                shorted.append(branch.name)
        elif all(loose):
            unused += [first, last]
        elif any(loose):
            lead, held, node = (first, last, branch.b) if loose[0] else (last, first, branch.a)
            hanging.append(lead)
            if is_sensing(branch.part) and roots[node] not in (GROUND, None):
                aerials.append(held)
    shorted_jack = network.output == GROUND
    return Structure(shorted_jack, tuple(shorted), tuple(hanging), tuple(aerials), tuple(unused))


def _roots(network: Network, touching: list[int]) -> list[int | None]:
    """Per node, the node in use that it hangs from; itself if in use, None if from nothing.

    Chains of parts that end in a loose lead are taken off from their loose ends, part by
    part, until only what closes a loop (or belongs to the jack) is left: that is in use.
    """
    count = list(touching)
    left, taken = list(network.branches), []
    while ends := [b for b in left if b.a != b.b and 1 in (count[b.a], count[b.b])]:
        taken += ends
        left = [b for b in left if b not in ends]
        for branch in ends:
            count[branch.a] -= 1
            count[branch.b] -= 1
    chains = Merge(range(network.n_nodes))
    for branch in taken:
        chains.join((branch.a, branch.b))
    in_use = {chains.root(node): node for node in range(network.n_nodes) if count[node] > 0}
    return [in_use.get(chains.root(node)) for node in range(network.n_nodes)]


def _touching(network: Network) -> list[int]:
    """How many part leads touch each node, the jack's and the load's included."""
    count = [0] * network.n_nodes
    for node in (GROUND, network.output):
        count[node] += 2
    for branch in network.branches:
        count[branch.a] += 1
        count[branch.b] += 1
    for segment in network.segments:
        count[segment.a] += 1
        count[segment.b] += 1
    return count
