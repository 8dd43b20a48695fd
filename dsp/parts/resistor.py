"""A resistor."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dsp.documents.field import quantity
from dsp.parts.kind import Complex, Ends, Pair, Part, Refuse, Stamps, Symbol, TwoLead
from dsp.units import show


@dataclass(frozen=True)
class Resistor(Part):
    """A resistor between leads a and b."""

    resistance_ohm: float


class ResistorKind(TwoLead[Resistor]):
    """Resistors."""

    name = "resistor"
    part = Resistor
    fields = (quantity("resistance", "resistance", (1e-3, 1e10), "resistance"),)

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Resistor:
        """Build a resistor."""
        return Resistor(found["resistance"])

    def symbol(self, part: Resistor) -> Symbol:
        """Draw a box."""
        return Symbol("M0 8H6 M6 3H26V13H6Z M26 8H32", (32, 16), {"a": (0, 8), "b": (32, 8)})

    def value_text(self, part: Resistor) -> str:
        """Return the resistance as text."""
        return show(part.resistance_ohm, "resistance", 3)

    def file_fields(self, part: Resistor) -> dict[str, Any]:
        """Return the kind and the resistance."""
        return {"kind": self.name, "resistance": self.value_text(part)}

    def admittance(self, part: Resistor, s: Complex) -> Complex:
        """Return 1/R, shape of s."""
        return np.full(s.shape, 1.0 / part.resistance_ohm, complex)

    def impedance(self, part: Resistor, s: Complex) -> Complex:
        """Return R, shape of s."""
        return np.full(s.shape, part.resistance_ohm, complex)

    def stamp(self, part: Resistor, branch: Ends, build: Stamps) -> None:
        """Stamp a conductance between its nodes."""
        build.admittance(False, build.row(branch.a), build.row(branch.b), 1.0 / part.resistance_ohm)

    def dc_ohm(self, part: Resistor) -> float:
        """Return R."""
        return part.resistance_ohm

    def netlist(self, part: Resistor, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Yield one R line."""
        ((a, b),) = nodes
        yield f"R_{name} {a} {b} {part.resistance_ohm:.17g}"
