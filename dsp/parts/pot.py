"""A potentiometer: its lugs, its taper, and the resistances that a knob sets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from dsp.documents.field import Field, quantity
from dsp.documents.schema import SCALAR
from dsp.documents.tree import Items, Node, Reading
from dsp.documents.values import read_quantity
from dsp.errors import InputError
from dsp.parts.kind import Form, Pair, Part, Refuse, Stretch, Symbol, Variable
from dsp.parts.taper import NAMES, Taper, from_points, linear, named
from dsp.units import show

TAP_LUG = "4"
KNOB_TOP = 10.0
"""A knob runs from 0 to this. At the top the wiper is at lug 3."""
KNOB_ALLOWED = f"a number from 0 to {KNOB_TOP:g}"
"""Allowed values of a knob, for error messages."""
JOINT_OHM = 1e-3
"""A wiper nearer to an end than this is at the end. Any solder joint has more resistance, and with
sixteen digits a smaller one cannot be told from a joint."""
OPEN_OHM = float("inf")
"""Between lugs with no track between them."""


@dataclass(frozen=True)
class Pot(Part):
    """A pot of given resistance and taper; lug 2 is the wiper, lug 4 a tap.

    Attributes
    ----------
    resistance_ohm : float
        Track resistance.
    taper : Taper
        Share of the track between lugs 1 and 2 along the travel.
    end_resistance_ohm : float
        Resistance added at both ends of the track.
    no_load : bool
        At 10 the track opens beside the wiper: lug 2 is at lug 3, and lug 1 is cut off.
    tap : float or None
        Share of the track between lug 1 and a fourth lug.
    detent : float or None
        Of a pot that clicks at 5: how far the share there may be from the taper's.
    """

    resistance_ohm: float
    taper: Taper = field(default_factory=linear)
    end_resistance_ohm: float = 0.0
    no_load: bool = False
    tap: float | None = None
    detent: float | None = None

    def segments(self, knob: float) -> tuple[float, ...]:
        """Return the resistances between lugs at a knob setting.

        Parameters
        ----------
        knob : float
            0 to 10.

        Returns
        -------
        tuple of float
            Of lugs 1-2 and 2-3, then of a tapped track 1-4, 4-3 and 2-4, ohm. Exactly 0 where the
            wiper is on a bare end or on the tap; infinite where the track is open or another lug
            lies between.

        Raises
        ------
        InputError
            If the knob is not a number from 0 to 10.

        Examples
        --------
        >>> Pot(500e3).segments(4.0)
        (200000.0, 300000.0)
        >>> Pot(500e3, no_load=True).segments(10.0)
        (inf, 0.0)
        >>> Pot(500e3, tap=0.5).segments(7.5)
        (inf, 125000.0, 250000.0, inf, 125000.0)
        """
        if not 0.0 <= knob <= KNOB_TOP:
            raise InputError("knob", f"{knob:g}", KNOB_ALLOWED)
        share = float(self.taper.share(knob / KNOB_TOP))
        stretches = self.stretches()
        at_top = knob == KNOB_TOP
        stretch = next((one for one in stretches if one.at_top and at_top), None) or next(
            one for one in stretches if share < one.last or one.last == 1.0
        )
        way = (share - stretch.first) / max(stretch.last - stretch.first, 1e-300)
        return tuple(_between(ends, way) for ends in stretch.ohms)

    def stretches(self) -> tuple[Stretch, ...]:
        """Return the stretches beside a tap, then the top where it opens."""
        end, track = self.end_resistance_ohm, self.resistance_ohm
        gone = OPEN_OHM, OPEN_OHM
        if self.tap is None:
            whole = (end, end + track), (end + track, end)
            found = [Stretch(0.0, 1.0, whole)]
            top: tuple[tuple[float, float], ...] = gone, (end, end)
        else:
            first, last = end + self.tap * track, end + (1.0 - self.tap) * track
            below, above = self.tap * track, (1.0 - self.tap) * track
            lower = (end, first), gone, gone, (last, last), (below, 0.0)
            upper = gone, (last, end), (first, first), gone, (0.0, above)
            found = [Stretch(0.0, self.tap, lower), Stretch(self.tap, 1.0, upper)]
            # the gap is beside the wiper: the tap keeps its way to lug 1
            top = gone, (end, end), (first, first), gone, gone
        return (*found, Stretch(1.0, 1.0, top, at_top=True)) if self.no_load else tuple(found)


def _between(ends: tuple[float, float], way: float) -> float:
    first, last = ends
    return _or_joint(first if first == last else first + (last - first) * way)


def _or_joint(ohm: float) -> float:
    return 0.0 if ohm < JOINT_OHM else ohm


Written = str | tuple[tuple[float, float], ...] | None
"""A taper as a file writes it: a name, or its points; None after a problem."""


def read_taper(reading: Reading, node: Node, what: str) -> Written:
    """Read a taper's name or its points; `PotKind.build` checks them."""
    if not isinstance(node, Items):
        return reading.text(node, what)
    number = Field("point", "quantity", "", "number", 0.0, 1.0)
    points = []
    for item in node.items:
        pair = [read_quantity(reading, number, part, what) for part in reading.items(item, what)]
        if len(pair) != 2:
            reading.refuse(item, what, "points of two numbers: [travel, share]")
        elif pair[0] is not None and pair[1] is not None:
            points.append((pair[0], pair[1]))
    return tuple(points)


