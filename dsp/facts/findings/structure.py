"""Faults in a network's structure: loose leads, shorted coils, coils that act as aerials."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.parts.kind import Terminal
from dsp.parts.kinds import is_sensing, kind_of
from dsp.wiring.network import GROUND, Branch, Network
from dsp.wiring.union import Merge


@dataclass(frozen=True)
class Structure:
    """What the joints alone show about one network.

    Attributes
    ----------
    shorted : tuple of str
        Parts with both leads of a branch on one node, if their kind has a rule for it: coils.
    hanging : tuple of Terminal
        Loose leads of coils and other parts whose other lead is in use.
    aerials : tuple of Terminal
        Leads by which a coil with a loose lead hangs from a live node, directly or through other
        parts. Such a coil picks up electric hum like an aerial. Hanging from the sleeve is safe.
    unused : tuple of Terminal
        Leads of branches with neither lead in use.
    partly : tuple of str
        Tapped coils with one section shorted.
    """

    jack_shorted: bool
    shorted: tuple[str, ...]
    hanging: tuple[Terminal, ...]
    aerials: tuple[Terminal, ...]
    unused: tuple[Terminal, ...]
    partly: tuple[str, ...] = ()


def structure_of(network: Network) -> Structure:
    """Return the loose and shorted parts of a network.

    Parameters
    ----------
    network : Network
        A position's network, with open knobs.
    """
    touching = _touching(network)
    roots = _roots(network, touching)
    shorted: list[str] = []
    partly: list[str] = []
    hanging: list[Terminal] = []
    aerials: list[Terminal] = []
    unused: list[Terminal] = []
    sections: dict[str, list[Branch]] = {}
    for branch in network.branches:
        sections.setdefault(branch.name, []).append(branch)
    for name, mine in sections.items():
        flat = [branch.a == branch.b for branch in mine]
        tapped = is_sensing(mine[0].part) and len(mine) > 1
        if any(flat) and kind_of(mine[0].part).rules.shorted:
            (partly if tapped and not all(flat) else shorted).append(name)
        elif tapped and mine[0].a == mine[-1].b:
            shorted.append(name)
        for branch in mine:
            first, last = ((name, lead) for lead in branch.leads)
            loose = [touching[branch.a] == 1, touching[branch.b] == 1]
            if branch.a == branch.b or not any(loose):
                continue
            if all(loose):
                unused += [first, last]
                continue
            lead, held, node = (first, last, branch.b) if loose[0] else (last, first, branch.a)
            (unused if tapped and roots[node] is None else hanging).append(lead)
            if is_sensing(branch.part) and not tapped and roots[node] not in (GROUND, None):
                aerials.append(held)
    return Structure(
        network.output == GROUND, tuple(shorted), tuple(hanging), tuple(aerials), tuple(unused), tuple(partly)
    )


def _roots(network: Network, touching: list[int]) -> list[int | None]:
    """Return, for each node, the node in use that it hangs from.

    A node in use hangs from itself. None marks a node that hangs from nothing in use.
    Chains of parts that end in a loose lead are removed from that end, part by part. What
    remains closes a loop or belongs to the jack: it is in use.
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
    """Return the number of leads at each node.

    The jack's and the load's leads count too.
    """
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
