"""A choke: an inductor and the resistance of its winding."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dsp.documents.field import quantity
from dsp.parts.kind import Complex, Ends, Pair, Part, Refuse, Stamps, Symbol, TwoLead
from dsp.units import show


@dataclass(frozen=True)
class Inductor(Part):
    """A choke between leads a and b."""

    inductance_h: float
    resistance_ohm: float = 0.0


class ChokeKind(TwoLead[Inductor]):
    """Chokes."""

    name = "inductor"
    part = Inductor
    fields = (
        quantity("inductance", "inductance", (1e-9, 1e4), "inductance"),
        quantity("resistance", "resistance", (0.0, 1e7), "DC resistance of its winding", "0"),
    )

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Inductor:
        """Build a choke."""
        return Inductor(found["inductance"], found.get("resistance", 0.0))

    def symbol(self, part: Inductor) -> Symbol:
        """Draw four turns and a core."""
        turns = "a3 4 0 0 1 6 0" * 4
        return Symbol(f"M0 10H4{turns}H32 M5 3H27", (32, 16), {"a": (0, 10), "b": (32, 10)})

    def value_text(self, part: Inductor) -> str:
        """Return inductance and resistance as text."""
        return f"{show(part.inductance_h, 'inductance', 3)}, {show(part.resistance_ohm, 'resistance', 3)}"

    def file_fields(self, part: Inductor) -> dict[str, Any]:
        """Return the kind, the inductance and the resistance."""
        inductance = show(part.inductance_h, "inductance", 3)
        resistance = show(part.resistance_ohm, "resistance", 3)
        return {"kind": self.name, "inductance": inductance, "resistance": resistance}

    def admittance(self, part: Inductor, s: Complex) -> Complex:
        """Return 1/(R + s L), shape of s."""
        return np.asarray(1.0 / (part.resistance_ohm + s * part.inductance_h))

    def impedance(self, part: Inductor, s: Complex) -> Complex:
        """Return R + s L, shape of s."""
        return np.asarray(part.resistance_ohm + s * part.inductance_h)

    def stamp(self, part: Inductor, branch: Ends, build: Stamps) -> int:
        """Stamp a current with its voltage law."""
        at = build.current(branch)
        build.impedance(at, at, part.resistance_ohm, part.inductance_h)
        return at

    def windings(self, part: Inductor) -> tuple[tuple[float, float], ...]:
        """Return one winding."""
        return ((1.0, part.resistance_ohm),)

    def coupled_h(self, part: Inductor) -> float:
        """Return L."""
        return part.inductance_h

    def lossless_h(self, part: Inductor) -> float:
        """Return L: it has no eddy shares."""
        return part.inductance_h

    def dc_ohm(self, part: Inductor) -> float:
        """Return R."""
        return part.resistance_ohm

    def netlist(self, part: Inductor, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Yield an R line, unless R is 0, and an L line."""
        ((a, b),) = nodes
        if part.resistance_ohm > 0.0:
            yield f"R_{name} {a} {name}_r {part.resistance_ohm:.17g}"
            a = f"{name}_r"
        yield f"L_{name} {a} {b} {part.inductance_h:.17g}"
