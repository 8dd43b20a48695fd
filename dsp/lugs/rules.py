"""The rules of a lug chart besides its sounds."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.errors import InputError

FREE, FIXED = "free", "fixed"
ORDERS = (FREE, FIXED)


@dataclass(frozen=True)
class ChartRules:
    """The rules that a person sets for a chart.

    Attributes
    ----------
    order : {"free", "fixed"}
        Whether the chart may change the order of the sounds along the switch.
    hanging : bool
        An unused coil may hang by one lead from a live point, where it picks up buzz.
    shorted : bool
        An unused coil may have its leads joined. Coils coupled to others never may.
    turning : bool
        A sound may have its absolute polarity reversed, which is inaudible by itself.
    spare_joints : int
        Most joints of lugs without a lead.
    """

    order: str = FREE
    hanging: bool = False
    shorted: bool = True
    turning: bool = True
    spare_joints: int = 2

    def __post_init__(self) -> None:
        if self.order not in ORDERS:
            raise InputError("order", repr(self.order), " or ".join(ORDERS))
        if not 0 <= self.spare_joints <= 8:
            raise InputError("spare_joints", str(self.spare_joints), "0 to 8")
