"""What a wiring is made of, for those who do not solder: parts with their counts, and joints by parts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from dsp.parts.kinds import is_sensing
from dsp.sheet.parts_list import list_parts
from dsp.sheet.steps import ground_of, whole_joints
from dsp.wiring.model import Wiring

TO_DESIGN = "switch that is still to be designed"


@dataclass(frozen=True)
class PartCount:
    """Parts that are alike.

    Attributes
    ----------
    text : str
        What they are: kind, value, taper and the like.
    names : tuple of str
        Their names in the file.
    """

    text: str
    names: tuple[str, ...]

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self.names)


@dataclass(frozen=True)
class SolderedJoint:
    """A joint by the parts that it joins.

    Attributes
    ----------
    parts : tuple of str
        Each once, in the file's order.
    points : int
        Leads and lugs.
    ground : bool
        Whether the sleeve of the output is in it.
    """

    parts: tuple[str, ...]
    points: int
    ground: bool


def count_parts(wiring: Wiring, names: Collection[str]) -> tuple[PartCount, ...]:
    """Return the named parts, those alike together, in the file's order."""
    alike: dict[str, list[str]] = {}
    for row in list_parts(wiring):
        if row.name in names:
            words = (row.kind, row.value, *row.about)
            text = TO_DESIGN if row.name in wiring.sketches else ", ".join(filter(None, words))
            alike.setdefault(text, []).append(row.name)
    return tuple(PartCount(text, tuple(found)) for text, found in alike.items())


def pickup_coils(wiring: Wiring) -> tuple[str, ...]:
    """Return the names of the parts that sense the strings."""
    return tuple(name for name, part in wiring.parts.items() if is_sensing(part))


def list_joints(wiring: Wiring) -> tuple[SolderedJoint, ...]:
    """Return every joint of two leads or lugs and more."""
    whole = whole_joints(wiring)
    ground = ground_of(whole)
    return tuple(
        SolderedJoint(
            tuple(name for name in wiring.parts if any(part == name for part, _ in joint.terminals)),
            len(joint.terminals),
            joint.terminals[0] in ground,
        )
        for joint in whole.joints
        if len(joint.terminals) > 1
    )
