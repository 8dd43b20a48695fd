"""A pickup coil: electromotive force, loss, winding capacitance, place and signs."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi


@dataclass(frozen=True)
class Eddy:
    """An eddy-current loss: a resistor across a share of the inductance.

    Attributes
    ----------
    share : float
        Share of the coil's low-frequency inductance, 0 to 1.
    corner_hz : float
        Frequency at which the share's reactance equals its resistor, R / (2 pi L_share).
    """

    share: float
    corner_hz: float


@dataclass(frozen=True)
class Coil:
    """A coil: EMF, resistance and lossy inductance; capacitance across.

    Attributes
    ----------
    resistance_ohm : float
        DC resistance at 20 °C.
    inductance_h : float
        Low-frequency inductance, eddy share included.
    capacitance_f : float
        Winding and lead, across start and finish.
    eddy : tuple of Eddy
        Foster sections in series with the lossless inductance.
    at_m : float or None
        Centre of the coil, from the bridge.
    aperture_m : float
        Length of string it senses.
    winding, magnet : int
        Winding direction and magnet pole, +1 or -1. A string's EMF carries their product,
        a hum field's EMF carries the winding alone.
    sensitivity : float
        V per m/s of string velocity.
    string_balance_db : tuple of float
        Level per string, lowest first; empty means even.
    turns_area : float
        Relative hum pick-up.

    References
    ----------
    R-L-C with loss sections: classical Foster synthesis; P. Hiscocks, "Measuring Impedance and
    Frequency Response of Guitar Pickups", 2011, for the R-L-C base.
    """

    resistance_ohm: float
    inductance_h: float
    capacitance_f: float
    eddy: tuple[Eddy, ...] = ()
    at_m: float | None = None
    aperture_m: float = 0.01
    winding: int = 1
    magnet: int = 1
    sensitivity: float = 1.0
    string_balance_db: tuple[float, ...] = field(default=())
    turns_area: float = 1.0

    @property
    def lossless_h(self) -> float:
        """Inductance left when the eddy shares are taken out, in henry."""
        return self.inductance_h * (1.0 - sum(section.share for section in self.eddy))

    def sections(self) -> tuple[tuple[float, float], ...]:
        """Inductance and resistance of each eddy section, (henry, ohm)."""
        pairs = ((self.inductance_h * section.share, section.corner_hz) for section in self.eddy)
        return tuple((share_h, 2.0 * pi * corner_hz * share_h) for share_h, corner_hz in pairs)

    @property
    def string_sign(self) -> int:
        """Sign of the EMF a string induces, start over finish: +1 or -1."""
        return self.winding * self.magnet
