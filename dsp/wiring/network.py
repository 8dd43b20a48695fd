"""The network of one selector position: terminals merged into nodes, parts between them.

Joints never change; a position closes contacts (or, for a sketch, stands parts between hot
and cold). Both only merge terminals. What a knob does is left open here: each pot is two
segments whose resistances come later, so that everything else is worked out once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from dsp.parts.coil import Coil
from dsp.parts.expression import Expression, Leaf
from dsp.parts.load import Load
from dsp.parts.pot import Pot
from dsp.parts.switch import Switch
from dsp.parts.two_lead import Capacitor, Inductor, Resistor
from dsp.wiring.model import Coupling, Setting, Sketch, Terminal, Wiring, terminals_of
from dsp.wiring.union import Merge

GROUND = 0
"""Node of the jack's sleeve, the circuit's reference."""


@dataclass(frozen=True)
class Branch:
    """A two-lead part between two nodes; for a coil, start and finish."""

    name: str
    a: int
    b: int
    part: Coil | Capacitor | Resistor | Inductor


@dataclass(frozen=True)
class Segment:
    """One end of a pot's track: lugs 1-2 (``low``) or 2-3."""

    pot: str
    a: int
    b: int
    low: bool


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
        Resistors, capacitors, inductors and coils, in the file's order.
    segments : tuple of Segment
    pots : mapping of str to Pot
    couplings : tuple of Coupling
    load : Load
    node_of : mapping of Terminal to int
    """

    n_nodes: int
    output: int
    branches: tuple[Branch, ...]
    segments: tuple[Segment, ...]
    pots: Mapping[str, Pot]
    couplings: tuple[Coupling, ...]
    load: Load
    node_of: Mapping[Terminal, int]

    @property
    def coils(self) -> tuple[Branch, ...]:
        """The coils' branches, in the file's order."""
        return tuple(branch for branch in self.branches if isinstance(branch.part, Coil))


def closed_contacts(wiring: Wiring, setting: Setting) -> Iterator[tuple[Terminal, ...]]:
    """Terminals that a setting's switch positions join."""
    stands = dict(setting.switches)
    if wiring.selector is not None:
        stands[wiring.selector] = setting.position
    for name, part in wiring.parts.items():
        if isinstance(part, Switch):
            position = stands.get(name, next(iter(part.contacts)))
            for group in part.contacts[position]:
                yield tuple((name, lug) for lug in group)
        elif isinstance(part, Sketch) and name == wiring.selector:
            yield from sketch_joints(part.positions[setting.position], (name, "hot"), (name, "cold"), wiring)


def sketch_joints(
    expression: Expression, hot: Terminal, cold: Terminal, wiring: Wiring
) -> Iterator[tuple[Terminal, ...]]:
    """The joints that stand an expression between two terminals."""
    if expression.reversed:
        hot, cold = cold, hot
    if isinstance(expression, Leaf):
        first, last = terminals_of(wiring.parts[expression.name])
        yield hot, (expression.name, first)
        yield (expression.name, last), cold
    elif not expression.series:
        for member in expression.members:
            yield from sketch_joints(member, hot, cold, wiring)
    else:
        # A reversed chain keeps its order of members from its own hot end, which now is `cold`.
        *inner, final = expression.members
        at = hot
        for member in inner:
            link = (f" between {id(member)}", "")
            yield from sketch_joints(member, at, link, wiring)
            at = link
        yield from sketch_joints(final, at, cold, wiring)


def merged_terminals(wiring: Wiring, setting: Setting) -> Merge[Terminal]:
    """Every terminal of the wiring, merged by joints and closed contacts."""
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
    """The network of a setting's selector and switch positions.

    Parameters
    ----------
    wiring : Wiring
    setting : Setting
        Its knobs are not looked at.
    """
    merge = merged_terminals(wiring, setting)
    sleeve, tip = (wiring.jack, "sleeve"), (wiring.jack, "tip")
    numbers = {merge.root(sleeve): GROUND}
    numbers.setdefault(merge.root(tip), 1)
    node_of: dict[Terminal, int] = {}
    for group in merge.classes():
        number = numbers.setdefault(merge.root(group[0]), len(numbers))
        node_of.update(dict.fromkeys(group, number))
    branches, segments = [], []
    for name, part in wiring.parts.items():
        if isinstance(part, Coil | Capacitor | Resistor | Inductor):
            first, last = terminals_of(part)
            branches.append(Branch(name, node_of[name, first], node_of[name, last], part))
        elif isinstance(part, Pot):
            lugs = [node_of[name, lug] for lug in ("1", "2", "3")]
            segments += [Segment(name, lugs[0], lugs[1], True), Segment(name, lugs[1], lugs[2], False)]
    return Network(
        len(numbers),
        node_of[tip],
        tuple(branches),
        tuple(segments),
        wiring.pots,
        wiring.couplings,
        wiring.load,
        node_of,
    )


def at_knobs(network: Network, setting: Setting) -> Network:
    """The network with every knob where the setting says.

    A segment of no resistance is a joint: its two nodes become one. The others become
    resistors named after the pot and the lugs, such as ``volume.12``.
    """
    merge = Merge(range(network.n_nodes))
    resistors: list[tuple[Segment, float]] = []
    for segment in network.segments:
        low, high = network.pots[segment.pot].segments(setting.knob(segment.pot))
        resistance = low if segment.low else high
        if resistance > 0.0:
            resistors.append((segment, resistance))
        else:
            merge.join((segment.a, segment.b))
    numbers = {merge.root(GROUND): GROUND}
    numbers.setdefault(merge.root(network.output), 1)
    new = [numbers.setdefault(merge.root(node), len(numbers)) for node in range(network.n_nodes)]
    kept = [Branch(b.name, new[b.a], new[b.b], b.part) for b in network.branches]
    kept += [
        Branch(f"{s.pot}.{'12' if s.low else '23'}", new[s.a], new[s.b], Resistor(ohm))
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
    """Node each node counts as, loose pieces tied to the sleeve.

    A piece with no path to the sleeve has no voltage of its own: tying one of its nodes to
    the sleeve changes no current.
    """
    pieces = _pieces(network)
    first = {pieces.root(node): node for node in range(network.n_nodes - 1, -1, -1)}
    return [GROUND if first[pieces.root(node)] == node else node for node in range(network.n_nodes)]


def reference_of(network: Network) -> list[int | None]:
    """As `tied_nodes`, but None for nodes of loose pieces that cannot matter.

    A loose piece matters only if its coils are magnetically coupled, directly or through
    others, to a coil that is not loose.
    """
    pieces = _pieces(network)
    matters = Merge(pieces.root(node) for node in range(network.n_nodes))
    coil_piece = {coil.name: pieces.root(coil.a) for coil in network.coils}
    for coupling in network.couplings:
        matters.join((coil_piece[coupling.first], coil_piece[coupling.second]))
    return [
        node if matters.same(pieces.root(old), pieces.root(GROUND)) else None
        for old, node in enumerate(tied_nodes(network))
    ]
