"""A potentiometer: three lugs, a taper, and two resistances set by a knob."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from dsp.documents.field import Field, quantity
from dsp.documents.schema import SCALAR
from dsp.documents.tree import Items, Node, Reading
from dsp.documents.values import read_quantity
from dsp.errors import InputError
from dsp.parts.kind import Form, Pair, Part, Refuse, Symbol, Variable
from dsp.parts.taper import NAMES, Taper, from_points, linear, named
from dsp.units import show

KNOB_TOP = 10.0
"""A knob runs from 0 to this. At the top the wiper is at lug 3."""
KNOB_ALLOWED = f"a number from 0 to {KNOB_TOP:g}"
"""Allowed values of a knob, for error messages."""
JOINT_OHM = 1e-3
"""A wiper nearer to an end than this is at the end. Any solder joint has more resistance, and with
sixteen digits a smaller one cannot be told from a joint."""


@dataclass(frozen=True)
class Pot(Part):
    """A pot of given resistance and taper; lug 2 is the wiper.

    Attributes
    ----------
    resistance_ohm : float
        Track resistance.
    taper : Taper
        Share of the track between lugs 1 and 2 along the travel.
    end_resistance_ohm : float
        Resistance added at both ends of the track.
    """

    resistance_ohm: float
    taper: Taper = field(default_factory=linear)
    end_resistance_ohm: float = 0.0

    def segments(self, knob: float) -> tuple[float, float]:
        """Return the resistances of lugs 1-2 and 2-3 at a knob setting.

        Parameters
        ----------
        knob : float
            0 to 10.

        Returns
        -------
        tuple of float
            Both in ohm; exactly 0 if the wiper is on a bare end.

        Raises
        ------
        InputError
            If the knob is not a number from 0 to 10.

        Examples
        --------
        >>> Pot(500e3).segments(4.0)
        (200000.0, 300000.0)
        """
        if not 0.0 <= knob <= KNOB_TOP:
            raise InputError("knob", f"{knob:g}", KNOB_ALLOWED)
        share = float(self.taper.share(knob / KNOB_TOP))
        low = self.end_resistance_ohm + share * self.resistance_ohm
        high = self.end_resistance_ohm + (1.0 - share) * self.resistance_ohm
        return (0.0 if low < JOINT_OHM else low), (0.0 if high < JOINT_OHM else high)


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
    )
    forms: ClassVar[Mapping[str, Form]] = {"taper": Form(read_taper, _taper_schema)}

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Pot:
        """Build a pot."""
        return Pot(found["resistance"], _taper(found, refuse) or linear(), found.get("end_resistance", 0.0))

    def symbol(self, part: Pot) -> Symbol:
        """Draw a track with an arrow on it."""
        return Symbol(
            "M16 0V6 M11 6H21V30H11Z M16 30V36 M32 18H23 M27 15L23 18L27 21",
            (32, 36),
            {"1": (16, 36), "2": (32, 18), "3": (16, 0)},
        )

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
        return found

    def segments(self, part: Pot) -> tuple[Pair, ...]:
        """Return the lugs of the track on either side of the wiper."""
        return ("1", "2"), ("2", "3")

    def resistances(self, part: Pot, knob: float) -> tuple[float, ...]:
        """Return the resistances of lugs 1-2 and 2-3 with the knob at 0 to 10."""
        return part.segments(knob)

    def find_unjoined(self, loose: Sequence[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Yield findings: one end may be free, but never the wiper."""
        if "2" in loose or len(loose) > 1:
            yield "pot lug never joined", tuple(loose)


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
