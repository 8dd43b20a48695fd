"""Networks for a knob with a goal: in every position, or in one alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product

from dsp.knobs.gates import Gate, find_gates
from dsp.knobs.networks import (
    KINDS,
    NetworkVariant,
    coils_through_capacitors,
    in_line_variant,
    is_rising,
    is_variable,
    names_for,
    network_values,
    network_variants,
    part_text,
    preferred_values,
)
from dsp.knobs.place import PotPlace, merge_joints, pot_place
from dsp.knobs.tracks import ACROSS_OHM
from dsp.parts.expression import Expression, Group, Leaf, format_expression, names_in
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import is_sensing, kind_of, new_part, plugged_of, positioned_of
from dsp.wiring.change import Change, free_name
from dsp.wiring.model import Setting, Wiring

BRIDGED, PAD, LEAK = "capacitor in series", "knob in series", "resistor to ground"
ANOTHER_POT, BENT = "another pot", "resistor from a lug to the wiper"
FADED, OPPOSED = "second coil faded in", "second coil against the first"
GOAL_KINDS: dict[str, str] = {
    **KINDS,
    BRIDGED: "a capacitor in series with the sound, bridged by the knob",
    PAD: "the knob in series with the sound: softer, and less treble",
    LEAK: "the knob, with a resistor or alone, to ground: softer",
    ANOTHER_POT: "a volume of another taper or resistance",
    BENT: "a resistor across a part of a volume's track bends its taper",
    FADED: "a second coil faded in, alone or through its own capacitor",
    OPPOSED: "a second coil out of phase faded in, alone or with its own bass cut",
}
"""Kinds of network that a goal is searched among, with their effects."""
BRIDGED_F = preferred_values("E12", 47e-12, 22e-9)
FADED_F = preferred_values("E6", 470e-12, 100e-9)
LEAKS_OHM = preferred_values("E6", 1e3, 220e3)


def goal_networks(wiring: Wiring, setting: Setting, knob: str) -> Iterator[NetworkVariant]:
    """Yield every network that a goal is searched among.

    Parameters
    ----------
    setting : Setting
        Its position is the one that a network may be confined to.
    knob : str
        It yields nothing unless this is a variable resistor between two joints.
    """
    stand = pot_place(wiring, knob)
    if stand is None or not is_variable(stand) or len(wiring.knobs[knob]) > 1:
        return
    shunts = [*network_values(wiring), (LEAK, ())]
    shunts += [(LEAK, (new_part("resistor", resistance=ohm),)) for ohm in LEAKS_OHM]
    yield from network_variants(wiring, setting, knob)
    for kind, values in shunts:
        if kind == LEAK:
            yield in_line_variant(wiring, stand, kind, values)
    yield from coils_through_capacitors(wiring, setting, stand, FADED_F)
    yield from _in_series(wiring, stand, None)
    if len(wiring.positions) < 2:
        return
    if wiring.sketch is not None:
        yield from _in_sketch(wiring, setting, stand, shunts)
        return
    gates = find_gates(wiring, setting.position)
    for gate in [gate for gate in gates if gate.on][:1]:
        yield from _to_ground_by_gate(wiring, stand, shunts, gate)
    for gate in [gate for gate in gates if gate.off][:1]:
        yield from _in_series(wiring, stand, gate)


def volume_networks(wiring: Wiring, knob: str) -> Iterator[NetworkVariant]:
    """Yield a volume alone, then with a resistor from a lug to its wiper."""
    yield NetworkVariant(ANOTHER_POT, "the pot alone", Change(), rising=True)
    name = free_name(wiring, f"{knob}_taper_resistor")
    for lug, ohm in product(("1", "3"), ACROSS_OHM):
        part = new_part("resistor", resistance=ohm)
        solder = (((name, "a"), (knob, lug)), ((name, "b"), (knob, "2")))
        text = f"{part_text(part)} from lug {lug} to the wiper"
        yield NetworkVariant(BENT, text, Change(parts={name: part}, solder=solder), rising=True)


# --- in series with the sound


@dataclass(frozen=True)
class _Cut:
    """The joint between what sounds and the controls, and its terminals on either side."""

    source: tuple[Terminal, ...]
    controls: tuple[Terminal, ...]


def _cut(wiring: Wiring, stand: PotPlace) -> _Cut | None:
    """Return where the sound reaches the controls; None if that is not one joint.

    The knob's own joint comes first; without coils or contacts in it, the only such joint.
    """
    merge = merge_joints(wiring)
    sleeve = merge.root((wiring.jack, "sleeve"))
    own = merge.root(stand.ends[0])
    found: dict[Terminal, _Cut] = {}
    for net in merge.classes():
        root = merge.root(net[0])
        if root == sleeve:
            continue
        rest = [t for t in net if t[0] != stand.knob and t[0] not in stand.line]
        source = tuple(t for t in rest if _sounds(wiring.parts[t[0]]))
        soldered = {t for joint in wiring.joints for t in joint.terminals}
        controls = tuple(t for t in rest if t not in source and t in soldered)
        if source and controls:
            found[root] = _Cut(source, controls)
    if own in found:
        return found[own]
    return next(iter(found.values())) if len(found) == 1 else None


def _sounds(part: Part) -> bool:
    return is_sensing(part) or (positioned_of(part) is not None and plugged_of(part) is None)


def _in_series(wiring: Wiring, stand: PotPlace, gate: Gate | None) -> Iterator[NetworkVariant]:
    """Yield networks between what sounds and the controls.

    The knob bridges them at 10, so that the sound there is today's without its tone control.
    """
    cut = _cut(wiring, stand)
    if cut is None:
        return
    knob = stand.knob
    kept = tuple(lug for side in stand.lugs for lug in side)
    for farad in (*BRIDGED_F, None):
        values = _capacitors(farad)
        names = names_for(wiring, stand, values)
        near, far = [(knob, "2")], [(knob, "3")]
        for name in names:
            near.append((name, "a"))
            far.append((name, "b"))
        if gate is not None:
            near.append(gate.common)
            far += gate.off
        change = Change(
            removed=tuple(name for name in stand.line if name not in names),
            parts=dict(zip(names, values, strict=True)),
            unsolder=(
                *((knob, lug) for lug in kept),
                *((name, lead) for name in stand.line if name in names for lead in ("a", "b")),
                *cut.controls,
            ),
            solder=tuple((one, cut.source[0]) for one in near),
            joints=((*cut.controls, *far),),
        )
        kind = BRIDGED if values else PAD
        text = f"{part_text(values[0])} bridged by the knob" if values else "the knob alone in series"
        yield NetworkVariant(kind, text, change, False, *_confined(gate))


def _capacitors(farad: float | None) -> tuple[Part, ...]:
    return () if farad is None else (new_part("capacitor", capacitance=farad),)


def _confined(gate: Gate | None) -> tuple[str, str]:
    return ("", "") if gate is None else (gate.position, gate.text)


# --- in one position of a switch


def _to_ground_by_gate(
    wiring: Wiring, stand: PotPlace, shunts: Sequence[tuple[str, tuple[Part, ...]]], gate: Gate
) -> Iterator[NetworkVariant]:
    """Yield networks to ground that a spare pole takes the place of today's with.

    In the other positions today's network stays where the pole has a contact for it.
    """
    merge = merge_joints(wiring)
    knob, (near, far) = stand.knob, stand.lugs
    if not all(merge.same((knob, lug), stand.ends[0]) for lug in near):
        return  # parts on both sides of the knob
    last = [
        (name, lead) for name in stand.line for lead in ("a", "b") if merge.same((name, lead), stand.ends[1])
    ]
    keeps = bool(gate.off and stand.line)
    for kind, values in shunts:
        names = names_for(wiring, replace(stand, line=()), values)
        parts = dict(zip(names, values, strict=True))
        between = [((a, "b"), (b, "a")) for a, b in pairwise(names)]
        first: tuple[Terminal, ...] = ((names[0], "a"),) if names else ()
        end: tuple[Terminal, ...] = ((names[-1], "b"),) if names else ()
        if keeps:
            joints = [*between, (*last, *gate.off)]
            joints += [(*end, *gate.on)] if names else []
            into = first or gate.on
            change = Change(
                parts=parts,
                unsolder=tuple(last),
                solder=(*((one, (knob, far[0])) for one in into), (gate.common, stand.ends[1])),
                joints=tuple(joints),
            )
        else:
            lugs = tuple((knob, lug) for lug in far)
            change = Change(
                removed=stand.line,
                parts=parts,
                unsolder=lugs,
                solder=((gate.common, stand.ends[1]),),
                joints=((*lugs, *first), *between, (*end, *gate.on)) if names else ((*lugs, *gate.on),),
            )
        text = " in line with ".join(map(part_text, values)) or "the knob alone"
        yield NetworkVariant(kind, text, change, is_rising(stand), *_confined(gate))


# --- in one position of a sketch


def _in_sketch(
    wiring: Wiring, setting: Setting, stand: PotPlace, shunts: Sequence[tuple[str, tuple[Part, ...]]]
) -> Iterator[NetworkVariant]:
    """Yield networks in a position's expression; the others keep today's where they can."""
    sketch, name = wiring.sketch, wiring.selector
    assert sketch is not None
    assert name is not None
    merge = merge_joints(wiring)
    here = sketch.positions[setting.position]
    between = merge.same(stand.ends[0], (name, "hot")) and merge.same(stand.ends[1], (name, "cold"))
    if not between or stand.knob in wiring.placed:
        return
    knob = Leaf(stand.knob)

    def variant(
        kind: str, text: str, values: Sequence[Part], expression: Expression, names: Sequence[str],
        fades: tuple[str, int] | tuple[()] = (),
    ) -> NetworkVariant:  # fmt: skip
        keeps = is_rising(stand) and bool(stand.line)
        today = Group((knob, *map(Leaf, stand.line)), series=True)
        positions = {
            position: expression if position == setting.position
            else Group((one, today), series=False) if keeps else one
            for position, one in sketch.positions.items()
        }  # fmt: skip
        lugs = tuple((stand.knob, lug) for side in stand.lugs for lug in side)
        kept = tuple((part, lead) for part in stand.line if keeps for lead in ("a", "b"))
        change = Change(
            removed=() if keeps else stand.line,
            parts={**dict(zip(names, values, strict=True)), name: replace(sketch, positions=positions)},
            unsolder=(*lugs, *kept),
        )
        written = format_expression(expression)
        return NetworkVariant(kind, text, change, True, setting.position, written, fades)

    for kind, values in shunts:
        names = _new_names(wiring, stand.knob, values)
        line = Group((knob, *map(Leaf, names)), series=True) if names else knob
        text = " in line with ".join(map(part_text, values)) or "the knob alone"
        yield variant(kind, text, values, Group((here, line), series=False), names)
    yield variant(PAD, "the knob alone in series", (), Group((here, knob), series=True), ())
    for farad in BRIDGED_F:
        parts = _capacitors(farad)
        names = _new_names(wiring, stand.knob, parts)
        bridge = Group((knob, Leaf(names[0])), series=False)
        text = f"{part_text(parts[0])} bridged by the knob"
        yield variant(BRIDGED, text, parts, Group((here, bridge), series=True), names)
    for coil in wiring.coils:
        if coil in names_in(here) or coil not in wiring.placed:
            continue
        for turned in (False, True):
            leaf, sign = Leaf(coil, turned), -1 if turned else 1
            for through in (None, *FADED_F):
                parts = _capacitors(through)
                names = _new_names(wiring, stand.knob, parts)
                own = tuple(map(Leaf, names))
                value = part_text(parts[0]) if parts else ""
                beside = Group((leaf, *own, knob), series=True)
                text = f"{coil} in parallel" + (f" through {value}" if value else "")
                yield variant(FADED, text, parts, Group((here, beside), series=False), names, (coil, sign))
                bridged = Group((leaf, *own, knob), series=False)
                text = f"{coil} in series, bridged by the knob" + (f" and {value}" if value else "")
                yield variant(FADED, text, parts, Group((here, bridged), series=True), names, (coil, sign))


def _new_names(wiring: Wiring, knob: str, values: Sequence[Part]) -> list[str]:
    """Return names of new parts beside today's."""
    words = {"capacitor": "cap", "resistor": "resistor", "inductor": "choke"}
    return [free_name(wiring, f"{knob}_{words[kind_of(value).name]}") for value in values]


