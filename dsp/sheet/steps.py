"""The wires of a wiring in the order one solders them, each with a length to cut.

A file knows where coils stand and nothing of the cavity. A coil's lead is therefore reckoned from its
place; all other lengths are the defaults of `LENGTHS_MM`, our own, long enough for most instruments.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from dsp.parts.jack import SLEEVE
from dsp.parts.kind import Terminal
from dsp.parts.kinds import is_passive, is_sensing, kind_of, plugged_of, pots_of, switches_of
from dsp.parts.metal import STRINGS
from dsp.wiring.model import Joint, Wiring
from dsp.wiring.union import Merge

TIE, TWIST, SPLICE = "tie", "twist", "splice"
"""Runs that are more than a wire: a bare tie, leads twisted together, a sleeved splice."""
RUN_WORDS = {TIE: "bare tie", TWIST: "twisted together", SPLICE: "spliced, sleeved"}

BENCH, LEGS, POTS, CONTROLS, LEADS, JACK, GROUND, METAL = (
    "bench", "legs", "pots", "controls", "leads", "jack", "ground", "metal",
)  # fmt: skip
STAGES: dict[str, str] = {
    BENCH: "On the bench: tie lugs of a switch with bare wire",
    LEGS: "Legs of capacitors, resistors and chokes",
    POTS: "From pot to pot",
    CONTROLS: "Between the switches and the other controls",
    LEADS: "Leads of the pickups",
    JACK: "The jack",
    GROUND: "Ground",
    METAL: "Strings, bridge and shields to ground",
}
"""What is soldered together, in order of work."""

LENGTHS_MM: dict[str, int] = {
    BENCH: 15, LEGS: 25, POTS: 120, CONTROLS: 150, LEADS: 300, JACK: 250, GROUND: 120, METAL: 300,
}  # fmt: skip
"""Length of a wire of each stage where no place is known."""
SAME_PART_MM = 30
TWIST_MM = 20
BEYOND_BRIDGE_MM = 150
"""From the bridge to the controls, added to a coil's place."""
STRIPPING_MM = 60
"""Both ends of a wire from coil to coil, added to their distance."""
STRINGS_TEXT = "Strings and bridge to the sleeve of the jack; the wiring file does not show it"
CASINGS_TEXT = "Metal casings of {} to ground; the wiring file does not show it"


@dataclass(frozen=True)
class Wire:
    """A wire from lug to lug, and how it runs."""

    first: Terminal
    last: Terminal
    run: str


@dataclass(frozen=True)
class Step:
    """One thing to do.

    Attributes
    ----------
    number : int
        From 1.
    key : str
        Stays the same when other steps come or go; for ticks.
    stage : str
        Key of `STAGES`.
    wire : Wire or None
        None where the wiring file has no joint for it.
    length_mm : int
        Length to cut.
    from_place : bool
        Whether the length follows from a coil's place; else it is a default.
    """

    number: int
    key: str
    stage: str
    text: str
    wire: Wire | None
    length_mm: int
    from_place: bool


def order_steps(wiring: Wiring, wires: Iterable[Wire]) -> tuple[Step, ...]:
    """Return the steps of soldering some wires, in order of work."""
    ground = ground_of(wiring)
    stages = list(STAGES)
    sorted_wires = sorted(wires, key=lambda wire: stages.index(_stage(wiring, wire, ground)))
    steps: list[Step] = []
    for wire in sorted_wires:
        length_mm, from_place = _length(wiring, wire, _stage(wiring, wire, ground))
        text = " to ".join(map(words_of, _leads_first(wiring, wire)))
        if wire.run in RUN_WORDS:
            text += f", {RUN_WORDS[wire.run]}"
        if values := _values(wiring, wire):
            text += f", {values}"
        key = "~".join(".".join(end) for end in (wire.first, wire.last))
        stage = _stage(wiring, wire, ground)
        steps.append(Step(len(steps) + 1, key, stage, text, wire, length_mm, from_place))
    for key, text in _not_in_file(wiring):
        steps.append(Step(len(steps) + 1, key, METAL, text, None, LENGTHS_MM[METAL], False))
    return tuple(steps)


