"""A tuned string: its weight, tension and stiffness from gauge and pitch."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from dsp.parts.instrument import GuitarString

STEEL_KG_M3 = 7850.0
STEEL_PA = 200e9
"""Young's modulus of music wire, handbook value; the string measured by Issanchou et al. needs 215."""
WRAP_KG_M3 = {"nickel-plated steel": 7850.0, "pure nickel": 9450.0, "stainless steel": 8370.0}
"""Weight of each `dsp.parts.instrument.WRAPS` by the volume of `WRAP_FILL`. Steel is its handbook density.
The others are set by makers' lists of unit weights, on the three gauges found of each; they stand above the
metals' own 8900 and some 7900, as if such wire lay closer."""
WRAP_FILL, BASS_WRAP_FILL = pi / 4.0, 0.80
"""Share of the annulus filled by wire. Round wire, turn against turn: a circle in its square. A bass string's
under-wraps fill a little more; set by one maker's list of five gauges."""
CORE_M, CORE_PER_GAUGE, CORE_MOST = 0.29e-3, 0.12, 0.65
"""Diameter of a guitar string's core: a part that stays, one that grows with the gauge, the largest share of
the gauge. From the stiffness of two wound notes of one guitar (E2 and D3 of `freepats`). The weights of
thirteen gauges come out within 3 % with it. Makers' cores differ: `core` states a string's own."""
BASS_CORE_M, BASS_CORE_PER_GAUGE = 0.32e-3, 0.139
"""The same of a bass, through its two published stiffnesses: 1.14 mm with B 3.5e-5 (Issanchou et al. 2018),
and an open B0 of 3.3 mm with 3.0e-4 (J. A. Kemp, SN Applied Sciences 2:636, 2020)."""
HOLDS_PA = 2.6e9
"""Tensile strength of thin music wire: ASTM A228, 0.2-0.4 mm wire, from memory."""
SLACK_N, HARD_N, BASS_HARD_N = 25.0, 180.0, 300.0
"""Usual limits of tension: slacker strings rattle, tighter ones strain hands and neck (common practice)."""
BASS_SCALE_M = 0.75
"""A longer scale is that of a bass, whose neck is built for `BASS_HARD_N` (common practice)."""


RUBS_AT_HZ = 2000.0
"""Frequency at which `Loss.rubbing` is the loss angle."""


@dataclass(frozen=True)
class Loss:
    """Material constants of a string's internal loss.

    Attributes
    ----------
    bending : float
        Loss angle of bending, the same at every frequency.
    friction : float
        Loss that is the same at every frequency, 1/Q.
    rubbing : float
        Loss angle of bending at 2 kHz that falls as 1/f: turns of a wrap that rub on one another.

    References
    ----------
    Bending and friction: C. Issanchou, S. Bilbao, J.-L. Le Carrou, C. Touze, O. Doare, J. Sound Vib.
    393 (2017) 229-251. Turns that rub are the main loss of wound strings: Christian, Savart Journal
    (2011). That their loss angle falls as 1/f is measured: of the powers 0, 1/2, 1 and 1.3 it fits
    the wound notes of the fit half best.
    """

    bending: float
    friction: float
    rubbing: float = 0.0


PLAIN_LOSS = Loss(bending=1.8e-4, friction=1.6e-4)
WOUND_LOSS = Loss(bending=0.0, friction=8e-5, rubbing=0.047)
"""Measured here: fitted to the partials' decay in real notes of the fit half alone
(tests/reference/test_string_fit.py)."""


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
    stretch_n : float
        Stiffness of the core to being stretched, E times its section; 0 for a string whose pitch does not
        depend on how far it swings.
    signal : float
        EMF per velocity, relative to the mean string of its set; see `dsp.strings.magnetised`.
    """

    length_m: float
    diameter_m: float
    weight_kg_m: float
    tension_n: float
    stiffness_nm2: float
    loss: Loss = PLAIN_LOSS
    stretch_n: float = 0.0
    signal: float = 1.0

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
    (164, 110)
    """
    weight = unit_weight(string, scale_m)
    core_m = core_diameter(string, scale_m)
    return TunedString(
        length_m=scale_m,
        diameter_m=string.gauge_m,
        weight_kg_m=weight,
        tension_n=weight * (2.0 * scale_m * string.pitch_hz) ** 2,
        stiffness_nm2=STEEL_PA * pi * core_m**4 / 64.0,
        loss=WOUND_LOSS if string.wound else PLAIN_LOSS,
        stretch_n=STEEL_PA * pi * core_m**2 / 4.0,
    )


def core_diameter(string: GuitarString, scale_m: float) -> float:
    """Return the diameter of a string's core, m; a plain string is all core.

    Parameters
    ----------
    scale_m : float
        Tells a bass from a guitar.
    """
    if not string.wound:
        return string.gauge_m
    if string.core_m is not None:
        return string.core_m
    bass = scale_m > BASS_SCALE_M
    start_m, slope = (BASS_CORE_M, BASS_CORE_PER_GAUGE) if bass else (CORE_M, CORE_PER_GAUGE)
    return min(start_m + slope * string.gauge_m, CORE_MOST * string.gauge_m)


def unit_weight(string: GuitarString, scale_m: float) -> float:
    """Return the mass per length, kg/m: a steel core in turns of wire."""
    core_m2 = pi * core_diameter(string, scale_m) ** 2 / 4.0
    return STEEL_KG_M3 * core_m2 + WRAP_KG_M3[string.wrap] * wrap_section(string, scale_m)


def wrap_section(string: GuitarString, scale_m: float) -> float:
    """Return the section of a wrap's metal, m²; 0 of a plain string."""
    fill = BASS_WRAP_FILL if scale_m > BASS_SCALE_M else WRAP_FILL
    return fill * pi / 4.0 * (string.gauge_m**2 - core_diameter(string, scale_m) ** 2)


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
    core_m = core_diameter(string, tuned.length_m)
    stress_pa = tension_n / (pi * core_m**2 / 4.0)
    if stress_pa > HOLDS_PA:
        stress, holds = stress_pa / 1e6, HOLDS_PA / 1e6
        return f"{tension_n:.0f} N is {stress:.0f} N/mm² in the steel, which breaks near {holds:.0f}"
    if tension_n > hard_n:
        return f"{tension_n:.0f} N is more than the usual limit of a {kind} ({hard_n:.0f} N)"
    if tension_n < SLACK_N:
        return f"{tension_n:.0f} N is slack: below {SLACK_N:.0f} N a string rattles"
    return ""
