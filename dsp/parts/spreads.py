"""How far the values of real parts lie from the written ones: one table for every band.

A spread is two standard deviations: of a hundred parts, about five lie beyond it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Spread:
    """The spread of one value of one kind of part.

    Attributes
    ----------
    kind, field : str
        As a wiring file names them; ``coupling``, ``cable`` and ``room`` are no kinds of part.
    attribute : str
        Of the part's class.
    usual : float
        Of a part against the value that the file states, as a share of it. Of a taper in the knob's
        scale of ten, of a coefficient as it is, of the room in kelvin.
    alike : float
        Among parts of one order.
    source : str
        How it is known.
    """

    kind: str
    field: str
    attribute: str
    usual: float
    alike: float
    source: str


SPREADS = (
    Spread("coil", "resistance", "resistance_ohm", 0.05, 0.05, "common practice; wire of 42 gauge alone 8 %"),
    Spread("coil", "inductance", "inductance_h", 0.10, 0.05, "our own choice: turns, poles and magnets"),
    Spread("coil", "capacitance", "capacitance_f", 0.24, 0.15, "our own choice: how tightly it is wound"),
    Spread("coil", "eddy", "eddy", 0.40, 0.20, "our own choice, a factor on every share"),
    Spread("coil", "turns_area", "turns_area", 0.05, 0.05, "our own choice: it sets the hum that is left"),
    Spread("coil", "hum_area", "hum_area_m2", 0.05, 0.05, "our own choice: it sets the hum that is left"),
    Spread("pot", "resistance", "resistance_ohm", 0.20, 0.20, "makers' sheets: 15 to 30 %"),
    Spread("pot", "taper", "taper", 0.40, 0.40, "our own choice, in the knob's scale of ten"),
    Spread("capacitor", "capacitance", "capacitance_f", 0.10, 0.10, "common practice, letter K"),
    Spread("resistor", "resistance", "resistance_ohm", 0.05, 0.05, "common practice"),
    Spread("inductor", "resistance", "resistance_ohm", 0.10, 0.10, "common practice"),
    Spread("inductor", "inductance", "inductance_h", 0.10, 0.10, "common practice"),
    Spread("coupling", "coefficient", "coefficient", 0.04, 0.04, "our own choice, added to the coefficient"),
    Spread("cable", "capacitance", "cable_f_per_m", 0.20, 0.20, "common practice: one player's cable"),
    Spread("room", "temperature", "", 8.0, 0.0, "a bench between 12 and 28 °C"),
)
"""Every spread. A tolerance that the file states stands in for ``usual`` and ``alike``."""

COPPER_PER_K = 0.00393
"""Copper's rise of resistance from 20 °C, as a share per kelvin (IEC 60028, from memory)."""
BY_FIELD = {(row.kind, row.field): row for row in SPREADS}


def usual_tolerances(field: str) -> dict[str, float]:
    """Return the usual spread of a field for every kind of part that has it."""
    return {row.kind: row.usual for row in SPREADS if row.field == field}
