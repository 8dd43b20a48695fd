"""What a chart must keep to beside giving its sounds."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.errors import InputError

FREE, FIXED = "free", "fixed"
ORDERS = (FREE, FIXED)


@dataclass(frozen=True)
class ChartRules:
    """What a person asks of a chart.

    Attributes
    ----------
    order : {"free", "fixed"}
        Whether the sounds may be put on other switch positions than in the order wanted.
    hanging : bool
        An unused coil may hang by one lead from something live, where it picks up buzz.
    shorted : bool
        An unused coil may have its leads joined. Coils coupled to others never may.
    turning : bool
        A sound may come out with its absolute polarity reversed, which alone is not heard.
    spare_joints : int
        Joints of lugs alone, without any lead, that may be used beside those of the leads.
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
