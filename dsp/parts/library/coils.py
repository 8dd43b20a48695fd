"""Generic coils, from weak to hot in each common construction.

Every value is our own choice within published ranges; none is a measurement of a product. The
ranges: inductance 1-10 H, winding capacitance 80-200 pF, and with 300-1000 pF of cable a loaded
resonance at 2-5 kHz that stands 0-12 dB high (H. Lemme, "The Secrets of Electric Guitar Pickups",
as quoted by others); single coils 5-8 kΩ and 2-3 H, two coils in series 8-16 kΩ (more for hot
ones) and 4-8 H (a public wiki on instrument electronics: a weak source). For one coil of a
two-coil unit these ranges are those of both coils in series, whose capacitances halve.

The two coils of a side-by-side unit aid one another: k is 0.03 to 0.27, 0.16 in the median, in 18
of 18 units of the open data set "strayr" (commit 7760780, 2023; our own fits of its sweeps at
0.5-1.6 kHz). One coil there has 0.38-0.44 of the whole; doubles have 4.2-5.7 H, hot doubles
7.7-9.8 H. The coils here with the coupling offered keep those ranges. Coils stacked on one axis
oppose one another when they cancel hum; no measurement of such a unit is at hand, and their
coupling is our own choice.

Eddy losses lie in ranges measured on the same data set: (Re Z - R) / (omega L) at 3 kHz is about 0.20
of doubles, 0.18-0.30 of steel cores, 0.05-0.16 of rod magnets and 0.10-0.20 of rods on a steel plate.
Steel cores also screen the EMF itself: with a shelf of 20-45 % from 1-2 kHz beside the loss the
sweeps are fitted best, and the heights of the loaded peaks between kinds come out as measured
(tests/reference/test_measured_pickups.py). These heights hold relative to rod magnets alone: the
response of the exciter was not published, and the fits assume one pole at 3.5 kHz for all.

Turns times area for hum are from memory: 8000 turns of 7.4 cm² of a single coil, 5.9 m², and 5000 turns of
6.2 cm² of one coil of a double, 3.1 m²; weaker and hotter coils in proportion of their turns_area.

Aperture, turns_area and strength are illustrative; the last two are relative, a narrow single coil of
medium strength being 1. Its sensitivity is chosen so that a strummed chord of the string model gives
the published 100-300 mV (tests/reference/test_levels.py).
"""

from __future__ import annotations

from dsp.parts.coil import SENSITIVITY_V_S_M, USUAL_HUM_M2
from dsp.parts.library.entry import Entry

DOUBLE_HUM_M2, DOUBLE_TURNS_AREA = 3.1, 0.83
"""Of one coil of a medium double."""
_OURS = "the values are our own choice"
_SINGLE = f"Within the published 5-8 kΩ and 2-3 H of single coils; {_OURS}"
_STRONG = f"Within the published 5-8 kΩ and 1-10 H, above the 2-3 H usual for single coils; {_OURS}"
_DOUBLE = f"Both in series lie within the published 8-16 kΩ and the measured 4.2-5.7 H; {_OURS}"
_DOUBLE_HOT = f"Both in series lie within the published 8-16 kΩ and the measured 7.7-9.8 H; {_OURS}"

_HOT = (
    "Both coils in series keep the measured 7.7-9.8 H, but not the resonance of 2-5 kHz with every cable: "
    "with 1000 pF it falls to {heavy} kHz, and with 300 pF and 250 kΩ pots no peak is left. "
    "The published ranges cannot all hold at once for the strongest pickups"
)


_DULL = (
    "The loss and screening measured on steel cores leave no peak with 250 kΩ pots and 300 pF of cable, "
    "though the published ranges have one with every load"
)
_DULL_AND_LOW = _DULL + "; with 1000 pF it lies at {heavy} kHz"


