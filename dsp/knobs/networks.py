"""Networks for a knob: capacitors, chokes, a second coil, each with the change that makes it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise, product

from dsp.knobs.place import PotPlace, pot_place
from dsp.parts.choke import Inductor
from dsp.parts.expression import names_in
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import VariablePart, kind_of, new_part, parts_of
from dsp.units.preferred import SERIES
from dsp.wiring.change import Change, free_name
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import merge_terminals

CAPACITOR, DAMPED, CHOKE, RESONANT = "capacitor", "capacitor and resistor", "choke", "choke and capacitor"
BESIDE, IN_LINE = "second coil in parallel", "second coil in series"
KINDS: dict[str, str] = {
    CAPACITOR: "a capacitor to ground, the usual tone control",
    DAMPED: "a capacitor and a resistor in line: less is taken away at the bottom",
    CHOKE: "a choke: takes the bass",
    RESONANT: "a choke and a capacitor in line: takes a band out of the middle",
    BESIDE: "a second coil faded in beside what sounds",
    IN_LINE: "a coil of those in series faded in from nothing",
}
"""Kinds of network, and what each does."""

CHOKE_OHM_PER_H = 60.0
"""Winding resistance of a choke where the wiring has none to go by: invented, within what is met."""


def preferred_values(series: str, low: float, high: float) -> tuple[float, ...]:
    """Values of a preferred series from low to high, both counted in.

    Parameters
    ----------
    series : str
        Such as ``E6``.
    low, high : float
        In any unit.
    """
    values = (float(f"{value}e{decade}") for decade in range(-13, 8) for value in SERIES[series])
    return tuple(value for value in values if low * (1 - 1e-9) <= value <= high * (1 + 1e-9))


CAPACITORS_F = preferred_values("E12", 1e-9, 100e-9)
SOME_CAPACITORS_F = preferred_values("E6", 1e-9, 100e-9)
RESISTORS_OHM = preferred_values("E3", 1e3, 47e3)
CHOKES_H = preferred_values("E6", 0.33, 4.7)


@dataclass(frozen=True)
class NetworkVariant:
    """A network for a knob, and the change of the wiring that makes it.

    Attributes
    ----------
    kind : str
        Key of `KINDS`.
    text : str
        The network in words, such as ``choke 1 H in line with 10 nF``.
    rising : bool
        Whether the knob's resistance in use rises with its setting.
    """

    kind: str
    text: str
    change: Change
    rising: bool


def network_variants(wiring: Wiring, setting: Setting, knob: str) -> Iterator[NetworkVariant]:
    """Every network to be tried on a knob.

    Parameters
    ----------
    setting : Setting
        Coils that are silent in it may be faded in.
    knob : str
        A pot that is a variable resistor between two joints; for another nothing comes.
    """
    stand = pot_place(wiring, knob)
    if stand is None or not _turns(stand):
        return
    yield from (_in_line(wiring, stand, kind, values) for kind, values in _values(wiring))
    yield from _beside(wiring, setting, stand)
    yield from _coils_in_line(wiring, setting, stand)


def _turns(stand: PotPlace) -> bool:
    """Whether turning the knob changes one resistance, up or down all the way."""
    return any("2" in lugs for lugs in stand.lugs) and ("1", "3") not in stand.lugs


def _values(wiring: Wiring) -> Iterator[tuple[str, tuple[Part, ...]]]:
    own = [part for part in parts_of(wiring.parts, Inductor).values() if part.inductance_h]
    ohm_per_h = own[0].resistance_ohm / own[0].inductance_h if own else CHOKE_OHM_PER_H
    chokes = [Inductor(henry, float(f"{henry * ohm_per_h:.3g}")) for henry in CHOKES_H]
    yield from ((CAPACITOR, (_capacitor(farad),)) for farad in CAPACITORS_F)
    for farad, ohm in product(SOME_CAPACITORS_F, RESISTORS_OHM):
        yield DAMPED, (new_part("resistor", resistance=ohm), _capacitor(farad))
    yield from ((CHOKE, (choke,)) for choke in chokes)
    for choke, farad in product(chokes, SOME_CAPACITORS_F):
        yield RESONANT, (choke, _capacitor(farad))


def _capacitor(farad: float) -> Part:
    return new_part("capacitor", capacitance=farad)


_WORDS = {"capacitor": "cap", "resistor": "resistor", "inductor": "choke"}
"""Per kind of part, what its name ends in."""


def _in_line(wiring: Wiring, stand: PotPlace, kind: str, values: tuple[Part, ...]) -> NetworkVariant:
    """Parts in line with the knob, in place of its present ones."""
    names = _names(wiring, stand, values)
    near, far = (tuple((stand.knob, lug) for lug in side) for side in stand.lugs)
    between = [((a, "b"), (b, "a")) for a, b in pairwise(names)]
    change = Change(
        removed=tuple(name for name in stand.line if name not in names),
        parts=dict(zip(names, values, strict=True)),
        unsolder=_loose(stand, names),
        solder=(*((lug, stand.ends[0]) for lug in near), ((names[-1], "b"), stand.ends[1])),
        joints=((*far, (names[0], "a")), *between),
    )
    text = " in line with ".join(_part_words(value) for value in values)
    return NetworkVariant(kind, text, change, _rising(stand))


def _part_words(part: Part) -> str:
    kind = kind_of(part)
    return f"choke {kind.value_text(part)}" if kind.name == "inductor" else kind.value_text(part)


def _names(wiring: Wiring, stand: PotPlace, values: tuple[Part, ...]) -> list[str]:
    """Names of the new parts: those of the present ones of the same kind where there are."""
    free = list(stand.line)
    names = []
    for value in values:
        same = next((name for name in free if kind_of(wiring.parts[name]) is kind_of(value)), None)
        if same is not None:
            free.remove(same)
        names.append(same or free_name(wiring, f"{stand.knob}_{_WORDS[kind_of(value).name]}"))
    return names


def _loose(stand: PotPlace, kept: list[str]) -> tuple[Terminal, ...]:
    """The knob's lugs and the leads of the parts in line, to be soldered anew."""
    lugs = [(stand.knob, lug) for side in stand.lugs for lug in side]
    return (*lugs, *((name, lead) for name in stand.line if name in kept for lead in ("a", "b")))


