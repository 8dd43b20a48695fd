"""The table of what a part of each kind may say in a wiring file.

One truth: the reader, the JSON Schema, `presolder parts --fields` and the documents all
follow this table. A field's bounds keep absurd values out; they are far wider than what the
trade uses, and their reason is only that a value beyond them is a slip of the pen.
"""

from __future__ import annotations

from dsp.documents.field import Field, quantity

_OHMS = (1e-3, 1e10)
_RESISTANCE = quantity("resistance", "resistance", _OHMS, "resistance")

KINDS: dict[str, tuple[Field, ...]] = {
    "coil": (
        quantity("resistance", "resistance", (1e-2, 1e6), "DC resistance at 20 °C"),
        quantity("inductance", "inductance", (1e-6, 1e3), "low-frequency inductance, eddy share included"),
        quantity("capacitance", "capacitance", (1e-14, 1e-6), "winding and lead, across both leads"),
        Field("eddy", "eddy", "losses: list of {share, corner}, each a share of the inductance"),
        Field("at", "quantity", "centre of the coil, from the bridge", "length", 1e-3, 3.0),
        quantity("aperture", "length", (1e-4, 0.2), "length of string it senses", "10 mm"),
        Field("winding", "choice", "winding direction", choices=("forward", "reverse"), default="forward"),
        Field("magnet", "choice", "pole facing the strings", choices=("north", "south"), default="north"),
        quantity("sensitivity", "number", (1e-6, 1e6), "volts per metre/second of string velocity", "1"),
        Field("string_balance", "levels", "dB per string, lowest first", "level", -60.0, 60.0),
        quantity("turns_area", "number", (0.0, 1e6), "relative hum pick-up", "1"),
    ),
    "pot": (
        quantity("resistance", "resistance", (1.0, 1e9), "track resistance"),
        Field(
            "taper",
            "taper",
            "how the track is shared along the travel, or a list of [travel, share] points",
            choices=("linear", "audio", "reverse audio", "measured audio"),
            default="linear",
        ),
        Field(
            "midpoint",
            "quantity",
            "audio tapers: share of the resistance at 5",
            "share",
            1e-6,
            1 - 1e-6,
        ),
        quantity("end_resistance", "resistance", (0.0, 1e6), "added at both ends of the track", "0"),
    ),
    "capacitor": (quantity("capacitance", "capacitance", (1e-15, 1.0), "capacitance"),),
    "resistor": (_RESISTANCE,),
    "inductor": (
        quantity("inductance", "inductance", (1e-9, 1e4), "inductance"),
        quantity("resistance", "resistance", (0.0, 1e7), "DC resistance of its winding", "0"),
    ),
    "switch": (
        Field("lugs", "lugs", "names of the lugs"),
        Field("contacts", "contacts", "per position, the groups of lugs the switch joins"),
        Field("poles", "count", "shorthand: number of poles, instead of lugs and contacts", "", 1, 24),
        Field("positions", "count", "shorthand: number of positions", "", 1, 24),
    ),
    "sketch": (
        Field("positions", "expressions", "per position, an expression over coils and parts", required=True),
    ),
    "jack": (),
}

COMMON: tuple[Field, ...] = (
    Field("like", "library", "a part of the library to start from"),
    Field("ganged", "partner", "{part: NAME}: sits on the same shaft as that part; for drawings"),
)
"""Fields that a part of any kind may have."""

LEADS: dict[str, tuple[str, ...]] = {
    "coil": ("start", "finish"),
    "pot": ("1", "2", "3"),
    "capacitor": ("a", "b"),
    "resistor": ("a", "b"),
    "inductor": ("a", "b"),
    "sketch": ("hot", "cold"),
    "jack": ("tip", "sleeve"),
}
"""Terminals of each kind; a switch's are its lugs."""

EDDY_FIELDS: tuple[Field, ...] = (
    quantity("share", "share", (1e-6, 1.0), "share of the coil's inductance"),
    quantity("corner", "frequency", (1.0, 1e7), "R / (2 pi L_share)"),
)
STRING_FIELDS: tuple[Field, ...] = (
    Field("note", "note", "open pitch, such as F#3", required=True),
    quantity("gauge", "length", (5e-5, 1e-2), "diameter"),
    Field("wound", "choice", "wound or plain", choices=("true", "false"), default="false"),
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
    Field("coils", "pair", "two coils of one housing", required=True),
    quantity("coefficient", "number", (-1.0, 1.0), "coupling coefficient, -1 < k < 1"),
)
JOINT_FIELDS: tuple[Field, ...] = (
    Field("leads", "terminals", "leads and lugs soldered together: volume.2, output.tip", required=True),
)
LABEL_FIELDS: tuple[Field, ...] = (Field("label", "words", "what the position is called"),)
TOP_KEYS: tuple[str, ...] = (
    "format", "name", "instrument", "parts", "selector", "couplings", "joints", "labels", "load", "ganged",
)  # fmt: skip
