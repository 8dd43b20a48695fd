"""Networks for a knob: capacitors, chokes, a second coil. Each has the change that adds it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product

from dsp.knobs.place import PotPlace, knob_places
from dsp.parts.choke import Inductor
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import VariablePart, kind_of, new_part, parts_of
from dsp.units.preferred import SERIES
from dsp.wiring.change import Change, free_name, join_changes
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
"""Kinds of network, with their effects."""

CHOKE_OHM_PER_H = 60.0
"""Winding resistance of a choke if the wiring has no inductor to copy: invented, within the usual range."""


def preferred_values(series: str, low: float, high: float) -> tuple[float, ...]:
    """Return the values of a preferred series from low to high, inclusive.

    Parameters
    ----------
    series : str
        Name of the series, such as ``E6``.
    low, high : float
        Limits in any unit.
    """
    values = (float(f"{value}e{decade}") for decade in range(-13, 8) for value in SERIES[series])
    return tuple(value for value in values if low * (1 - 1e-9) <= value <= high * (1 + 1e-9))


CAPACITORS_F = preferred_values("E12", 1e-9, 100e-9)
SOME_CAPACITORS_F = preferred_values("E6", 1e-9, 100e-9)
RESISTORS_OHM = preferred_values("E3", 1e3, 47e3)
CHOKES_H = preferred_values("E6", 0.33, 4.7)


@dataclass(frozen=True)
class NetworkVariant:
    """A network for a knob, and the change of the wiring that adds it.

    Attributes
    ----------
    kind : str
        Key of `KINDS`.
    text : str
        The network as text, such as ``choke 1 H in line with 10 nF``.
    rising : bool
        Whether the knob's resistance in use rises with its value.
    only : str
        The one position that it acts in; empty for all.
    by : str
        What confines it: an expression, or lugs of a switch.
    fades : tuple of (str, int)
        A coil that the knob fades in, and 1 if its start is towards hot, -1 if its finish is.
    """

    kind: str
    text: str
    change: Change
    rising: bool
    only: str = ""
    by: str = ""
    fades: tuple[str, int] | tuple[()] = ()


def network_variants(wiring: Wiring, setting: Setting, knob: str) -> Iterator[NetworkVariant]:
    """Yield every network to try on a knob.

    Parameters
    ----------
    setting : Setting
        Coils silent in this setting may be faded in.
    knob : str
        It yields nothing unless each of its tracks is a variable resistor between two joints. A knob
        of several tracks gets the same values on each, and no second coil.
    """
    stands = knob_places(wiring, knob)
    if not stands or not all(map(is_variable, stands)):
        return
    stand = stands[0]
    if len(stands) > 1:
        if len({is_rising(one) for one in stands}) == 1:
            yield from (_on_each(wiring, stands, kind, values) for kind, values in network_values(wiring))
        return
    yield from (in_line_variant(wiring, stand, kind, values) for kind, values in network_values(wiring))
    yield from _beside(wiring, setting, stand)
    yield from _coils_in_line(wiring, setting, stand)


def is_variable(stand: PotPlace) -> bool:
    """Return whether the knob changes one resistance steadily, up or down."""
    return any("2" in lugs for lugs in stand.lugs) and ("1", "3") not in stand.lugs


def network_values(wiring: Wiring) -> Iterator[tuple[str, tuple[Part, ...]]]:
    """Yield every network to ground: its kind and its parts in line."""
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
"""Last word of a new part's name, by kind."""


def in_line_variant(wiring: Wiring, stand: PotPlace, kind: str, values: tuple[Part, ...]) -> NetworkVariant:
    """Return a network in line with the knob, in place of the present one."""
    names = names_for(wiring, stand, values)
    near, far = (tuple((stand.knob, lug) for lug in side) for side in stand.lugs)
    between = [((a, "b"), (b, "a")) for a, b in pairwise(names)]
    last = ((names[-1], "b"),) if names else far
    change = Change(
        removed=tuple(name for name in stand.line if name not in names),
        parts=dict(zip(names, values, strict=True)),
        unsolder=_loose(stand, names),
        solder=(*((lug, stand.ends[0]) for lug in near), *((one, stand.ends[1]) for one in last)),
        joints=((*far, (names[0], "a")), *between) if names else (),
    )
    text = " in line with ".join(part_text(value) for value in values) or "the knob alone"
    return NetworkVariant(kind, text, change, is_rising(stand))


