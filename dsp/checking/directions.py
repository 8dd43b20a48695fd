"""The ways in which a built instrument may differ from its file, each with its spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.copies import Copies
from dsp.parts.kind import Part
from dsp.parts.kinds import inductive_of, kind_of
from dsp.parts.spreads import BY_FIELD, COPPER_PER_K, SPREADS
from dsp.units import show
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]

SEED = 17
"""Of drawn instruments: the same question has the same answer."""
CABLE, ROOM = "cable", "room"
HUM = ("turns_area", "hum_area")
"""A coil has one of the two: an area goes before a share."""


@dataclass(frozen=True)
class Direction:
    """One value that varies.

    Attributes
    ----------
    part : str
        Its name; the two coils of a coupling; ``cable`` or ``room``.
    field : str
        As a file names it.
    attribute : str
        Of the part's class.
    sd : float
        Standard deviation: of the logarithm of the value; of a taper in the knob's scale; of a
        coefficient as it is; of the room in kelvin.
    number : int
        Of a coupling.
    """

    part: str
    field: str
    attribute: str
    sd: float
    number: int = -1

    def text(self) -> str:
        """Return what varies, in words."""
        if self.part == CABLE:
            return "the player's cable"
        return "the room's warmth" if self.part == ROOM else f"{self.field} of {self.part}"

    def spread_text(self) -> str:
        """Return two standard deviations in words."""
        if self.field == "taper":
            return f"±{2 * self.sd:.2g} of the scale"
        if self.part == ROOM:
            return f"±{2 * self.sd:.2g} K"
        return f"±{2 * self.sd:.2g}" if self.number >= 0 else f"±{show(2 * self.sd, 'share', 2)}"


def find_directions(wiring: Wiring, *, alike: bool = False, cable: float = 0.0) -> tuple[Direction, ...]:
    """Return every direction of a wiring.

    Parameters
    ----------
    alike : bool
        Whether instruments are compared with one another, their parts of one order, rather than one
        instrument with its file.
    cable : float
        Spread of the cable, as a share of its capacitance.
    """
    found = [
        Direction(name, row.field, row.attribute, sd)
        for name, part in wiring.parts.items()
        for row in SPREADS
        if row.kind == kind_of(part).name and getattr(part, row.attribute)
        if row.field not in HUM or (alike and row.field == hum_field(part))  # no reading at the jack shows it
        if (sd := _stated(wiring, name, row.field, row.alike if alike else row.usual) / 2) > 0.0
    ]
    row = BY_FIELD["coupling", "coefficient"]
    found += [
        Direction(f"{one.first} and {one.second}", row.field, row.attribute, row.usual / 2, i)
        for i, one in enumerate(wiring.couplings)
    ]
    if cable:
        found.append(Direction(CABLE, "capacitance", "", cable / 2))
    if not alike and inductive_of(wiring.parts):
        found.append(Direction(ROOM, "temperature", "", BY_FIELD[ROOM, "temperature"].usual / 2))
    return tuple(found)


def hum_field(part: Part) -> str:
    """Return the field that states how much hum a coil picks up."""
    return HUM[getattr(part, "hum_area_m2", None) is not None]


def _stated(wiring: Wiring, name: str, field: str, otherwise: float) -> float:
    return wiring.tolerances.get(name, {}).get(field, otherwise)


def make_copies(wiring: Wiring, directions: Sequence[Direction], steps: Floats) -> Copies:
    """Return instruments so many standard deviations along each direction.

    Parameters
    ----------
    wiring : Wiring
        With or without a fault: a part that it lacks does not vary.
    steps : ndarray, shape (count, n_directions)
    """
    factors: dict[tuple[str, str], Floats] = {}
    turns: dict[str, Floats] = {}
    coefficients: dict[int, Floats] = {}
    cable: Floats | None = None
    warm = np.ones(len(steps))
    for one, column in zip(directions, steps.T, strict=True):
        moved = one.sd * column
        if one.part == CABLE:
            cable = np.exp(moved)
        elif one.part == ROOM:
            warm = 1.0 + COPPER_PER_K * moved
        elif one.number >= 0:
            coefficients[one.number] = moved
        elif one.attribute == "taper":
            turns[one.part] = moved
        else:
            factors[one.part, one.attribute] = np.exp(moved)
    for name in inductive_of(wiring.parts):
        for attribute in ("resistance_ohm", "tap_ohm"):
            if getattr(wiring.parts[name], attribute, None):
                factors[name, attribute] = factors.get((name, "resistance_ohm"), 1.0) * warm
    known = {key: row for key, row in factors.items() if hasattr(wiring.parts.get(key[0]), key[1])}
    return Copies(len(steps), known, turns, coefficients, cable)


def with_taps(wiring: Wiring) -> Wiring:
    """Return a wiring whose tapped coils state their share of turns."""
    parts = dict(wiring.parts)
    for name, part in wiring.coils.items():
        if part.tap is None and part.tap_ohm is not None:
            parts[name] = replace(part, tap=part.tap_ohm / part.resistance_ohm)
    return replace(wiring, parts=parts)


def draw_steps(count: int, n_directions: int, seed: int = SEED) -> Floats:
    """Draw instruments by tolerance, shape (count, n_directions).

    Each number counts standard deviations.
    """
    return np.random.default_rng(seed).standard_normal((count, n_directions))