def _coil(
    name: str,
    about: str,
    electric: tuple[str, str, str],
    eddy: tuple[tuple[str, str], ...],
    sensing: tuple[str, float, float],
    *,
    pair: str = "",
    coupling: float = 0.0,
    outside: str = "",
    screened: bool = False,
    covered: bool = False,
) -> Entry:
    """One coil from (resistance, inductance, capacitance), losses and (aperture, turns_area, strength)."""
    resistance, inductance, capacitance = electric
    aperture, turns_area, strength = sensing
    fields: dict[str, object] = {
        "resistance": resistance,
        "inductance": inductance,
        "capacitance": capacitance,
        "eddy": [{"share": share, "corner": corner} for share, corner in eddy],
        **({"screening": {"share": "20 %", "corner": "2 kHz"}} if screened else {}),
        **({"cover": "metal"} if covered else {}),
        "aperture": aperture,
        "turns_area": turns_area,
        "hum_area": f"{_hum_m2(turns_area, double=bool(pair)):.2g} m²",
        "sensitivity": round(SENSITIVITY_V_S_M * strength, 4),
    }
    return Entry(name, "coil", about, fields, pair, coupling, outside)


def _hum_m2(turns_area: float, *, double: bool) -> float:
    """Turns times area of a coil: those of its kind, in proportion."""
    return turns_area * (DOUBLE_HUM_M2 / DOUBLE_TURNS_AREA if double else USUAL_HUM_M2)


_ROD = (("50 %", "16 kHz"),)
_ROD_ON_PLATE = (("50 %", "16 kHz"), ("14 %", "3 kHz"))
_STEEL = (("40 %", "4.5 kHz"),)
_DOUBLE_EDDY = (("48 %", "3.8 kHz"),)
_HOT_EDDY = (("50 %", "3.2 kHz"),)

_SINGLES = (
    _coil(
        "narrow_single_weak",
        f"Narrow single coil on rod magnets, weak. {_SINGLE}",
        ("5.4 kΩ", "2.2 H", "130 pF"),
        _ROD,
        ("8 mm", 0.92, 0.9),
    ),
    _coil(
        "narrow_single_medium",
        f"Narrow single coil on rod magnets, medium. {_SINGLE}",
        ("6.1 kΩ", "2.5 H", "125 pF"),
        _ROD,
        ("8 mm", 1.0, 1.0),
    ),
    _coil(
        "narrow_single_hot",
        f"Narrow single coil on rod magnets, hot. {_SINGLE}",
        ("7.6 kΩ", "3 H", "130 pF"),
        _ROD,
        ("8 mm", 1.12, 1.15),
    ),
    _coil(
        "plated_single_medium",
        f"Single coil on rod magnets over a steel base plate, medium. {_SINGLE}",
        ("6.9 kΩ", "2.8 H", "125 pF"),
        _ROD_ON_PLATE,
        ("9 mm", 1.08, 1.1),
    ),
    _coil(
        "wide_single_weak",
        f"Wide flat single coil on rod magnets, weak. {_SINGLE}",
        ("6.5 kΩ", "2.8 H", "135 pF"),
        _ROD,
        ("14 mm", 1.5, 1.1),
    ),
    _coil(
        "wide_single_medium",
        f"Wide flat single coil on rod magnets, medium. {_STRONG}",
        ("7.3 kΩ", "3.4 H", "140 pF"),
        _ROD,
        ("14 mm", 1.65, 1.2),
    ),
    _coil(
        "wide_single_hot",
        f"Wide flat single coil on rod magnets, hot. {_STRONG}",
        ("8 kΩ", "4.2 H", "150 pF"),
        _ROD,
        ("14 mm", 1.85, 1.35),
    ),
    _coil(
        "steel_single_weak",
        f"Single coil with steel cores over bar magnets, weak. {_STRONG}",
        ("6.8 kΩ", "3.3 H", "120 pF"),
        _STEEL,
        ("12 mm", 1.2, 1.2),
        outside=_DULL,
        screened=True,
    ),
    _coil(
        "steel_single_medium",
        f"Single coil with steel cores over bar magnets, medium. {_STRONG}",
        ("7.4 kΩ", "3.8 H", "125 pF"),
        _STEEL,
        ("12 mm", 1.3, 1.35),
        outside=_DULL,
        screened=True,
    ),
    _coil(
        "steel_single_hot",
        f"Single coil with steel cores over bar magnets, hot. {_STRONG}",
        ("8 kΩ", "4.3 H", "130 pF"),
        _STEEL,
        ("12 mm", 1.4, 1.5),
        outside=_DULL_AND_LOW.format(heavy="1.9"),
        screened=True,
    ),
    _coil(
        "low_impedance_single",
        f"Single coil of few turns, for use with a transformer or a low-impedance input; {_OURS}",
        ("250 Ω", "90 mH", "120 pF"),
        _ROD,
        ("8 mm", 0.19, 0.19),
        outside="A fifth of the turns of a usual coil: 90 mH and 250 Ω lie far below the published "
        "ranges, and with any cable the resonance lies above 5 kHz",
    ),
)

