"""The fields of a wiring file, except those of its parts, which the kinds list.

The reader, the JSON Schema, `presolder parts --fields` and the documents follow these tables and
those of the kinds. Bounds are far wider than the trade's values. A value beyond them is a typing error.
"""

from __future__ import annotations

from dsp.documents.field import Field, quantity
from dsp.parts.instrument import WRAPS

MOST_PLACE = 20_000.0
"""Farthest place of the drawing, in its units; a part is some 100 wide."""
COMMON: tuple[Field, ...] = (
    Field("like", "library", "a part of the library to start from"),
    Field(
        "ganged",
        "partner",
        "{part: NAME}: on the same shaft as that part; two pots turn together unless it says turns: apart",
    ),
    Field(
        "tolerance",
        "tolerance",
        "how far its values may be off: 10 %, or for a field each {resistance: 20 %, inductance: 5 %}",
    ),
)
"""Fields that a part of any kind may have."""

GANGED_FIELDS: tuple[Field, ...] = (
    Field("part", "words", "the part whose shaft it shares", required=True),
    Field(
        "turns",
        "choice",
        "two pots: one knob turns both, or each has its own, one knob above the other",
        choices=("together", "apart"),
        default="together",
    ),
)
TOLERANCE = Field("tolerance", "quantity", "how far a value may be off", "share", 0.0, 0.9)
STRING_FIELDS: tuple[Field, ...] = (
    Field("note", "note", "open pitch, such as F#3", required=True),
    quantity("gauge", "length", (5e-5, 1e-2), "diameter"),
    Field("wound", "choice", "wound or plain", choices=("true", "false"), default="false"),
    Field("core", "quantity", "diameter of a wound string's core, if known", "length", 5e-5, 5e-3),
    Field("wrap", "choice", "what a wound string is wrapped with", choices=WRAPS, default=WRAPS[0]),
)
INSTRUMENT_FIELDS: tuple[Field, ...] = (
    quantity("scale", "length", (0.1, 3.0), "nut to bridge"),
    Field("strings", "strings", "lowest first"),
)
CABLE_FIELDS: tuple[Field, ...] = (
    quantity("length", "length", (0.0, 1e3), "cable length"),
    quantity("capacitance", "capacitance per length", (0.0, 1e-7), "capacitance per metre"),
)
AMPLIFIER_FIELDS: tuple[Field, ...] = (
    quantity("resistance", "resistance", (1.0, 1e12), "input resistance", "1 MΩ"),
    quantity("capacitance", "capacitance", (0.0, 1e-6), "input capacitance", "0 F"),
)
COUPLING_FIELDS: tuple[Field, ...] = (
    Field("coils", "pair", "two coils of one housing, or inductors on one core", required=True),
    quantity(
        "coefficient",
        "number",
        (-1.0, 1.0),
        "k = (L aiding - L opposing) / (4 sqrt(L1 L2)) as a meter gives it at low frequency, dots at the "
        "starts; about 0.16 side by side, below 0 only for coils stacked on one axis",
    ),
)
JOINT_FIELDS: tuple[Field, ...] = (
    Field("leads", "terminals", "leads and lugs soldered together: volume.2, output.tip", required=True),
)
DRAWING_FIELDS: tuple[Field, ...] = (
    Field(
        "places",
        "places",
        "{NAME: [x, y, turn]}: where the drawing shows a part (a pickup by its first coil), on a grid of 10; "
        "quarter turns 0 to 3, of a switch 1 sides exchanged, 2 upside down, 3 both",
        "",
        -MOST_PLACE,
        MOST_PLACE,
    ),
    Field(
        "wires",
        "runs",
        "[volume.3, tone.2]: wires to run from lug to lug; a wire between lugs of two joints is ignored",
    ),
)
OUTPUT_FIELD = Field("output", "choice", "the jack, or its ring, at which everything is computed")
LABEL_FIELDS: tuple[Field, ...] = (Field("label", "words", "what the position is called"),)
TOP_KEYS: tuple[str, ...] = (
    "format", "name", "instrument", "parts", "selector", "couplings", "joints", "labels", "load", "ganged",
    "output", "drawing",
)  # fmt: skip
