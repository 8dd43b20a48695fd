"""The table of dimensions, which drives reader, printer, messages and help.

A number without a unit is accepted where everyone means the same unit (ohms, henries, hertz,
seconds, decibels, a plain share). It is refused where nobody means the SI unit (farads, metres,
farads per metre). A prefix without a unit is refused where it is ambiguous: `m` for an ohm or
a hertz may be a slip for `M`, and on old capacitors `m` and `M` meant micro.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from dsp.units.dimension import EXACT, PREFIXES, Dimension, Unit

_FOOT_M = Decimal("0.3048")
_INCH_M = Decimal("0.0254")


def _printed(unit: str, prefixes: tuple[str, ...]) -> tuple[tuple[str, Decimal], ...]:
    return tuple((p + unit, PREFIXES[p] if p else Decimal(1)) for p in prefixes)


_RESISTANCE = Dimension(
    name="resistance",
    article="a",
    units=(
        Unit(("Ω", "ohm", "ohms", "Ohm", "Ohms"), prefixes=("m", "k", "K", "M", "meg", "Meg", "G")),
        Unit(("R",)),
    ),
    alone=("k", "K", "M", "meg", "Meg", "G"),
    points=("R", "k", "K", "M", "G"),
    bare="in Ω",
    printed=_printed("Ω", ("", "k", "M", "G")),
    examples=("4.7 kΩ", "4k7", "500k", "1 MΩ", "90 ohm"),
    note="m alone is refused: it may be milli or a slip for M (mega); write mΩ or MΩ",
)
_CAPACITANCE = Dimension(
    name="capacitance",
    article="a",
    units=(Unit(("F", "f", "farad", "farads"), prefixes=("p", "n", "µ")),),
    alone=("p", "n", "µ"),
    points=("p", "n", "µ"),
    bare="",
    printed=_printed("F", ("p", "n", "µ")),
    examples=("22 nF", "22n", "2n2", ".022uF", "470 pF"),
    note="m and M are refused: on old parts they stand for micro; write µF or uF",
)
_INDUCTANCE = Dimension(
    name="inductance",
    article="an",
    units=(Unit(("H", "h", "henry", "henries"), prefixes=("n", "µ", "m")),),
    alone=("n", "µ", "m"),
    points=("H", "n", "µ", "m"),
    bare="in H",
    printed=_printed("H", ("µ", "m", "")),
    examples=("2.5 H", "2H5", "350 mH"),
    note="M (mega) is refused; milli is m",
)
_LENGTH = Dimension(
    name="length",
    article="a",
    units=(
        Unit(("mm",), Decimal("1e-3")),
        Unit(("cm",), Decimal("1e-2")),
        Unit(("m",)),
        Unit(("in", "inch", "inches", '"', "″"), _INCH_M),
        Unit(("ft", "foot", "feet"), _FOOT_M),
    ),
    alone=(),
    points=(),
    bare="",
    printed=(("mm", Decimal("1e-3")), ("m", Decimal(1))),
    examples=("168 mm", "16.8 cm", "5 m", "0.046 in"),
    note="a number alone is refused: it may be millimetres or inches",
)
_AREA = Dimension(
    name="area",
    article="an",
    units=(Unit(("m²", "m2")), Unit(("cm²", "cm2"), Decimal("1e-4"))),
    alone=(),
    points=(),
    bare="",
    printed=(("m²", Decimal(1)),),
    examples=("5.9 m²", "31000 cm²"),
    note="a number alone is refused: it may be m² or cm²",
)
_FREQUENCY = Dimension(
    name="frequency",
    article="a",
    units=(Unit(("Hz", "hz", "HZ"), prefixes=("k", "K", "M")),),
    alone=("k", "K", "M"),
    points=("k", "K", "M"),
    bare="in Hz",
    printed=_printed("Hz", ("", "k", "M")),
    examples=("3.2 kHz", "3k2", "440 Hz"),
)
_SHARE = Dimension(
    name="share",
    article="a",
    units=(Unit(("%",), Decimal("1e-2")),),
    alone=(),
    points=(),
    bare="the share itself (0.18 is 18 %)",
    printed=(("%", Decimal("1e-2")),),
    examples=("18 %", "0.18"),
)
_PER_LENGTH = Dimension(
    name="capacitance per length",
    article="a",
    units=(
        Unit(("F/m", "f/m"), prefixes=("p", "n")),
        Unit(("F/ft", "f/ft"), EXACT.divide(Decimal(1), _FOOT_M), prefixes=("p", "n")),
    ),
    alone=(),
    points=(),
    bare="",
    printed=_printed("F/m", ("p", "n")),
    examples=("100 pF/m", "30 pF/ft"),
)
_LEVEL = Dimension(
    name="level",
    article="a",
    units=(Unit(("dB", "db")),),
    alone=(),
    points=(),
    bare="in dB",
    printed=(("dB", Decimal(1)),),
    examples=("-3 dB", "-3"),
)
_NUMBER = Dimension(
    name="number",
    article="a",
    units=(),
    alone=(),
    points=(),
    bare="the number itself",
    printed=(("", Decimal(1)),),
    examples=("1.0", "-0.12"),
)
_TIME = Dimension(
    name="time",
    article="a",
    units=(Unit(("s", "sec"), prefixes=("µ", "m")), Unit(("min",), Decimal(60))),
    alone=(),
    points=(),
    bare="in s",
    printed=_printed("s", ("µ", "m", "")),
    examples=("2.5 s", "250 ms", "3 min"),
    note="m alone is refused: it may be milliseconds or minutes",
)

DIMENSIONS: Mapping[str, Dimension] = {
    row.name: row
    for row in (
        _RESISTANCE,
        _CAPACITANCE,
        _INDUCTANCE,
        _LENGTH,
        _AREA,
        _FREQUENCY,
        _SHARE,
        _PER_LENGTH,
        _LEVEL,
        _NUMBER,
        _TIME,
    )
}
