"""A named group: parts soldered together that a sketch places as one, by two leads.

The joints say what is inside: everything soldered to either lead, and to that, until the leads again.
A volume with its pickup is a group, or a pickup with its tone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dsp.parts.kind import Part, PartKind, Refuse, Symbol


@dataclass(frozen=True)
class Group(Part):
    """Two leads between which other parts are soldered."""


class GroupKind(PartKind[Group]):
    """Groups."""

    name = "group"
    part = Group
    lead_names = ("hot", "cold")

    def ends(self) -> tuple[str, str]:
        """Return both leads."""
        return "hot", "cold"

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Group:
        """Build a group."""
        return Group()

    def symbol(self, part: Group) -> Symbol:
        """Draw a box with a lead at each end."""
        return Symbol("M16 0V6 M6 6H26V30H6Z M16 30V36", (32, 36), {"hot": (16, 0), "cold": (16, 36)})

    def file_fields(self, part: Group) -> dict[str, Any]:
        """Return the kind."""
        return {"kind": self.name}
