"""The output jack."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.parts.kind import Part, PartKind, Refuse, Symbol


@dataclass(frozen=True)
class Jack(Part):
    """The output jack: tip (signal) and sleeve (the circuit's reference)."""


class JackKind(PartKind[Jack]):
    """Jacks."""

    name = "jack"
    part = Jack
    lead_names = ("tip", "sleeve")

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Jack:
        """Build a jack."""
        return Jack()

    def symbol(self, part: Jack) -> Symbol:
        """Draw the tip's spring over the sleeve's ring."""
        return Symbol(
            "M0 6H18L22 10L26 6 M0 26H30V14 M26 14H34V26H26Z", (36, 32), {"tip": (0, 6), "sleeve": (0, 26)}
        )

    def file_fields(self, part: Jack) -> dict[str, Any]:
        """Return the kind."""
        return {"kind": self.name}

    def find_unjoined(self, part: Jack, loose: Sequence[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Yield a finding for each loose lead: a jack needs both."""
        for lead in loose:
            yield "jack lug never joined", (lead,)