def _on_each(
    wiring: Wiring, stands: Sequence[PotPlace], kind: str, values: tuple[Part, ...]
) -> NetworkVariant:
    """Return one network on every track of a shaft."""
    each = [in_line_variant(wiring, stand, kind, values) for stand in stands]
    change = join_changes([one.change for one in each])
    return NetworkVariant(kind, f"{each[0].text} on each track", change, each[0].rising)


def part_text(part: Part) -> str:
    """Return a part's value as text, a choke by its name."""
    kind = kind_of(part)
    return f"choke {kind.value_text(part)}" if kind.name == "inductor" else kind.value_text(part)


def names_for(wiring: Wiring, stand: PotPlace, values: tuple[Part, ...]) -> list[str]:
    """Return the names of the new parts.

    A new part takes the name of a present part of the same kind if one is left.
    """
    free = list(stand.line)
    names = []
    for value in values:
        same = next((name for name in free if kind_of(wiring.parts[name]) is kind_of(value)), None)
        if same is not None:
            free.remove(same)
        names.append(same or free_name(wiring, f"{stand.knob}_{_WORDS[kind_of(value).name]}"))
    return names


def _loose(stand: PotPlace, kept: list[str]) -> tuple[Terminal, ...]:
    """Return the knob's lugs and the leads of kept parts, to unsolder."""
    lugs = [(stand.knob, lug) for side in stand.lugs for lug in side]
    return (*lugs, *((name, lead) for name in stand.line if name in kept for lead in ("a", "b")))


def is_rising(stand: PotPlace) -> bool:
    """Return whether the resistance in use rises with the knob.

    It rises between lugs 1 and 2 and falls between 2 and 3.
    """
    return ("1",) in stand.lugs


# --- a second coil


def _beside(wiring: Wiring, setting: Setting, stand: PotPlace) -> Iterator[NetworkVariant]:
    """Yield networks that fade in a silent coil beside the sounding ones.

    The coil is fully in at 10. At 0 the whole track is in series with it.
    """
    yield from (
        _beside_through(wiring, stand, *place, None) for place in _silent_ends(wiring, setting, stand)
    )


def coils_through_capacitors(
    wiring: Wiring, setting: Setting, stand: PotPlace, farads: Sequence[float]
) -> Iterator[NetworkVariant]:
    """Yield networks that fade in a coil through a capacitor of its own."""
    for place in _silent_ends(wiring, setting, stand):
        yield from (_beside_through(wiring, stand, *place, farad) for farad in farads)


def _silent_ends(
    wiring: Wiring, setting: Setting, stand: PotPlace
) -> Iterator[tuple[Terminal, tuple[Terminal, ...]]]:
    """Yield each lead to fade in and, if it is free, the lead to ground."""
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
            yield (name, lead), (((name, other),) if free else ())


def _beside_through(
    wiring: Wiring, stand: PotPlace, lead: Terminal, to_ground: tuple[Terminal, ...], farad: float | None
) -> NetworkVariant:
    values = () if farad is None else (_capacitor(farad),)
    names = names_for(wiring, replace(stand, line=()), values)
    solder: tuple[tuple[Terminal, Terminal], ...] = (((stand.knob, "2"), stand.ends[0]),)
    solder += tuple((one, (wiring.jack, "sleeve")) for one in to_ground)
    solder += (((names[0], "b"), lead),) if names else (((stand.knob, "3"), lead),)
    change = Change(
        removed=stand.line,
        parts=dict(zip(names, values, strict=True)),
        unsolder=tuple((stand.knob, lug) for side in stand.lugs for lug in side),
        solder=solder,
        joints=(((stand.knob, "3"), (names[0], "a")),) if names else (),
    )
    text = f"from {'.'.join(lead)}" + (f" through {part_text(values[0])}" if values else "")
    fades = lead[0], 1 if lead[1] == "start" else -1
    return NetworkVariant(BESIDE, text, change, rising=False, fades=fades)


def _coils_in_line(wiring: Wiring, setting: Setting, stand: PotPlace) -> Iterator[NetworkVariant]:
    """Yield networks that bridge a coil with the knob.

    The coil is shorted at 0. At 10 the whole track bridges it.
    """
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
    """Return the coils whose leads a sketch places."""
    return set(wiring.placed)


def _alone(wiring: Wiring, terminal: Terminal) -> bool:
    return not any(terminal in joint.terminals for joint in wiring.joints)


def replace_pot(wiring: Wiring, knob: str, pot: VariablePart) -> Wiring:
    """Return the wiring with another pot in place of each of a knob's tracks."""
    others: dict[str, Part] = dict.fromkeys(wiring.knobs[knob], pot)
    return replace(wiring, parts={**wiring.parts, **others})