_DOUBLES = (
    _coil(
        "double_weak_coil",
        f"One coil of a side-by-side two-coil unit, weak. {_DOUBLE}",
        ("4.05 kΩ", "1.82 H", "170 pF"),
        _DOUBLE_EDDY,
        ("9 mm", 0.8, 0.85),
        pair="double_weak_coil",
        coupling=0.18,
        outside=_DULL_AND_LOW.format(heavy="1.9"),
        screened=True,
    ),
    _coil(
        "double_medium_coil",
        f"One coil of a side-by-side two-coil unit, medium. {_DOUBLE}",
        ("4.3 kΩ", "1.93 H", "165 pF"),
        _DOUBLE_EDDY,
        ("9 mm", 0.83, 0.9),
        pair="double_medium_coil",
        coupling=0.18,
        outside=_DULL_AND_LOW.format(heavy="1.8"),
        screened=True,
    ),
    _coil(
        "double_covered_coil",
        f"One coil of a side-by-side two-coil unit under a metal cover. {_DOUBLE}",
        ("4.1 kΩ", "1.9 H", "180 pF"),
        _DOUBLE_EDDY,
        ("9 mm", 0.81, 0.85),
        pair="double_covered_coil",
        coupling=0.18,
        outside=_DULL_AND_LOW.format(heavy="1.7"),
        screened=True,
        covered=True,
    ),
    _coil(
        "double_hot_coil",
        f"One coil of a side-by-side two-coil unit, hot. {_DOUBLE_HOT}",
        ("7.2 kΩ", "3.8 H", "190 pF"),
        _HOT_EDDY,
        ("9 mm", 1.09, 1.2),
        pair="double_hot_coil",
        coupling=0.15,
        outside=_HOT.format(heavy="1.0-1.4"),
        screened=True,
    ),
    _coil(
        "small_double_coil",
        f"One coil of a two-coil unit in the size of a narrow single, blade cores, medium. {_DOUBLE}",
        ("5.3 kΩ", "1.9 H", "165 pF"),
        _DOUBLE_EDDY,
        ("6 mm", 0.55, 0.7),
        pair="small_double_coil",
        coupling=0.16,
        outside=_DULL_AND_LOW.format(heavy="1.8"),
        screened=True,
    ),
    _coil(
        "small_double_hot_coil",
        f"One coil of a two-coil unit in the size of a narrow single, blade cores, hot. {_DOUBLE_HOT}",
        ("7.8 kΩ", "3.4 H", "180 pF"),
        _HOT_EDDY,
        ("6 mm", 0.7, 0.9),
        pair="small_double_hot_coil",
        coupling=0.15,
        outside=_HOT.format(heavy="1.1-1.5"),
        screened=True,
    ),
    _coil(
        "stacked_upper_coil",
        "Upper coil of two stacked in the size of a narrow single; it hears the strings. In series "
        "with its lower coil within the published 8-16 kΩ and 1-10 H; values and coupling are our own choice",
        ("4.2 kΩ", "1.9 H", "170 pF"),
        _ROD,
        ("8 mm", 0.7, 0.8),
        pair="stacked_lower_coil",
        coupling=-0.3,
    ),
    _coil(
        "stacked_lower_coil",
        "Lower coil of two stacked in the size of a narrow single; it hears little but the hum. In series "
        "with its upper coil within the published 8-16 kΩ and 1-10 H; values and coupling are our own choice",
        ("4.1 kΩ", "1.7 H", "175 pF"),
        _ROD_ON_PLATE,
        ("8 mm", 0.7, 0.1),
        pair="stacked_upper_coil",
        coupling=-0.3,
    ),
)

COILS: tuple[Entry, ...] = _SINGLES + _DOUBLES
