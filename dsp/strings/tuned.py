"""A tuned string: its weight, tension and stiffness from gauge and pitch."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from dsp.parts.instrument import GuitarString

STEEL_KG_M3 = 7850.0
STEEL_PA = 200e9
"""Young's modulus of music wire, handbook value; the string measured by Issanchou et al. needs 215."""
WRAP_KG_M3 = 8900.0
"""Nickel, the usual wrap of electric guitar strings (common practice)."""
WRAP_FILL = pi / 4.0
"""Share of the annulus filled by round wire, turn against turn: a circle in its square."""
CORE_RATIO = 0.42
"""Core over outer diameter of a wound string, from the one published wound string with its bending
stiffness (Issanchou et al. 2017, bass guitar: 1.14 mm, B 3.5e-5); strings differ (0.35-0.55)."""
HOLDS_PA = 2.6e9
"""Tensile strength of thin music wire: ASTM A228, 0.2-0.4 mm wire, from memory."""
SLACK_N, HARD_N, BASS_HARD_N = 25.0, 180.0, 300.0
"""Usual limits of tension: slacker strings rattle, tighter ones strain hands and neck (common practice)."""
BASS_SCALE_M = 0.75
"""A longer scale is that of a bass, whose neck is built for `BASS_HARD_N` (common practice)."""


@dataclass(frozen=True)
class Loss:
    """Material constants of a string's internal loss.

    Attributes
    ----------
    bending : float
        Loss angle of bending, delta_ve.
    friction : float
        Loss that is the same at every frequency, 1/Q_te.

    References
    ----------
    C. Issanchou, S. Bilbao, J.-L. Le Carrou, C. Touze, O. Doare, J. Sound Vib. 393 (2017) 229-251;
    values as in the published companion code.
    """

    bending: float
    friction: float


PLAIN_LOSS = Loss(bending=4.5e-3, friction=2.03e-4)
WOUND_LOSS = Loss(bending=0.01, friction=6e-6)


@dataclass(frozen=True)
class TunedString:
    """A string at its tension.

    Attributes
    ----------
    length_m : float
        Of the open string.
    diameter_m : float
        Outer diameter.
    weight_kg_m : float
        Mass per length.
    stiffness_nm2 : float
        Bending stiffness E I.
    """

    length_m: float
    diameter_m: float
    weight_kg_m: float
    tension_n: float
    stiffness_nm2: float
    loss: Loss = PLAIN_LOSS

    @property
    def pitch_hz(self) -> float:
        """Fundamental of the ideal open string, Hz."""
        return self.speed_m_s / (2.0 * self.length_m)

    @property
    def speed_m_s(self) -> float:
        """Speed of transverse waves, m/s."""
        return sqrt(self.tension_n / self.weight_kg_m)

    @property
    def impedance_kg_s(self) -> float:
        """Wave impedance, kg/s."""
        return sqrt(self.tension_n * self.weight_kg_m)

    def inharmonicity(self, length_m: float) -> float:
        """B of f_n = n f0 sqrt(1 + B n^2) for a sounding length.

        References
        ----------
        H. Fletcher, J. Acoust. Soc. Am. 36 (1964) 203: B = pi^2 E I / (T l^2).
        """
        return pi**2 * self.stiffness_nm2 / (self.tension_n * length_m**2)


def tune(string: GuitarString, scale_m: float) -> TunedString:
    """Bring a string of an instrument to its open pitch.

    References
    ----------
    T = mu (2 L f)^2, any text on strings (N. Fletcher, T. Rossing, The Physics of Musical
    Instruments, from memory).

    Examples
    --------
    >>> string = tune(GuitarString(pitch_hz=110.0, gauge_m=1.2e-3, wound=True), scale_m=0.686)
    >>> round(string.tension_n), round(string.pitch_hz)
    (184, 110)
    """
    weight = unit_weight(string.gauge_m, wound=string.wound)
    core_m = string.gauge_m * (CORE_RATIO if string.wound else 1.0)
    return TunedString(
        length_m=scale_m,
        diameter_m=string.gauge_m,
        weight_kg_m=weight,
        tension_n=weight * (2.0 * scale_m * string.pitch_hz) ** 2,
        stiffness_nm2=STEEL_PA * pi * core_m**4 / 64.0,
        loss=WOUND_LOSS if string.wound else PLAIN_LOSS,
    )


def unit_weight(gauge_m: float, *, wound: bool) -> float:
    """Return the mass per length of a string, kg/m.

    A wound string is a steel core with round nickel wire, turn against turn.
    """
    area = pi * gauge_m**2 / 4.0
    if not wound:
        return STEEL_KG_M3 * area
    core = CORE_RATIO**2
    return area * (STEEL_KG_M3 * core + WRAP_KG_M3 * WRAP_FILL * (1.0 - core))


def tension_warnings(strings: tuple[GuitarString, ...], scale_m: float) -> tuple[str, ...]:
    """Return a warning for every string whose tension is out of range."""
    found = []
    for number, string in zip(range(len(strings), 0, -1), strings, strict=True):
        text = _tension_warning(string, tune(string, scale_m))
        if text:
            name = string.note or f"{string.pitch_hz:.1f} Hz"
            found.append(f"string {number} ({name}, {1e3 * string.gauge_m:.2f} mm): {text}")
    return tuple(found)


def _tension_warning(string: GuitarString, tuned: TunedString) -> str:
    tension_n = tuned.tension_n
    hard_n, kind = (BASS_HARD_N, "bass") if tuned.length_m > BASS_SCALE_M else (HARD_N, "guitar")
    core_m = string.gauge_m * (CORE_RATIO if string.wound else 1.0)
    stress_pa = tension_n / (pi * core_m**2 / 4.0)
    if stress_pa > HOLDS_PA:
        stress, holds = stress_pa / 1e6, HOLDS_PA / 1e6
        return f"{tension_n:.0f} N is {stress:.0f} N/mm² in the steel, which breaks near {holds:.0f}"
    if tension_n > hard_n:
        return f"{tension_n:.0f} N is more than the usual limit of a {kind} ({hard_n:.0f} N)"
    if tension_n < SLACK_N:
        return f"{tension_n:.0f} N is slack: below {SLACK_N:.0f} N a string rattles"
    return ""
