"""What happens between two positions when the poles of a switch do not move together.

A pole leaves its contacts, moves, and arrives. No two poles do so at exactly the same moment. This
module examines every order: each moving pole is before, between or after, independently of the
others. Between positions a pole that breaks first keeps only the contacts of both positions. A
pole that makes first closes the contacts of either.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from dsp.lugs.between import (
    KINDS,
    KNOWN,
    Transition,
    contacts_between,
    find_transition,
    kinds_of_move,
    silence_text,
)
from dsp.lugs.chart import Chart, poles_of
from dsp.lugs.targets import Targets
from dsp.lugs.two_switches import lug_name, possible_moves
from dsp.parts.switch import Groups, Switch

MOST_STATES = 729
"""All orders of up to six poles. With more, only one pole at a time is early or late."""
SHORT, SILENT, HANGS, COIL_SHORT = "shorted", "silent", "hanging", "coil shorted"


@dataclass(frozen=True)
class UnevenEvent:
    """Something that happens only when poles do not move together.

    Attributes
    ----------
    positions : tuple of str
        Both positions of the move.
    kind : str
        Key of `KINDS`.
    what : str
        ``shorted`` (the output), ``silent``, ``hanging`` or ``coil shorted``.
    coil : str
        The coil concerned, or empty.
    early, late : tuple of str
        First lugs of the fewest poles that must be ahead of the others, or behind.
    known : bool
        Whether the file states that the switch is of this kind.
    alone : bool
        Whether no coil outside the sketch can be heard.
    """

    positions: tuple[str, str]
    kind: str
    what: str
    coil: str = ""
    early: tuple[str, ...] = ()
    late: tuple[str, ...] = ()
    known: bool = False
    alone: bool = True


def find_uneven(wanted: Targets, chart: Chart) -> tuple[UnevenEvent, ...]:
    """Return the events that happen only when poles are out of step."""
    return tuple(
        one
        for move in possible_moves(chart.switch)
        for kind, known in kinds_of_move(chart.switch, move)
        for one in _of_move(wanted, chart, move, kind, known=known)
    )


_Event = tuple[str, str]
_State = tuple[int, ...]


def _of_move(
    wanted: Targets, chart: Chart, move: tuple[str, str], kind: str, *, known: bool
) -> Iterator[UnevenEvent]:
    moving, still = _poles(chart, move)
    stages = [_stages(chart.switch, move, kind, pole) for pole in moving]

    def events(state: _State) -> set[_Event]:
        groups = [
            *still,
            *(group for stage, table in zip(state, stages, strict=True) for group in table[stage]),
        ]
        return _events(find_transition(wanted, chart, move, kind, tuple(groups)))

    together = set[_Event]().union(*(events((stage,) * len(moving)) for stage in (0, 1, 2)))
    simplest: dict[_Event, _State] = {}
    for state in sorted(_states(len(moving)), key=_out_of_step):
        for event in events(state) - together - set(simplest):
            simplest[event] = state
    for (what, coil), state in simplest.items():
        usual = _usual(state)
        names = [lug_name(chart.switch, pole[0]) for pole in moving]
        early = tuple(name for name, stage in zip(names, state, strict=True) if stage > usual)
        late = tuple(name for name, stage in zip(names, state, strict=True) if stage < usual)
        yield UnevenEvent(move, kind, what, coil, early, late, known, wanted.alone)


def _poles(chart: Chart, move: tuple[str, str]) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Return the used poles that the move changes, and the groups of others."""
    first, second = (chart.switch.contacts[position] for position in move)
    used = set(chart.lugs)
    moving: list[tuple[str, ...]] = []
    still: list[tuple[str, ...]] = []
    for pole in poles_of(chart.switch):
        mine, after = (_within(table, pole) for table in (first, second))
        if set(map(frozenset, mine)) != set(map(frozenset, after)) and used & set(pole):
            moving.append(pole)
        else:
            still += mine
    return moving, still


def _within(groups: Groups, pole: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    return tuple(group for group in groups if group[0] in pole)


def _stages(switch: Switch, move: tuple[str, str], kind: str, pole: tuple[str, ...]) -> tuple[Groups, ...]:
    """Return what a pole joins before, between and after."""
    before, behind = (_within(switch.contacts[position], pole) for position in move)
    return before, _within(contacts_between(switch, move, kind), pole), behind


def _states(n: int) -> Iterator[_State]:
    """Yield the stages of n poles; of many, at most one pole out of step."""
    if 3**n <= MOST_STATES:
        yield from product(range(3), repeat=n)
        return
    for usual, other in product(range(3), repeat=2):
        for i in range(n):
            yield tuple(other if k == i else usual for k in range(n))


def _usual(state: _State) -> int:
    """Return the stage of most poles, the latest of several."""
    return max(range(3), key=lambda stage: (state.count(stage), stage))


def _out_of_step(state: _State) -> int:
    return len(state) - state.count(_usual(state)) if state else 0


def _events(found: Transition) -> set[_Event]:
    events = {(HANGS, coil) for coil in found.hanging} | {(COIL_SHORT, coil) for coil in found.shorted_coils}
    if found.shorted:
        events.add((SHORT, ""))
    elif found.silent:
        events.add((SILENT, ""))
    return events


_WORDS = {
    SHORT: "the output may be shorted",
    SILENT: "no coil may be heard",
    HANGS: "{coils} may hang from a live point by one lead",
    COIL_SHORT: "{coils} may be shorted",
}
_BESIDE = {SHORT: "the ends of the sketch may be joined", SILENT: "the sketch may be open"}
"""Of a sketch beside other coils."""
_MEANS = {
    SHORT: "a moment of silence, perhaps a click",
    HANGS: "a short buzz or pop",
    COIL_SHORT: "a moment of another sound",
}


def uneven_words(found: Sequence[UnevenEvent], *, tied: bool = True) -> tuple[str, ...]:
    """Return what poles out of step may do, a sentence each.

    Parameters
    ----------
    tied : bool
        Whether the controls tie the output to ground while no coil does so.
    """
    return tuple(_sentences(found, tied=tied))


def _sentences(found: Sequence[UnevenEvent], *, tied: bool) -> Iterator[str]:
    for kind, known, (what, words) in product(KINDS, (True, False), _WORDS.items()):
        name = f"this switch, which {KNOWN[kind]} and" if known else KINDS[kind]
        mine = [one for one in found if (one.kind, one.known, one.what) == (kind, known, what)]
        if not mine:
            continue
        coils = ", ".join(dict.fromkeys(one.coil for one in mine if one.coil))
        alone = all(one.alone for one in mine)
        means = silence_text(tied=tied, alone=alone) if what == SILENT else _MEANS[what]
        if what == SHORT and not alone:
            means = _MEANS[COIL_SHORT]
        where = ", ".join(dict.fromkeys(map(_where, mine)))
        does = (words if alone else _BESIDE.get(what, words)).format(coils=coils)
        yield f"With {name} whose poles move one after another {does} {where}: {means}."


def _where(one: UnevenEvent) -> str:
    poles = [f"{name} early" for name in one.early] + [f"{name} late" for name in one.late]
    return f"between {' and '.join(one.positions)} (pole of {', '.join(poles)})"
