"""Tracks of a knob used as a variable resistor: what is sold, and curves to ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.knobs.travel import STEPS
from dsp.parts.pot import KNOB_TOP
from dsp.parts.taper import SINGLE, Taper, from_points, named

Floats = NDArray[np.float64]
SOLD_OHM = (100e3, 250e3, 500e3, 1e6)
"""Track resistances in which guitar pots are sold (common practice)."""
ACROSS_OHM = (47e3, 100e3, 220e3, 470e3, 1e6)
"""E3 values of a resistor across the lugs in use, which tapers the track."""
CURVE_AT = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Shares of the travel at which a curve to ask for is given."""
VALUES = np.linspace(0.0, KNOB_TOP, STEPS + 1)
"""Knob values of a travel."""


@dataclass(frozen=True)
class Track:
    """A pot's track and what is soldered across it.

    Attributes
    ----------
    taper : Taper
        Share of the track between lugs 1 and 2.
    name : str
        The taper as a file names it; empty for a curve to ask for.
    across_ohm : float or None
        Resistor from the wiper to the other lug in use.
    end_ohm : float
        Resistance at both ends of the track.
    opens : bool
        The track opens at 10 beside the wiper, on the side of lug 1.
    """

    resistance_ohm: float
    taper: Taper
    name: str = ""
    across_ohm: float | None = None
    end_ohm: float = 0.0
    opens: bool = False

    def in_use(self, *, rising: bool) -> Floats:
        """Return the resistance in use at every value of the knob.

        Parameters
        ----------
        rising : bool
            Between lugs 1 and 2; otherwise between 2 and 3.

        Returns
        -------
        ndarray, shape (STEPS + 1,), ohm
            Infinite where the track is open.

        Examples
        --------
        >>> Track(500e3, named("audio"), "audio").in_use(rising=True)[[0, 10, 20]]
        array([     0.,  75000., 500000.])
        """
        share = self.taper.share(VALUES / KNOB_TOP)
        ohm = self.end_ohm + self.resistance_ohm * (share if rising else 1.0 - share)
        if self.opens and rising:
            ohm[-1] = np.inf
        if self.across_ohm is not None:
            with np.errstate(divide="ignore"):
                ohm = np.where(ohm > 0.0, 1.0 / (1.0 / ohm + 1.0 / self.across_ohm), 0.0)
        return np.asarray(ohm)


def sold_tracks(own_ohm: float, *, end_ohm: float, opens: bool) -> tuple[Track, ...]:
    """Return every track to try: resistance, taper, resistor across.

    Parameters
    ----------
    own_ohm : float
        Resistance of the present pot, tried besides `SOLD_OHM`.
    end_ohm, opens
        As the present pot has them.
    """
    return tuple(
        Track(ohm, named(name), name, across, end_ohm, opens)
        for ohm in sorted({own_ohm, *SOLD_OHM})
        for name in SINGLE
        for across in (None, *ACROSS_OHM)
    )


def even_curve(
    grid_ohm: Floats, way_db: Floats, resistance_ohm: float, *, end_ohm: float, rising: bool
) -> Taper | None:
    """Return the taper that makes equal ways on equal turns, in whole percent.

    Parameters
    ----------
    grid_ohm : ndarray, shape (n,)
        Resistances in use, rising.
    way_db : ndarray, shape (n,)
        Sum of the timbre distances from the first resistance on.
    resistance_ohm : float
        Of the track.

    Returns
    -------
    Taper or None
        None where nothing changes.
    """
    total = float(np.interp(end_ohm + resistance_ohm, grid_ohm, way_db))
    if total <= 0.0:
        return None
    parts = np.asarray(CURVE_AT) if rising else 1.0 - np.asarray(CURVE_AT)
    ohm = np.interp(parts * total, way_db, grid_ohm)
    share = np.clip((ohm - end_ohm) / resistance_ohm, 0.0, 1.0)
    share = np.round(share if rising else 1.0 - share, 2)
    share[0], share[-1] = 0.0, 1.0
    points: Sequence[tuple[float, float]] = list(zip(CURVE_AT, np.maximum.accumulate(share), strict=True))
    return from_points([(float(x), float(y)) for x, y in points])
