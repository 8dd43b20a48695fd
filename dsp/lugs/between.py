"""What happens while the switch moves from one position to the next.

Between two positions, a switch that breaks before it makes keeps only the contacts of both
positions. One that makes before it breaks closes the contacts of either. Where the file does not
say which kind a switch is (its timing), this module examines both. It moves all poles together;
`uneven` covers poles that move one after another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.targets import Targets
from dsp.lugs.two_switches import moving_switch, possible_moves
from dsp.parts.expression import names_in
from dsp.parts.kind import Terminal
from dsp.parts.switch import NON_SHORTING, SHORTING, Groups, Switch
from dsp.wiring.passage import combined_contacts, common_contacts
from dsp.wiring.reach import find_blocks
from dsp.wiring.union import Merge

BREAKS, MAKES = "breaks first", "makes first"
KINDS: dict[str, str] = {
    BREAKS: "a switch that breaks before it makes",
    MAKES: "a switch that makes before it breaks (shorting)",
}
KNOWN: dict[str, str] = {BREAKS: "breaks before it makes", MAKES: "makes before it breaks (shorting)"}
"""What a switch does whose timing the file states."""
TIMINGS: dict[str, str] = {NON_SHORTING: BREAKS, SHORTING: MAKES}


@dataclass(frozen=True)
class Transition:
    """The contacts between two positions, and their effect.

    Attributes
    ----------
    positions : tuple of str
        Both positions, in the order of the switch.
    kind : str
        Key of `KINDS`.
    shorted : bool
        Hot and ground are joined.
    heard : tuple of str
        Coils that reach the output.
    hanging : tuple of str
        Coils that hang from a live point by one lead.
    shorted_coils : tuple of str
        Coils of either position's sound that are shorted here and in neither position.
    known : bool
        Whether the file states that the switch is of this kind.
    alone : bool
        Whether no coil outside the sketch can be heard; see `Targets.alone`.
    inside : tuple of str
        Parts of the sketch in the circuit, coils or not.
    """

    positions: tuple[str, str]
    kind: str
    shorted: bool
    heard: tuple[str, ...]
    hanging: tuple[str, ...]
    shorted_coils: tuple[str, ...] = ()
    known: bool = False
    alone: bool = True
    inside: tuple[str, ...] = ()

    @property
    def silent(self) -> bool:
        """Whether nothing is heard; beside other coils, whether it is open."""
        return self.shorted or not (self.heard if self.alone else self.inside)


def find_transitions(wanted: Targets, chart: Chart) -> tuple[Transition, ...]:
    """Return the transitions between neighbouring positions.

    Of a switch whose timing is unknown there are two for each move, one of each kind.
    """
    found = []
    for move in possible_moves(chart.switch):
        for kind, known in kinds_of_move(chart.switch, move):
            groups = contacts_between(chart.switch, move, kind)
            found.append(replace(find_transition(wanted, chart, move, kind, groups), known=known))
    return tuple(found)


def kinds_of_move(switch: Switch, move: tuple[str, str]) -> tuple[tuple[str, bool], ...]:
    """Return the kinds the moving switch may be of, and if that is known."""
    timing = moving_switch(switch, move).timing
    return ((TIMINGS[timing], True),) if timing else tuple((kind, False) for kind in KINDS)


def contacts_between(switch: Switch, move: tuple[str, str], kind: str) -> Groups:
    """Return the groups of lugs that a switch joins during a move."""
    return common_contacts(switch, *move) if kind == BREAKS else combined_contacts(switch, *move)


def find_transition(
    wanted: Targets, chart: Chart, positions: tuple[str, str], kind: str, groups: Groups
) -> Transition:
    """Return what some closed contacts do between two positions.

    Parameters
    ----------
    kind : str
        Key of `KINDS`.
    groups : groups of lugs
        Contacts closed at that moment.
    """
    node, n_nodes = _nodes(wanted, chart, groups)
    if node[HOT_END] == node[COLD_END]:
        return Transition(positions, kind, True, (), (), (), alone=wanted.alone)
    ends = {
        part.name: (node[part.name, part.leads[0]], node[part.name, part.leads[1]]) for part in wanted.parts
    }
    load = (node[HOT_END], node[COLD_END])
    block = find_blocks([*ends.values(), load], n_nodes)
    inside = {name for i, name in enumerate(ends) if block[i] == block[-1]}
    coils = {part.name for part in wanted.parts if part.coil}
    live = {end for name in inside for end in ends[name]} | {load[0]}
    live.discard(load[1])
    trees = Merge(range(n_nodes))
    for name, (a, b) in ends.items():
        if name not in inside:
            trees.join((a, b))
    roots = {trees.root(one) for one in live}
    hanging = tuple(
        name for name, (a, b) in ends.items()
        if name in coils - inside and a != b and trees.root(a) in roots
    )  # fmt: skip
    heard = tuple(name for name in ends if name in inside & coils)
    sounding = {
        name
        for target in wanted.targets
        if target.name in {chart.sounds.get(position) for position in positions}
        for name in names_in(target.expression)
    }
    shorted = [name for name, (a, b) in ends.items() if name in coils & sounding and a == b]
    if shorted:
        shorted = [name for name in shorted if not any(_at_rest(wanted, chart, p, name) for p in positions)]
    stays = tuple(name for name in ends if name in inside)
    return Transition(
        positions, kind, False, heard, hanging, tuple(shorted), alone=wanted.alone, inside=stays
    )


def _at_rest(wanted: Targets, chart: Chart, position: str, coil: str) -> bool:
    """Return whether a coil is shorted in a position."""
    node, _ = _nodes(wanted, chart, chart.switch.contacts[position])
    first, last = next(part.leads for part in wanted.parts if part.name == coil)
    return node[coil, first] == node[coil, last]


def _nodes(wanted: Targets, chart: Chart, groups: Groups) -> tuple[dict[Terminal, int], int]:
    lugs = [(SWITCH, lug) for lug in chart.switch.lugs]
    merge: Merge[Terminal] = Merge([COLD_END, HOT_END, *wanted.leads, *lugs])
    for net in (*chart.nets, *(link.leads for link in wanted.links)):
        merge.join(net)
    for group in groups:
        merge.join((SWITCH, lug) for lug in group)
    classes = merge.classes()
    return {terminal: i for i, members in enumerate(classes) for terminal in members}, len(classes)


def transition_words(found: Sequence[Transition], *, tied: bool = True) -> tuple[str, ...]:
    """Return what the transitions do: a sentence each, per kind of switch.

    Parameters
    ----------
    tied : bool
        Whether the controls tie the output to ground while no coil does so.
    """
    return tuple(
        line
        for kind in KINDS
        for known in (True, False)
        for line in _words(
            f"As this switch {KNOWN[kind]}," if known else f"With {KINDS[kind]}",
            [one for one in found if (one.kind, one.known) == (kind, known)],
            tied=tied,
        )
    )


def silence_text(*, tied: bool, alone: bool = True) -> str:
    """Return what one hears while nothing of the sketch is heard.

    Parameters
    ----------
    tied : bool
        Whether the controls still tie the output to ground.
    alone : bool
        Whether no coil outside the sketch can be heard.
    """
    if not alone:
        return "a moment of the rest of the wiring alone"
    if tied:
        return "a moment of silence, perhaps a click"
    return "the amplifier's input is left open, a loud pop or hum"


def _words(name: str, found: Sequence[Transition], *, tied: bool) -> Iterator[str]:
    alone = all(one.alone for one in found)
    quiet = silence_text(tied=tied, alone=alone)
    shorted = [one for one in found if one.shorted]
    silent = [one for one in found if one.silent and not one.shorted]
    hanging = [one for one in found if one.hanging]
    if shorted and alone:
        yield f"{name} the output is shorted {_between(shorted)}: a moment of silence, perhaps a click."
    elif shorted:
        yield f"{name} the ends of the sketch are joined {_between(shorted)}: a moment of another sound."
    if silent:
        what = "no coil is heard" if alone else "the sketch is open"
        yield f"{name} {what} {_between(silent)}: {quiet}."
    if hanging:
        coils = ", ".join(dict.fromkeys(coil for one in hanging for coil in one.hanging))
        hang = "hang" if ", " in coils else "hangs"
        yield f"{name} {coils} {hang} from a live point by one lead {_between(hanging)}: a short buzz or pop."
    coil_short = [one for one in found if one.shorted_coils]
    if coil_short:
        coils = ", ".join(dict.fromkeys(coil for one in coil_short for coil in one.shorted_coils))
        are = "are" if ", " in coils else "is"
        yield f"{name} {coils} {are} shorted {_between(coil_short)}: a moment of another sound."
    if found and not (shorted or silent or hanging or coil_short):
        what = "some coil is heard" if alone else "some part of the sketch stays in the circuit"
        yield f"{name} {what} all the way and none hangs from a live point."


def _between(found: Sequence[Transition]) -> str:
    return "between " + ", ".join(" and ".join(one.positions) for one in found)
