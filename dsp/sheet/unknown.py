"""What a wiring file does not tell the builder, and what the sheet takes instead."""

from __future__ import annotations

from collections.abc import Iterator

from dsp.parts.kinds import kind_of, pots_of, switches_of
from dsp.wiring.model import Wiring

RATINGS = {
    "capacitor": "50 V and more for capacitors",
    "resistor": "0.1 W and more for resistors",
    "pot": "0.1 W and more for pots",
}
"""Ratings that serve where a circuit carries a few volts at most: common practice."""


def unknown_texts(wiring: Wiring) -> Iterator[str]:
    """Yield what the file does not state, each with what stands in for it."""
    kinds = {kind_of(part).name for part in wiring.parts.values()}
    ratings = [text for kind, text in RATINGS.items() if kind in kinds]
    if ratings:
        yield f"Ratings: the signal is a few volts at most; {', '.join(ratings)} serve (common practice)"
    if pots_of(wiring.parts):
        yield "Shafts, bushings and the places of lugs: see the parts in hand"
    if placeless := [name for name, coil in wiring.coils.items() if coil.at_m is None]:
        yield f"The place of {', '.join(placeless)}: default lengths are given"
    timeless = [name for name, switch in switches_of(wiring.parts).items() if not switch.timing]
    if timeless:
        yield f"What {', '.join(timeless)} does first, open or close: the notes below tell both"