def _taper_schema(field: Field) -> dict[str, Any]:
    point = {"type": "array", "items": SCALAR, "minItems": 2, "maxItems": 2}
    return {"anyOf": [{"enum": list(field.choices)}, {"type": "array", "items": point}]}


class PotKind(Variable[Pot]):
    """Pots."""

    name = "pot"
    part = Pot
    lead_names = ("1", "2", "3")
    fields = (
        quantity("resistance", "resistance", (1.0, 1e9), "track resistance"),
        Field(
            "taper",
            "taper",
            "how the track is shared along the travel, or a list of [travel, share] points",
            choices=NAMES,
            default="linear",
        ),
        Field("midpoint", "quantity", "audio tapers: share of the resistance at 5", "share", 1e-6, 1 - 1e-6),
        quantity("end_resistance", "resistance", (0.0, 1e6), "added at both ends of the track", "0"),
        Field(
            "no_load",
            "choice",
            "true: at 10 the track opens, and lug 1 is cut off from lugs 2 and 3",
            choices=("true", "false"),
            default="false",
        ),
        Field("tap", "quantity", "share of the track between lug 1 and a fourth lug", "share", 0.01, 0.99),
        Field(
            "detent",
            "quantity",
            "it clicks at 5: how far the share there may be from the taper's",
            "share",
            0.0,
            0.5,
        ),
    )
    forms: ClassVar[Mapping[str, Form]] = {"taper": Form(read_taper, _taper_schema)}

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Pot:
        """Build a pot."""
        return Pot(
            found["resistance"],
            _taper(found, refuse) or linear(),
            found.get("end_resistance", 0.0),
            found.get("no_load") == "true",
            found.get("tap"),
            found.get("detent"),
        )

    def ends(self) -> tuple[str, str]:
        """Return lugs 1 and 2: a variable resistor, whole at 10."""
        return "1", "2"

    def leads(self, part: Pot) -> tuple[str, ...]:
        """Return three lugs, and that of a tap."""
        return self.lead_names if part.tap is None else (*self.lead_names, TAP_LUG)

    def symbol(self, part: Pot) -> Symbol:
        """Draw a track with an arrow on it, and a tap on its other side."""
        strokes = "M16 0V6 M11 6H21V30H11Z M16 30V36 M32 18H23 M27 15L23 18L27 21"
        leads = {"1": (16.0, 36.0), "2": (32.0, 18.0), "3": (16.0, 0.0)}
        if part.tap is not None:
            strokes += " M0 18H11"
            leads[TAP_LUG] = (0.0, 18.0)
        return Symbol(strokes, (32, 36), leads)

    def value_text(self, part: Pot) -> str:
        """Return the track resistance as text."""
        return show(part.resistance_ohm, "resistance", 3)

    def file_fields(self, part: Pot) -> dict[str, Any]:
        """Return the resistance, and the fields that differ from the default."""
        found: dict[str, Any] = {"kind": self.name, "resistance": self.value_text(part)}
        if part.taper != linear():
            name = next((name for name in NAMES if named(name) == part.taper), None)
            found["taper"] = name or [[f"{x:.6g}" for x in point] for point in part.taper.points]
        if part.end_resistance_ohm:
            found["end_resistance"] = show(part.end_resistance_ohm, "resistance", 3)
        if part.no_load:
            found["no_load"] = "true"
        shares = {"tap": part.tap, "detent": part.detent}
        return found | {name: show(share, "share", 3) for name, share in shares.items() if share is not None}

    def segments(self, part: Pot) -> tuple[Pair, ...]:
        """Return the lugs of the track on either side of the wiper and of a tap."""
        pairs = ("1", "2"), ("2", "3")
        return pairs if part.tap is None else (*pairs, ("1", TAP_LUG), (TAP_LUG, "3"), ("2", TAP_LUG))

    def taper(self, part: Pot) -> Taper:
        """Return the pot's taper."""
        return part.taper

    def stretches(self, part: Pot) -> tuple[Stretch, ...]:
        """Return the stretches of the pot's track."""
        return part.stretches()

    def resistances(self, part: Pot, knob: float) -> tuple[float, ...]:
        """Return each segment's resistance with the knob at 0 to 10, ohm."""
        return part.segments(knob)

    def find_unjoined(self, part: Pot, loose: Sequence[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Yield findings: one end may be free if it does not open."""
        if {"2", TAP_LUG} & {*loose} or len(loose) > 1:
            yield "pot lug never joined", tuple(loose)
        elif part.no_load and "1" in loose:
            yield "open track not used", ("1",)


def _taper(found: Mapping[str, Any], refuse: Refuse) -> Taper | None:
    """Return the taper in the fields; None for none, or after a problem."""
    written, midpoint = found.get("taper"), found.get("midpoint")
    if written is None:
        if midpoint is not None:
            refuse("a midpoint with taper: audio or reverse audio only", got="midpoint")
        return None
    try:
        if isinstance(written, str):
            return named(written.strip().lower(), midpoint)
        if midpoint is not None:
            refuse("either a list of points or a midpoint", got="both", place=".taper", path=("taper",))
        return from_points(written)
    except InputError as error:
        for one in error.problems:
            refuse(one.allowed, got=one.got, hint=one.hint, place=".taper", path=("taper",))
        return None