def whole_joints(wiring: Wiring) -> Wiring:
    """Return a wiring whose joints share no terminal.

    A file may write one joint in pieces. Soldered they are one, and one tree of wires.
    """
    merge = Merge(terminal for joint in wiring.joints for terminal in joint.terminals)
    for joint in wiring.joints:
        merge.join(joint.terminals)
    return replace(wiring, joints=tuple(Joint(tuple(group)) for group in merge.classes()))


def words_of(terminal: Terminal) -> str:
    """Return a terminal in words, such as ``volume 3``."""
    return " ".join(terminal)


def ground_of(wiring: Wiring) -> frozenset[Terminal]:
    """Return the terminals soldered to the sleeve of the output."""
    sleeve = (wiring.jack, SLEEVE)
    return next((frozenset(one.terminals) for one in wiring.joints if sleeve in one.terminals), frozenset())


def _leads_first(wiring: Wiring, wire: Wire) -> list[Terminal]:
    """Return both ends; a lead that is soldered on comes before the lug that it goes to."""

    def is_lug(end: Terminal) -> bool:
        part = wiring.parts[end[0]]
        return not (is_sensing(part) or is_passive(part))

    return sorted((wire.first, wire.last), key=is_lug)


def _values(wiring: Wiring, wire: Wire) -> str:
    """Return the values of the small parts whose legs are soldered."""
    parts = {name: wiring.parts[name] for name, _ in (wire.first, wire.last)}
    return " and ".join(kind_of(part).value_text(part) for part in parts.values() if is_passive(part))


def _stage(wiring: Wiring, wire: Wire, ground: frozenset[Terminal]) -> str:
    parts = [wiring.parts[name] for name, _ in (wire.first, wire.last)]
    kinds = {kind_of(part).name for part in parts}
    if "metal" in kinds:
        return METAL
    if wire.run == TIE:
        return BENCH
    if any(map(is_passive, parts)) or "transformer" in kinds:
        return LEGS
    if wire.first in ground:
        return GROUND
    if any(map(is_sensing, parts)):
        return LEADS
    if any(map(plugged_of, parts)):
        return JACK
    return POTS if kinds == {"pot"} else CONTROLS


def _length(wiring: Wiring, wire: Wire, stage: str) -> tuple[int, bool]:
    names = [wire.first[0], wire.last[0]]
    coils = [wiring.coils[name] for name in names if name in wiring.coils]
    places = [1000.0 * coil.at_m for coil in coils if coil.at_m is not None]
    if wire.run == TWIST:
        return TWIST_MM, False
    if wire.run != TIE and names[0] == names[1]:
        return SAME_PART_MM, False
    if stage in (LEADS, GROUND) and places and len(places) == len(coils):
        apart = abs(places[0] - places[-1]) + STRIPPING_MM
        needed = apart if len(places) > 1 else places[0] + BEYOND_BRIDGE_MM
        return 10 * ceil(needed / 10.0 - 1e-9), True
    if coils and stage == GROUND:
        return LENGTHS_MM[LEADS], False
    return LENGTHS_MM[stage], False


def _not_in_file(wiring: Wiring) -> Iterator[tuple[str, str]]:
    """Yield what a builder grounds although the wiring does not show it."""
    metals = [part for part in wiring.parts.values() if kind_of(part).name == "metal"]
    if not any(getattr(part, "of", "") == "casing" for part in metals):
        controls = [*pots_of(wiring.parts), *switches_of(wiring.parts)]
        if controls:
            yield "casings", CASINGS_TEXT.format(_listed(controls))
    if not any(getattr(part, "of", "") == STRINGS for part in metals):
        yield "strings", STRINGS_TEXT


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
