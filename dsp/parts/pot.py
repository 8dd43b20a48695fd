"""A potentiometer: three lugs, a taper, and two resistances that a knob shares out."""

from __future__ import annotations

from dataclasses import dataclass, field

from dsp.errors import InputError
from dsp.parts.taper import Taper, linear

KNOB_TOP = 10.0
"""A knob runs from 0 to this; at the top the wiper stands at lug 3."""
KNOB_ALLOWED = f"a number from 0 to {KNOB_TOP:g}"
"""What an error says of a knob elsewhere."""
JOINT_OHM = 1e-3
"""A wiper nearer to an end than this stands on it: less than any solder joint has, and too little
to be told from a joint by a computation with sixteen digits."""


@dataclass(frozen=True)
class Pot:
    """A pot of given resistance and taper; lug 2 is the wiper.

    Attributes
    ----------
    resistance_ohm : float
        Track resistance.
    taper : Taper
        Share of the track between lugs 1 and 2 along the travel.
    end_resistance_ohm : float
        Added at both ends of the track.
    """

    resistance_ohm: float
    taper: Taper = field(default_factory=linear)
    end_resistance_ohm: float = 0.0

    def segments(self, knob: float) -> tuple[float, float]:
        """Resistance from lug 1 to 2 and from lug 2 to 3 at a knob setting.

        Parameters
        ----------
        knob : float
            0 to 10.

        Returns
        -------
        tuple of float
            Both in ohm; exactly 0 where the wiper stands on a bare end.

        Raises
        ------
        InputError
            If the knob is not a number from 0 to 10.
        """
        if not 0.0 <= knob <= KNOB_TOP:
            raise InputError("knob", f"{knob:g}", KNOB_ALLOWED)
        share = float(self.taper.share(knob / KNOB_TOP))
        low = self.end_resistance_ohm + share * self.resistance_ohm
        high = self.end_resistance_ohm + (1.0 - share) * self.resistance_ohm
        return (0.0 if low < JOINT_OHM else low), (0.0 if high < JOINT_OHM else high)
