"""The kinds of part, and functions that look one up by its role.

A new kind is a new file of this room and a row of `KINDS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from dsp.errors import InputError
from dsp.parts.capacitor import CapacitorKind
from dsp.parts.choke import ChokeKind
from dsp.parts.coil import Coil, CoilKind
from dsp.parts.group import Group, GroupKind
from dsp.parts.jack import JackKind
from dsp.parts.kind import Conductor, P, Pair, Part, PartKind, Plugged, Positioned, TwoLead, Variable
from dsp.parts.metal import MetalKind
from dsp.parts.pot import Pot, PotKind
from dsp.parts.resistor import ResistorKind
from dsp.parts.sketch import SketchKind
from dsp.parts.switch import Switch, SwitchKind
from dsp.parts.transformer import TransformerKind

KINDS: Mapping[str, PartKind[Any]] = {
    kind.name: kind
    for kind in (
        CoilKind(),
        PotKind(),
        CapacitorKind(),
        ResistorKind(),
        ChokeKind(),
        TransformerKind(),
        SwitchKind(),
        SketchKind(),
        GroupKind(),
        JackKind(),
        MetalKind(),
    )
}
"""Every kind by its name in a wiring file."""

SensingPart = Coil
"""The class of the parts that sense the strings."""
VariablePart = Pot
"""The class of the parts that a knob turns."""
SwitchPart = Switch
"""The class of the parts with a lever or shaft, without sketches."""


@dataclass(frozen=True)
class _Roles:
    """A kind, and the same object for each of its roles; None for other roles."""

    kind: PartKind[Any]
    conductor: Conductor[Any] | None
    two_lead: TwoLead[Any] | None
    variable: Variable[Any] | None
    positioned: Positioned[Any] | None
    plugged: Plugged[Any] | None


def _roles(kind: PartKind[Any]) -> _Roles:
    return _Roles(
        kind,
        kind if isinstance(kind, Conductor) else None,
        kind if isinstance(kind, TwoLead) else None,
        kind if isinstance(kind, Variable) else None,
        kind if isinstance(kind, Positioned) else None,
        kind if isinstance(kind, Plugged) else None,
    )


_BY_CLASS: dict[type[Part], _Roles] = {kind.part: _roles(kind) for kind in KINDS.values()}
"""The roles by class. Solvers look up every part of every network, so this must be fast."""


def _of(part: Part) -> _Roles:
    found = _BY_CLASS.get(type(part))
    if found is None:  # combined switches are a subclass of Switch
        found = _BY_CLASS[type(part)] = next(_BY_CLASS[c] for c in type(part).__mro__ if c in _BY_CLASS)
    return found


def kind_of(part: Part) -> PartKind[Any]:
    """Return the kind of a part.

    Examples
    --------
    >>> from dsp.parts.capacitor import Capacitor
    >>> kind = kind_of(Capacitor(22e-9))
    >>> kind.name, kind.value_text(Capacitor(22e-9)), kind.lead_names
    ('capacitor', '22 nF', ('a', 'b'))
    """
    return _of(part).kind


def terminals_of(part: Part) -> tuple[str, ...]:
    """Return the names of a part's leads or lugs.

    Examples
    --------
    >>> from dsp.parts.jack import Jack
    >>> terminals_of(Jack())
    ('tip', 'sleeve')
    """
    return kind_of(part).leads(part)


def conductor_of(part: Part) -> Conductor[Any] | None:
    """Return the kind of a part that conducts; None for another."""
    return _of(part).conductor


def two_lead_of(part: Part | None) -> TwoLead[Any] | None:
    """Return the kind of a two-lead part; None for another."""
    return None if part is None else _of(part).two_lead


def as_two_lead(part: Part) -> TwoLead[Any]:
    """Return the kind of a two-lead part.

    Raises
    ------
    TypeError
        If the part does not have two leads.
    """
    kind = two_lead_of(part)
    if kind is None:
        raise TypeError(f"{part} is no part of two leads")
    return kind


def ends_of(part: Part) -> tuple[str, str]:
    """Return the two leads by which a sketch places a part; a tap is none.

    Raises
    ------
    TypeError
        If a sketch cannot place the part.
    """
    found = kind_of(part).ends()
    if found is None:
        raise TypeError(f"a sketch cannot place {part}")
    return found


def is_placed(part: Part | None) -> bool:
    """Return whether a sketch can place a part."""
    return part is not None and kind_of(part).ends() is not None


def is_polar(part: Part) -> bool:
    """Return whether turning a part round changes its sound."""
    return is_sensing(part) or isinstance(part, Group)


def inductive_of(parts: Mapping[str, Part]) -> dict[str, Part]:
    """Return the parts that a magnetic coupling can act on, by name."""
    kinds = ((name, part, conductor_of(part)) for name, part in parts.items())
    return {name: part for name, part, kind in kinds if kind is not None and kind.windings(part)}


def variable_of(part: Part) -> Variable[Any] | None:
    """Return the kind of a part that a knob turns; None for another."""
    return _of(part).variable


def positioned_of(part: Part | None) -> Positioned[Any] | None:
    """Return the kind of a part with positions; None for another."""
    return None if part is None else _of(part).positioned


def plugged_of(part: Part | None) -> Plugged[Any] | None:
    """Return the kind of a part that takes a plug; None for another."""
    return None if part is None else _of(part).plugged


def is_sensing(part: Part | None) -> bool:
    """Return whether a part senses the strings."""
    kind = two_lead_of(part)
    return kind is not None and kind.senses


def is_passive(part: Part | None) -> bool:
    """Return whether a part has two leads and senses nothing."""
    kind = two_lead_of(part)
    return kind is not None and not kind.senses


def dc_paths(part: Part) -> tuple[Pair, ...]:
    """Return the pairs of leads that pass direct current; none of a coil."""
    if piece := kind_of(part).one_piece(part):
        return tuple(pairwise(piece))
    if turns := variable_of(part):
        return turns.segments(part)
    kind = conductor_of(part)
    if kind is None or kind.senses:
        return ()
    pairs = zip(kind.branches(part), kind.dc_ohms(part), strict=True)
    return tuple(pair for pair, ohm in pairs if ohm is not None)


def parts_of(parts: Mapping[str, Part], part: type[P]) -> dict[str, P]:
    """Return the parts of one class, by name."""
    return {name: one for name, one in parts.items() if isinstance(one, part)}


def coils_of(parts: Mapping[str, Part]) -> dict[str, SensingPart]:
    """Return the parts that sense the strings, by name."""
    return parts_of(parts, SensingPart)


def pots_of(parts: Mapping[str, Part]) -> dict[str, VariablePart]:
    """Return the parts that knobs turn, by name."""
    return parts_of(parts, VariablePart)


def switches_of(parts: Mapping[str, Part]) -> dict[str, SwitchPart]:
    """Return the switches, without sketches, by name."""
    return parts_of(parts, SwitchPart)


def new_part(kind: str, **fields: Any) -> Part:
    """Build a part from values of its fields.

    Parameters
    ----------
    kind : str
        Key of `KINDS`.
    **fields
        Values by the field names of a wiring file, in SI units.

    Raises
    ------
    InputError
        If the fields do not define a part of the kind.

    Examples
    --------
    >>> new_part("inductor", inductance=1.5, resistance=90.0)
    Inductor(inductance_h=1.5, resistance_ohm=90.0)
    """

    def refuse(
        allowed: str, *, got: str = "", hint: str = "", place: str = "", path: tuple[str, ...] = ()
    ) -> None:
        raise InputError(f"{kind}{place}", got, allowed, hint)

    part = KINDS[kind].build(fields, refuse)
    assert isinstance(part, Part)  # otherwise a problem was raised above
    return part