# --- a resistor across the knob


def fit_across(change: Change, wiring: Wiring, tried: NetworkVariant, knob: str, ohm: float) -> Change:
    """Return a change with a resistor, ohm, across the knob's lugs in use."""
    name = free_name(wiring, f"{knob}_taper_resistor")
    parts: dict[str, Part] = {**change.parts, name: new_part("resistor", resistance=ohm)}
    sketch, at = wiring.sketch, wiring.selector
    changed = change.parts.get(at) if at else None
    if sketch is not None and at is not None and changed is not None and tried.only:
        positions = dict(getattr(changed, "positions"))  # noqa: B009 - a sketch, by the variant
        positions[tried.only] = _with_across(positions[tried.only], knob, name)
        parts[at] = replace(sketch, positions=positions)
        return replace(change, parts=parts)
    ends = ("1", "2") if tried.rising else ("2", "3")
    joints = [list(joint) for joint in change.joints]
    solder = list(change.solder)
    for lug, lead in zip(ends, ("a", "b"), strict=True):
        holder = next((joint for joint in joints if (knob, lug) in joint), None)
        if holder is not None:
            holder.append((name, lead))
        else:
            solder.append(((name, lead), (knob, lug)))
    return replace(change, parts=parts, solder=tuple(solder), joints=tuple(map(tuple, joints)))


def _with_across(expression: Expression, knob: str, resistor: str) -> Expression:
    if isinstance(expression, Leaf):
        both = Group((expression, Leaf(resistor)), series=False)
        return both if expression.name == knob else expression
    members = tuple(_with_across(one, knob, resistor) for one in expression.members)
    return replace(expression, members=members)
