"""A piece of metal to ground: strings and bridge, a casing, a cover, a shield.

It has two terminals so that a wire may run on from it: both are the same piece of metal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from dsp.documents.field import Field
from dsp.documents.schema import NAME
from dsp.documents.values import read_names
from dsp.parts.kind import Form, Part, PartKind, Refuse, Symbol

STRINGS = "strings"
METALS: Mapping[str, str] = {
    STRINGS: "strings and bridge",
    "casing": "casing of a pot or switch",
    "cavity": "shield of the cavity",
    "plate": "control plate or scratch plate",
    "cover": "cover of a pickup",
    "baseplate": "baseplate of a pickup",
    "coil shield": "shield around a coil or its leads",
    "cable shield": "shield of a cable inside the instrument",
}
"""What a piece of metal may be, each with its words."""


@dataclass(frozen=True)
class Metal(Part):
    """A piece of metal.

    Attributes
    ----------
    of : str
        Key of `METALS`.
    on : tuple of str
        Parts that it belongs to, such as the coils under a cover.
    """

    of: str
    on: tuple[str, ...] = ()


class MetalKind(PartKind[Metal]):
    """Pieces of metal."""

    name = "metal"
    part = Metal
    lead_names = ("a", "b")
    fields = (
        Field("of", "choice", "what it is; strings stands for bridge too", "", 0.0, 0.0, tuple(METALS), True),
        Field("on", "names", "the parts it belongs to: the coils under a cover, the pot of a casing"),
    )
    forms: ClassVar[Mapping[str, Form]] = {
        "names": Form(read_names, lambda field: {"type": "array", "items": NAME}),
    }

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Metal:
        """Build a piece of metal."""
        return Metal(found["of"], tuple(found.get("on", ())))

    def symbol(self, part: Metal) -> Symbol:
        """Draw a hatched plate."""
        return Symbol(
            "M0 8H32 M6 8L2 14 M14 8L10 14 M22 8L18 14 M30 8L26 14", (32, 14), {"a": (0, 8), "b": (32, 8)}
        )

    def value_text(self, part: Metal) -> str:
        """Return what it is, and the parts it belongs to."""
        return f"{METALS[part.of]} ({', '.join(part.on)})" if part.on else METALS[part.of]

    def file_fields(self, part: Metal) -> dict[str, Any]:
        """Return the kind, what it is and the parts it belongs to."""
        return {"kind": self.name, "of": part.of, **({"on": list(part.on)} if part.on else {})}

    def one_piece(self, part: Metal) -> tuple[str, ...]:
        """Return both terminals: they are one piece."""
        return self.lead_names
