"""What can be added to a wiring, with the values that a new part starts with.

The values are common practice: a medium coil, 500 kΩ, 22 nF. One changes them where the part stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

PICKUP = "pickup"
"""The addition that is two coils in one housing."""


@dataclass(frozen=True)
class Addition:
    """A thing to add.

    Attributes
    ----------
    name : str
        Its key; a kind's name, but for `PICKUP`.
    title, about : str
        In the trade's words.
    kind : str
        Of the part, or of its two.
    stems : tuple of str
        Names to call it, the first free one; the last with a number where none is free.
    like : str
        Entry of the library that it starts from; empty for a part with values of its own.
    fields : mapping of str to str
        Values of its own, as a file writes them.
    """

    name: str
    title: str
    about: str
    kind: str
    stems: tuple[str, ...] = ()
    like: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)


ADDITIONS: Mapping[str, Addition] = {
    one.name: one
    for one in (
        Addition(
            "coil", "Coil", "a single coil, at the first free place along the strings", "coil",
            ("coil",), like="narrow_single_medium",
        ),
        Addition(
            PICKUP, "Two-coil pickup", "a humbucker: two coupled coils, one reversed in winding and magnet",
            "coil", ("pickup",), like="double_medium_coil",
        ),
        Addition(
            "pot", "Pot", "a volume or tone control", "pot", ("volume", "tone", "tone_2", "pot"),
            fields={"resistance": "500 kΩ", "taper": "audio"},
        ),
        Addition(
            "capacitor", "Capacitor", "for a tone control or a bypass", "capacitor", ("tone_cap", "cap"),
            fields={"capacitance": "22 nF"},
        ),
        Addition(
            "resistor", "Resistor", "across a control or in series with a coil", "resistor", ("resistor",),
            fields={"resistance": "150 kΩ"},
        ),
        Addition(
            "inductor", "Choke", "an inductor for a mid cut", "inductor", ("choke",),
            fields={"inductance": "1.5 H", "resistance": "90 Ω"},
        ),
        Addition(
            "switch", "Switch", "a selector, a toggle or a push-pull; choose which one afterwards", "switch",
            ("selector", "switch"), like="toggle_on_on",
        ),
        Addition("jack", "Jack", "where the cable plugs in", "jack", ("output", "jack")),
        Addition(
            "sketch", "Sketched selector", "sounds written as expressions, before a switch is chosen",
            "sketch", ("selector", "sketch"),
        ),
        Addition(
            "transformer", "Transformer", "two windings, for low-impedance coils", "transformer",
            ("transformer",), fields={"ratio": "1"},
        ),
        Addition(
            "group", "Group", "parts soldered together that a sketch places as one", "group", ("group",)
        ),
        Addition(
            "metal", "Metal to ground", "strings and bridge, a casing, a cover, a shield", "metal",
            ("strings", "metal"), fields={"of": "strings"},
        ),
    )
}  # fmt: skip
"""Everything that can be added, in the order shown: one for every kind of part, and the pickup."""
