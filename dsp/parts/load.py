"""What the guitar is plugged into: a cable and an amplifier input, in parallel."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Load:
    """Cable and amplifier input across the jack.

    Attributes
    ----------
    cable_length_m : float
    cable_f_per_m : float
        Capacitance per metre; about 100 pF/m (Sound on Sound, November 2009).
    amplifier_ohm : float
        Input resistance; 1 MΩ is common practice.
    amplifier_f : float
        Input capacitance.
    """

    cable_length_m: float = 5.0
    cable_f_per_m: float = 100e-12
    amplifier_ohm: float = 1e6
    amplifier_f: float = 20e-12

    @property
    def capacitance_f(self) -> float:
        """Capacitance of cable and input together, in farad."""
        return self.cable_length_m * self.cable_f_per_m + self.amplifier_f