def _rising(stand: PotPlace) -> bool:
    """Between lugs 1 and 2 the resistance rises with the knob, between 2 and 3 it falls."""
    return ("1",) in stand.lugs


# --- a second coil


def _beside(wiring: Wiring, setting: Setting, stand: PotPlace) -> Iterator[NetworkVariant]:
    """Silent coils faded in beside what sounds: full on at 10, behind the whole track at 0."""
    merge = merge_terminals(wiring, setting)
    sleeve = merge.root((wiring.jack, "sleeve"))
    sketched = _sketched(wiring)
    seen = {sleeve, merge.root(stand.ends[0])}
    for name in wiring.coils:
        if name in sketched:
            continue  # the sketch places its leads
        for lead, other in (("start", "finish"), ("finish", "start")):
            node = merge.root((name, lead))
            if node in seen:
                continue
            free = merge.root((name, other)) not in seen and _alone(wiring, (name, other))
            if not free:
                seen.add(node)
            solder: tuple[tuple[Terminal, Terminal], ...] = (((stand.knob, "2"), stand.ends[0]),)
            solder += (((name, other), (wiring.jack, "sleeve")),) if free else ()
            change = Change(
                removed=stand.line,
                unsolder=tuple((stand.knob, lug) for side in stand.lugs for lug in side),
                solder=(*solder, ((stand.knob, "3"), (name, lead))),
            )
            yield NetworkVariant(BESIDE, f"from {name}.{lead}", change, rising=False)


def _coils_in_line(wiring: Wiring, setting: Setting, stand: PotPlace) -> Iterator[NetworkVariant]:
    """A coil bridged by the knob: shorted at 0, behind the whole track at 10."""
    merge = merge_terminals(wiring, setting)
    sketched = _sketched(wiring)
    for name in wiring.coils:
        if name in sketched or merge.same((name, "start"), (name, "finish")):
            continue
        change = Change(
            removed=stand.line,
            unsolder=tuple((stand.knob, lug) for side in stand.lugs for lug in side),
            solder=(((stand.knob, "2"), (name, "start")), ((stand.knob, "1"), (name, "finish"))),
        )
        yield NetworkVariant(IN_LINE, f"across {name}", change, rising=True)


def _sketched(wiring: Wiring) -> set[str]:
    """Coils whose leads a sketch places."""
    expressions = wiring.sketch.positions.values() if wiring.sketch else ()
    return {name for expression in expressions for name in names_in(expression)}


def _alone(wiring: Wiring, terminal: Terminal) -> bool:
    return not any(terminal in joint.terminals for joint in wiring.joints)


def replace_pot(wiring: Wiring, knob: str, pot: VariablePart) -> Wiring:
    """The wiring with another pot in a knob's place."""
    parts: dict[str, Part] = {**wiring.parts, knob: pot}
    return replace(wiring, parts=parts)
