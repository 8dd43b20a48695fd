"""Two-lead parts: resistor, capacitor, inductor; and the jack."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Resistor:
    """A resistor between leads a and b."""

    resistance_ohm: float


@dataclass(frozen=True)
class Capacitor:
    """A capacitor between leads a and b."""

    capacitance_f: float


@dataclass(frozen=True)
class Inductor:
    """A choke between leads a and b, with its winding's resistance."""

    inductance_h: float
    resistance_ohm: float = 0.0


@dataclass(frozen=True)
class Jack:
    """The output jack: tip (signal) and sleeve (the circuit's reference)."""
