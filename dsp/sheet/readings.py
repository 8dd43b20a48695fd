"""What an ohmmeter shows at the jack, with the band that tolerances and the room's warmth leave.

The resistance between two terminals of a network of resistors never falls when one of them rises
(Rayleigh's monotonicity law). So the lowest reading is that of every resistance at its lowest, the
highest that of every one at its highest, and no other corner needs to be computed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from itertools import product
from math import isinf
from typing import Any

from dsp.circuit.meter import jack_reading_ohm
from dsp.parts.kind import Part
from dsp.parts.kinds import inductive_of, kind_of
from dsp.parts.spreads import COPPER_PER_K, usual_tolerances
from dsp.units import show
from dsp.wiring.model import Setting, Wiring

USUAL_TOLERANCES = usual_tolerances("resistance")
"""Tolerance of a resistance where the file states none."""
ROOM_C = (15.0, 30.0)
"""A coil's resistance is that at 20 °C; the bench may be anywhere between."""
MOST_SETTINGS = 24
"""Beyond this many positions of all switches together, each other switch moves alone."""


@dataclass(frozen=True)
class Reading:
    """What a meter shows at the jack, the cable out, every knob at 10.

    Attributes
    ----------
    ohm, low_ohm, high_ohm : float
        Infinite where nothing conducts.
    """

    setting: Setting
    ohm: float
    low_ohm: float
    high_ohm: float

    def text(self) -> str:
        """Return the reading in words."""
        if isinf(self.ohm):
            return "open"
        return show(self.ohm, "resistance", 3) if self.ohm else "0 Ω, shorted"

    def band_text(self) -> str:
        """Return the band in words; none of an open or a shorted output."""
        if isinf(self.ohm) or not self.ohm:
            return ""
        low, high = (show(one, "resistance", 3) for one in (self.low_ohm, self.high_ohm))
        return f"{low} to {high}"


def find_readings(wiring: Wiring) -> tuple[Reading, ...]:
    """Return the reading of every position of every switch."""
    low, high = at_extreme(wiring, -1), at_extreme(wiring, 1)
    return tuple(
        Reading(setting, *(jack_reading_ohm(one, setting) for one in (wiring, low, high)))
        for setting in settings_of(wiring)
    )


def settings_of(wiring: Wiring) -> Iterator[Setting]:
    """Yield the settings to measure, every knob at 10."""
    others = {name: switch.positions for name, switch in wiring.switches.items()}
    count = len(wiring.positions)
    for places in others.values():
        count *= len(places)
    if count <= MOST_SETTINGS:
        for places in product(*others.values()):
            for position in wiring.positions:
                yield wiring.setting(position, {}, dict(zip(others, places, strict=True)))
        return
    for position in wiring.positions:
        yield wiring.setting(position)
    for name, places in others.items():
        for place in places[1:]:
            yield wiring.setting(wiring.positions[0], {}, {name: place})


def at_extreme(wiring: Wiring, sign: int) -> Wiring:
    """Return a wiring with every resistance at its lowest (-1) or highest (1)."""
    parts = {name: scaled(part, extreme_of(wiring, name, sign)) for name, part in wiring.parts.items()}
    return replace(wiring, parts=parts)


def extreme_of(wiring: Wiring, name: str, sign: int) -> float:
    """Return what a part's resistances are multiplied by at an extreme."""
    factor = 1.0 + sign * tolerance_of(wiring, name)
    if name in inductive_of(wiring.parts):
        factor *= 1.0 + COPPER_PER_K * (ROOM_C[sign > 0] - 20.0)
    return factor


def tolerance_of(wiring: Wiring, name: str) -> float:
    """Return how far a part's resistance may be off, as a share of it."""
    stated = wiring.tolerances.get(name, {}).get("resistance")
    return USUAL_TOLERANCES.get(kind_of(wiring.parts[name]).name, 0.0) if stated is None else stated


def assumed_kinds(wiring: Wiring) -> dict[str, float]:
    """Return the kinds of part whose usual tolerance stands in for the file's."""
    kinds = {name: kind_of(part).name for name, part in wiring.parts.items()}
    missing = [kind for name, kind in kinds.items() if "resistance" not in wiring.tolerances.get(name, {})]
    return {kind: share for kind, share in USUAL_TOLERANCES.items() if kind in missing}


def scaled(part: Part, factor: float) -> Part:
    """Return a part with all of its resistances times a factor."""
    changed: dict[str, Any] = {
        one.name: getattr(part, one.name) * factor
        for one in fields(part)  # type: ignore[arg-type]
        if one.name.endswith("_ohm") and getattr(part, one.name) is not None
    }
    return replace(part, **changed) if changed else part  # type: ignore[type-var]
