"""The load of the guitar: a cable and an amplifier input, in parallel."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Load:
    """A cable and an amplifier input across the jack.

    Attributes
    ----------
    cable_f_per_m : float
        Capacitance per metre, about 100 pF/m (Sound on Sound, November 2009).
    amplifier_ohm : float
        Input resistance. 1 MΩ is common practice.
    amplifier_f : float
        Input capacitance.

    Examples
    --------
    5 m of cable and 20 pF of input, in picofarad:

    >>> round(Load().capacitance_f * 1e12)
    520
    >>> round(Load(cable_length_m=3.0, amplifier_f=0.0).capacitance_f * 1e12)
    300
    """

    cable_length_m: float = 5.0
    cable_f_per_m: float = 100e-12
    amplifier_ohm: float = 1e6
    amplifier_f: float = 20e-12

    @property
    def capacitance_f(self) -> float:
        """The capacitance of cable and input together, farad."""
        return self.cable_length_m * self.cable_f_per_m + self.amplifier_f
