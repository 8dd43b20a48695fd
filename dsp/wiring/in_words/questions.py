"""What one says of a new instrument, and the answers there are.

One table for the page, the command and the requests. Pots, capacitors and places are common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dsp.parts.library.string_sets import STRING_SETS

PLACES: Mapping[str, float] = {"neck": 0.24, "middle": 0.156, "bridge": 0.069}
"""The places of pickups, neck first: the centre's distance from the bridge as a share of the scale."""
NONE, ONE, EACH = "none", "one", "each"
USUAL, BRIGHT, DARK = "usual", "bright", "dark"


@dataclass(frozen=True)
class PickupKind:
    """A kind of pickup.

    Attributes
    ----------
    title : str
        In the trade's words.
    entries : mapping of str to str
        Per place, the library's entry of its coil nearest to the neck, or of its upper one.
    apart_mm : float
        Between its two coils; 0 for stacked ones and for a single coil.
    """

    title: str
    entries: Mapping[str, str]
    apart_mm: float = 0.0


def _graded(stem: str) -> dict[str, str]:
    """The weak coil at the neck, the hot one at the bridge: levels stay near one another."""
    return dict(zip(PLACES, (f"{stem}_weak", f"{stem}_medium", f"{stem}_hot"), strict=True))


def _same(entry: str) -> dict[str, str]:
    return dict.fromkeys(PLACES, entry)


PICKUP_KINDS: Mapping[str, PickupKind] = {
    "single": PickupKind("single coil", _graded("narrow_single")),
    "wide_single": PickupKind("single coil, wide", _graded("wide_single")),
    "steel_single": PickupKind("single coil, steel cores", _graded("steel_single")),
    "humbucker": PickupKind(
        "humbucker",
        {"neck": "double_weak_coil", "middle": "double_weak_coil", "bridge": "double_medium_coil"},
        18.0,
    ),
    "humbucker_covered": PickupKind("humbucker under a metal cover", _same("double_covered_coil"), 18.0),
    "humbucker_hot": PickupKind("humbucker, hot", _same("double_hot_coil"), 18.0),
    "humbucker_small": PickupKind("small humbucker, the size of a single", _same("small_double_coil"), 9.0),
    "stacked": PickupKind("two coils stacked, the size of a single", _same("stacked_upper_coil")),
}
"""The kinds of pickup, in the order shown."""


@dataclass(frozen=True)
class Question:
    """Something to say of a new instrument.

    Attributes
    ----------
    name : str
        Its key in requests; the command's option.
    title : str
        What is asked, as a label.
    answers : mapping of str to str
        What may be answered, each in words.
    usual : str
        The answer where none is given.
    """

    name: str
    title: str
    answers: Mapping[str, str]
    usual: str


QUESTIONS: Mapping[str, Question] = {
    one.name: one
    for one in (
        *(
            Question(
                place,
                f"Pickup at the {place}" if place != "middle" else "Pickup in the middle",
                {NONE: "none", **{name: kind.title for name, kind in PICKUP_KINDS.items()}},
                NONE,
            )
            for place in PLACES
        ),
        Question(
            "volumes",
            "Volume",
            {ONE: "one for all", EACH: "one for each pickup", NONE: "none"},
            ONE,
        ),
        Question(
            "tones",
            "Tone",
            {ONE: "one for all", EACH: "one for each pickup", NONE: "none"},
            ONE,
        ),
        Question(
            "alone",
            "A volume at 0 silences",
            {ONE: "its own pickup alone", EACH: "every pickup that plays"},
            ONE,
        ),
        Question(
            "values",
            "Pots and capacitor",
            {USUAL: "usual for these pickups", BRIGHT: "brighter", DARK: "darker"},
            USUAL,
        ),
        Question("strings", "Strings", {one.name: one.title for one in STRING_SETS.values()}, "six_light"),
    )
}
"""Every question with a fixed list of answers, in the order asked."""

VALUES: Mapping[tuple[str, bool], tuple[str, str]] = {
    (USUAL, False): ("250 kΩ", "47 nF"),
    (USUAL, True): ("500 kΩ", "22 nF"),
    (BRIGHT, False): ("500 kΩ", "22 nF"),
    (BRIGHT, True): ("1 MΩ", "10 nF"),
    (DARK, False): ("250 kΩ", "100 nF"),
    (DARK, True): ("250 kΩ", "47 nF"),
}
"""Pot and tone capacitor by the words for them and whether any pickup has two coils."""
