"""A capacitor."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dsp.documents.field import quantity
from dsp.parts.kind import Complex, Ends, Pair, Part, Refuse, Stamps, Symbol, TwoLead
from dsp.units import show


@dataclass(frozen=True)
class Capacitor(Part):
    """A capacitor between leads a and b."""

    capacitance_f: float


class CapacitorKind(TwoLead[Capacitor]):
    """Capacitors."""

    name = "capacitor"
    part = Capacitor
    fields = (quantity("capacitance", "capacitance", (1e-15, 1.0), "capacitance"),)

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Capacitor:
        """Build a capacitor."""
        return Capacitor(found["capacitance"])

    def symbol(self, part: Capacitor) -> Symbol:
        """Draw two plates."""
        return Symbol("M0 8H14 M14 1V15 M18 1V15 M18 8H32", (32, 16), {"a": (0, 8), "b": (32, 8)})

    def value_text(self, part: Capacitor) -> str:
        """Return the capacitance as text."""
        return show(part.capacitance_f, "capacitance", 3)

    def file_fields(self, part: Capacitor) -> dict[str, Any]:
        """Return the kind and the capacitance."""
        return {"kind": self.name, "capacitance": self.value_text(part)}

    def admittance(self, part: Capacitor, s: Complex) -> Complex:
        """Return s C, shape of s."""
        return np.asarray(s * part.capacitance_f)

    def impedance(self, part: Capacitor, s: Complex) -> Complex:
        """Return 1/(s C), shape of s."""
        return np.asarray(1.0 / (s * part.capacitance_f))

    def stamp(self, part: Capacitor, branch: Ends, build: Stamps) -> None:
        """Stamp a capacitance between its nodes."""
        build.admittance(True, build.row(branch.a), build.row(branch.b), part.capacitance_f)

    def dc_ohm(self, part: Capacitor) -> None:
        """Return None: no direct current flows."""
        return

    def netlist(self, part: Capacitor, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Yield one C line."""
        ((a, b),) = nodes
        yield f"C_{name} {a} {b} {part.capacitance_f:.17g}"
