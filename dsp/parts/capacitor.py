"""A capacitor: its capacitance, and the loss of its leads or of its dielectric.

A dielectric loses about the same share of the energy in every cycle, whatever the frequency. One
resistor does that at one frequency only. Therefore parts of the capacitance sit behind resistors, as
in a dielectric that polarises at many speeds. They hold tan delta within 2 % of its value at 1 kHz
from 20 Hz to 20 kHz, 4 % where it is 10 %. The capacitance falls with frequency as causality demands.

References
----------
Constant loss: A. K. Jonscher, "Dielectric relaxation in solids", 1983 (from memory). IEC 60384-1
measures capacitance and tan delta of signal capacitors at 1 kHz (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import atan, pi
from typing import Any

import numpy as np

from dsp.documents.field import Field, quantity
from dsp.parts.kind import Complex, Ends, Pair, Part, Refuse, Stamps, Symbol, TwoLead
from dsp.units import show

RELAXATIONS_HZ = tuple(1.5 * 10.0 ** (0.75 * k) for k in range(8))
"""Where the parts of the capacitance fall behind, from 1.5 Hz to 270 kHz."""
LOSS_HZ = 1e3
"""Capacitance and tan delta are those at this frequency."""


@dataclass(frozen=True)
class Capacitor(Part):
    """A capacitor between leads a and b.

    Attributes
    ----------
    capacitance_f : float
        At 1 kHz.
    series_ohm : float
        Resistance in line with it.
    tan_delta : float
        Loss of the dielectric at 1 kHz, resistance over reactance.
    type : str
        What it is, for the parts list.
    """

    capacitance_f: float
    series_ohm: float = 0.0
    tan_delta: float = 0.0
    type: str = ""

    def relaxations(self) -> tuple[tuple[float, float], ...]:
        """Capacitances behind resistors, and these (farad, ohm)."""
        if self.tan_delta == 0.0:
            return ()
        fall = -2.0 / pi * atan(self.tan_delta)
        weights = [(hz / LOSS_HZ) ** fall for hz in RELAXATIONS_HZ]
        ratios = [LOSS_HZ / hz for hz in RELAXATIONS_HZ]
        lost = sum(w * r / (1.0 + r * r) for w, r in zip(weights, ratios, strict=True))
        shares = [w / lost * self.tan_delta * self.capacitance_f for w in weights]
        return tuple((f, 1.0 / (2.0 * pi * hz * f)) for f, hz in zip(shares, RELAXATIONS_HZ, strict=True))

    @property
    def lossless_f(self) -> float:
        """Capacitance behind no resistor but the one in line, farad."""
        angular = 2.0 * pi * LOSS_HZ
        return self.capacitance_f - sum(f / (1.0 + (angular * f * ohm) ** 2) for f, ohm in self.relaxations())


class CapacitorKind(TwoLead[Capacitor]):
    """Capacitors."""

    name = "capacitor"
    part = Capacitor
    fields = (
        quantity("capacitance", "capacitance", (1e-15, 1.0), "capacitance"),
        quantity("series_resistance", "resistance", (0.0, 1e7), "loss as a resistance in line with it", "0"),
        quantity("tan_delta", "share", (0.0, 0.2), "loss of its dielectric at 1 kHz, tan delta", "0"),
        Field("type", "words", "what it is, for the parts list: film, ceramic, paper in oil"),
    )

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Capacitor | None:
        """Build a capacitor."""
        series_ohm, tan_delta = found.get("series_resistance", 0.0), found.get("tan_delta", 0.0)
        if series_ohm and tan_delta:
            refuse("either series_resistance or tan_delta", got="both", path=("tan_delta",))
            return None
        return Capacitor(found["capacitance"], series_ohm, tan_delta, found.get("type", ""))

    def symbol(self, part: Capacitor) -> Symbol:
        """Draw two plates."""
        return Symbol("M0 8H14 M14 1V15 M18 1V15 M18 8H32", (32, 16), {"a": (0, 8), "b": (32, 8)})

    def value_text(self, part: Capacitor) -> str:
        """Return the capacitance as text, and what it is."""
        value = show(part.capacitance_f, "capacitance", 3)
        return f"{value}, {part.type}" if part.type else value

    def file_fields(self, part: Capacitor) -> dict[str, Any]:
        """Return the kind, the capacitance, and what else is given."""
        given = {
            "series_resistance": show(part.series_ohm, "resistance", 3) if part.series_ohm else "",
            "tan_delta": show(part.tan_delta, "share", 3) if part.tan_delta else "",
            "type": part.type,
        }
        plain = {"kind": self.name, "capacitance": show(part.capacitance_f, "capacitance", 3)}
        return plain | {name: text for name, text in given.items() if text}

    def admittance(self, part: Capacitor, s: Complex) -> Complex:
        """Return Y / (1 + Y R), shape of s.

        Y = s C0 + sum of s C_i / (1 + s C_i R_i).
        """
        inside = s * part.lossless_f
        for farad, ohm in part.relaxations():
            inside = inside + s * farad / (1.0 + s * (farad * ohm))
        if part.series_ohm:
            inside = inside / (1.0 + inside * part.series_ohm)
        return np.asarray(inside)

    def impedance(self, part: Capacitor, s: Complex) -> Complex:
        """Return R + 1 / Y, shape of s."""
        inside = s * part.lossless_f
        for farad, ohm in part.relaxations():
            inside = inside + s * farad / (1.0 + s * (farad * ohm))
        return np.asarray(part.series_ohm + 1.0 / inside)

    def stamp(self, part: Capacitor, branch: Ends, build: Stamps) -> None:
        """Stamp capacitances between its nodes, with a node behind each resistor."""
        a, b = build.row(branch.a), build.row(branch.b)
        if part.series_ohm:
            behind = build.new()
            build.admittance(False, a, behind, 1.0 / part.series_ohm)
            a = behind
        build.admittance(True, a, b, part.lossless_f)
        for farad, ohm in part.relaxations():
            behind = build.new()
            build.admittance(False, a, behind, 1.0 / ohm)
            build.admittance(True, behind, b, farad)

    def dc_ohm(self, part: Capacitor) -> None:
        """Return None: no direct current flows."""
        return

    def devices(self, part: Capacitor) -> tuple[str, ...]:
        """Return one ending for the capacitor, one for each relaxation."""
        return ("", *(f"_loss{k}" for k in range(len(part.relaxations()))))

    def netlist(self, part: Capacitor, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Yield lines of C and R, and of both for each relaxation."""
        ((a, b),) = nodes
        if part.series_ohm:
            yield f"R_{name} {a} {name}_r {part.series_ohm:.17g}"
            a = f"{name}_r"
        yield f"C_{name} {a} {b} {part.lossless_f:.17g}"
        for k, (farad, ohm) in enumerate(part.relaxations()):
            yield f"R_{name}_loss{k} {a} {name}_l{k} {ohm:.17g}"
            yield f"C_{name}_loss{k} {name}_l{k} {b} {farad:.17g}"
