"""The network of one selector position: terminals merged into nodes, parts between them.

Joints never change. A position closes contacts; in a sketch it places parts between hot and cold.
Both only merge terminals. Pots stay open: each is two segments whose resistances come later, so
that everything else is computed once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby
from math import isfinite

from dsp.parts.jack import SLEEVE
from dsp.parts.kind import Conductor, Pair, Part, Terminal
from dsp.parts.kinds import (
    VariablePart,
    conductor_of,
    ends_of,
    is_sensing,
    kind_of,
    new_part,
    plugged_of,
    positioned_of,
    terminals_of,
    variable_of,
)
from dsp.parts.load import Load
from dsp.wiring.model import Coupling, Setting, Wiring
from dsp.wiring.union import Merge

GROUND = 0
"""Node of the jack's sleeve, the circuit's reference."""


@dataclass(frozen=True)
class Branch:
    """A part between two leads; one with two windings has two branches.

    Attributes
    ----------
    name : str
        Of the part.
    a, b : int
        Nodes; for a coil, of the end nearer start and of the other.
    number : int
        Index among the part's branches.
    """

    name: str
    a: int
    b: int
    part: Part
    leads: Pair = ("a", "b")
    number: int = 0


@dataclass(frozen=True)
class Segment:
    """A resistance between two lugs of a pot: 1-2 is number 0, 2-3 number 1."""

    pot: str
    a: int
    b: int
    number: int
    leads: Pair

    @property
    def key(self) -> tuple[str, int]:
        """The pot and the number."""
        return self.pot, self.number


@dataclass(frozen=True)
class Tie:
    """A law: the voltages, each times its factor, add up to zero."""

    branches: tuple[Branch, ...]
    factors: tuple[float, ...]


@dataclass(frozen=True)
class Network:
    """Everything between the nodes of one position.

    Attributes
    ----------
    n_nodes : int
        Nodes 0 (the sleeve) to n_nodes - 1.
    output : int
        Node of the jack's tip; 0 when the jack is shorted.
    branches : tuple of Branch
        In the file's order; those of one part are neighbours.
    knobs : mapping of str to tuple of str
        The pots that each knob turns.
    """

    n_nodes: int
    output: int
    branches: tuple[Branch, ...]
    segments: tuple[Segment, ...]
    pots: Mapping[str, VariablePart]
    knobs: Mapping[str, tuple[str, ...]]
    couplings: tuple[Coupling, ...]
    load: Load
    node_of: Mapping[Terminal, int]

    @cached_property
    def coils(self) -> tuple[Branch, ...]:
        """The coils' branches, in the file's order."""
        return tuple(b for b in self.branches if b.number == 0 and is_sensing(b.part))

    @cached_property
    def magnets(self) -> tuple[tuple[Branch, ...], ...]:
        """Windings by the branches of their sections, the coils first."""
        groups = {group[0].name: (kind, group) for kind, group in self.elements}
        coupled = dict.fromkeys(name for pair in self.couplings for name in (pair.first, pair.second))
        coils = tuple(group for kind, group in groups.values() if kind.senses)
        return (*coils, *(groups[name][1] for name in coupled if not groups[name][0].senses))

    @cached_property
    def elements(self) -> tuple[tuple[Conductor[Part], tuple[Branch, ...]], ...]:
        """Every conducting part: its kind and its branches."""
        grouped = (tuple(group) for _, group in groupby(self.branches, key=lambda branch: branch.name))
        return tuple((kind, group) for group in grouped if (kind := conductor_of(group[0].part)))

    @cached_property
    def ties(self) -> tuple[Tie, ...]:
        """Laws of parts with several branches."""
        return tuple(
            Tie(branches, factors)
            for kind, branches in self.elements
            for factors in kind.ties(branches[0].part)
        )


def closed_contacts(wiring: Wiring, setting: Setting) -> Iterator[tuple[Terminal, ...]]:
    """Yield the terminals that each switch joins at a setting."""
    positions = dict(setting.switches)
    if wiring.selector is not None:
        positions[wiring.selector] = setting.position
    for name, part in wiring.parts.items():
        kind = positioned_of(part)
        if kind:
            position = positions.get(name) or kind.positions(part)[0]
            yield from kind.joints(part, name, position, lambda other: ends_of(wiring.parts[other]))
        elif takes := plugged_of(part):
            yield from takes.joints(part, name, positions.get(name) or wiring.plugs(name)[0])
        elif piece := kind_of(part).one_piece(part):
            yield tuple((name, lead) for lead in piece)


def merge_terminals(wiring: Wiring, setting: Setting) -> Merge[Terminal]:
    """Merge the terminals of a wiring by joints and closed contacts."""
    closed = list(closed_contacts(wiring, setting))
    everything = [(name, lead) for name, part in wiring.parts.items() for lead in terminals_of(part)]
    links = [terminal for group in closed for terminal in group if terminal[0] not in wiring.parts]
    merge: Merge[Terminal] = Merge([*everything, *links])
    for joint in wiring.joints:
        merge.join(joint.terminals)
    for group in closed:
        merge.join(group)
    return merge


def build_network(wiring: Wiring, setting: Setting) -> Network:
    """Build the network of a setting's selector and switch positions.

    Parameters
    ----------
    setting : Setting
        Its knobs do not matter.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> network = build_network(wiring, wiring.setting("1"))
    >>> [(branch.name, branch.a, branch.b) for branch in network.branches]
    [('neck', 1, 0)]
    """
    merge = merge_terminals(wiring, setting)
    sleeve, hot = (wiring.jack, SLEEVE), wiring.hot
    numbers = {merge.root(sleeve): GROUND}
    numbers.setdefault(merge.root(hot), 1)
    node_of: dict[Terminal, int] = {}
    for group in merge.classes():
        number = numbers.setdefault(merge.root(group[0]), len(numbers))
        node_of.update(dict.fromkeys(group, number))
    branches: list[Branch] = []
    segments: list[Segment] = []
    for name, part in wiring.parts.items():
        if conducts := conductor_of(part):
            for number, (first, last) in enumerate(conducts.branches(part)):
                ends = node_of[name, first], node_of[name, last]
                branches.append(Branch(name, *ends, part, (first, last), number))
        elif turns := variable_of(part):
            for number, (first, last) in enumerate(turns.segments(part)):
                ends = node_of[name, first], node_of[name, last]
                segments.append(Segment(name, *ends, number, (first, last)))
    branches += _other_loads(wiring, setting, node_of)
    return Network(
        len(numbers),
        node_of[hot],
        tuple(branches),
        tuple(segments),
        wiring.pots,
        wiring.knobs,
        wiring.couplings,
        wiring.load,
        node_of,
    )


def _other_loads(wiring: Wiring, setting: Setting, node_of: Mapping[Terminal, int]) -> Iterator[Branch]:
    """Yield cable and amplifier at every signal that is plugged in besides the output."""
    for name, part in wiring.jacks.items():
        kind = plugged_of(part)
        assert kind is not None
        for lead in kind.signals(part, setting.switches.get(name) or wiring.plugs(name)[0]):
            if (name, lead) != wiring.hot:
                ends, load = (node_of[name, lead], node_of[name, SLEEVE]), wiring.load
                amplifier = new_part("resistor", resistance=load.amplifier_ohm)
                yield Branch(f"{name}.{lead} amplifier", *ends, amplifier)
                if load.capacitance_f:
                    cable = new_part("capacitor", capacitance=load.capacitance_f)
                    yield Branch(f"{name}.{lead} cable", *ends, cable)


def knob_ohms(network: Network, knob: str, value: float) -> dict[tuple[str, int], float]:
    """Return the resistance of each segment that a knob sets.

    Parameters
    ----------
    value : float
        0 to 10.

    Returns
    -------
    dict of (str, int) to float
        By pot and number, ohm: 0 for a joint, infinite where there is no track.
    """
    found = {}
    for name in network.knobs[knob]:
        pot = network.pots[name]
        kind = variable_of(pot)
        assert kind is not None  # a knob turns it
        for number, ohm in enumerate(kind.resistances(pot, value)):
            found[name, number] = ohm
    return found


def resistances(network: Network, setting: Setting) -> dict[tuple[str, int], float]:
    """Return the resistance of every segment; see `knob_ohms`."""
    found: dict[tuple[str, int], float] = {}
    for knob in network.knobs:
        found |= knob_ohms(network, knob, setting.knob(knob))
    return found


def open_segments(network: Network, opened: frozenset[tuple[str, int]]) -> Network:
    """Return the network without some segments."""
    if not opened:
        return network
    return replace(network, segments=tuple(s for s in network.segments if s.key not in opened))


def set_pots(network: Network, setting: Setting) -> Network:
    """Return the network with every pot set.

    A segment without resistance is a joint: its two nodes become one. One without a track is left out. The
    others become resistors named after pot and lugs, such as ``volume.12``.
    """
    merge = Merge(range(network.n_nodes))
    resistors: list[tuple[Segment, float]] = []
    ohms = resistances(network, setting)
    for segment in network.segments:
        ohm = ohms[segment.key]
        if ohm == 0.0:
            merge.join((segment.a, segment.b))
        elif isfinite(ohm):
            resistors.append((segment, ohm))
    numbers = {merge.root(GROUND): GROUND}
    numbers.setdefault(merge.root(network.output), 1)
    new = [numbers.setdefault(merge.root(node), len(numbers)) for node in range(network.n_nodes)]
    kept = [Branch(b.name, new[b.a], new[b.b], b.part, b.leads, b.number) for b in network.branches]
    kept += [
        Branch(f"{s.pot}.{''.join(s.leads)}", new[s.a], new[s.b], new_part("resistor", resistance=ohm))
        for s, ohm in resistors
    ]
    node_of = {terminal: new[node] for terminal, node in network.node_of.items()}
    return replace(
        network,
        n_nodes=len(numbers),
        output=new[network.output],
        branches=tuple(kept),
        segments=(),
        node_of=node_of,
    )


def _pieces(network: Network) -> Merge[int]:
    """Nodes that a chain of parts connects."""
    pieces = Merge(range(network.n_nodes))
    pieces.join((GROUND, network.output))
    for branch in network.branches:
        pieces.join((branch.a, branch.b))
    for segment in network.segments:
        pieces.join((segment.a, segment.b))
    return pieces


def tied_nodes(network: Network) -> list[int]:
    """Return the node each node counts as, loose pieces tied to the sleeve.

    A piece without a path to the sleeve has no voltage of its own. Tying one of its nodes to the sleeve
    changes no current.
    """
    pieces = _pieces(network)
    first = {pieces.root(node): node for node in range(network.n_nodes - 1, -1, -1)}
    return [GROUND if first[pieces.root(node)] == node else node for node in range(network.n_nodes)]


def reference_of(network: Network) -> list[int | None]:
    """Return `tied_nodes`, with None for nodes that cannot matter.

    A loose piece matters only if a magnetic coupling or a transformer links it, directly or through other
    pieces, to one that is not loose.
    """
    pieces = _pieces(network)
    matters = Merge(pieces.root(node) for node in range(network.n_nodes))
    piece = {group[0].name: pieces.root(group[0].a) for group in network.magnets} if network.couplings else {}
    for coupling in network.couplings:
        matters.join((piece[coupling.first], piece[coupling.second]))
    for tie in network.ties:
        matters.join(pieces.root(branch.a) for branch in tie.branches)
    return [
        node if matters.same(pieces.root(old), pieces.root(GROUND)) else None
        for old, node in enumerate(tied_nodes(network))
    ]
