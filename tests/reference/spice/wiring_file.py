"""Wiring files read for the reference only: YAML to plain parts and soldered leads.

No line of the product is used: own reading, own units, own tapers, own sketches.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reference.spice.quantities import si
from ruamel.yaml import YAML

NETWORKS = Path(__file__).parents[1] / "networks"

# Mean of three real audio pots at every 5 % of travel, from the measurements published with
# B. Holmes, M. van Walstijn, "Potentiometer law modelling and identification for application in
# physics-based Virtual Analog circuits", DAFx-19 (read; the mean is calculated).
MEASURED_AUDIO = (
    0, 0.001, 0.007, 0.014, 0.022, 0.039, 0.068, 0.092, 0.114, 0.138,
    0.160, 0.185, 0.209, 0.308, 0.447, 0.586, 0.734, 0.889, 0.988, 1, 1,
)  # fmt: skip


@dataclass(frozen=True)
class Setting:
    """What is chosen: the selector's position (none without a selector), knobs and other switches."""

    position: int | None
    knobs: Mapping[str, Any]


def load(name: str) -> dict[str, Any]:
    """The wiring `name` of tests/reference/networks as YAML gives it."""
    data = YAML(typ="safe", pure=True).load((NETWORKS / f"{name}.yaml").read_text(encoding="utf-8"))
    if not isinstance(data, dict):
        raise ValueError(f"{name}.yaml: not a mapping")
    return data


def coils(wiring: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """The coils of a wiring, by name."""
    return {name: part for name, part in wiring["parts"].items() if part["kind"] == "coil"}


def hum_weights(wiring: Mapping[str, Any]) -> dict[str, float]:
    """Per coil the hum it picks up: winding sign times turns area; the magnet plays no part."""
    signs = {"forward": 1.0, "reverse": -1.0}
    return {
        name: signs[coil.get("winding", "forward")] * float(coil.get("turns_area", 1.0))
        for name, coil in coils(wiring).items()
    }


def selector_name(wiring: Mapping[str, Any]) -> str:
    """The part that `--position` turns."""
    return str(wiring.get("selector", "selector"))


def contacts(part: Mapping[str, Any], position: int) -> list[list[str]]:
    """The groups of lugs a switch joins in a position."""
    if "contacts" in part:
        return [list(group) for group in part["contacts"][position]]
    poles = "ABCDEFGH"[: part["poles"]]
    function = part.get("function", "change-over")
    if function == "on-off-on":
        return [[f"{pole}0", f"{pole}{(1, 0, 2)[position - 1]}"] for pole in poles if position != 2]
    if not 1 <= position <= part["positions"]:
        raise ValueError(f"position {position} of {part['positions']}")
    first = {"change-over": 0, "neighbours": position}[function]
    other = {"change-over": position, "neighbours": position + 1}[function]
    return [[f"{pole}{first}", f"{pole}{other}"] for pole in poles]


def knob_of(wiring: Mapping[str, Any], pot: str) -> str:
    """The knob that turns a pot: its own, or that of the pot whose shaft it shares."""
    shaft = wiring["parts"][pot].get("ganged", {})
    partner = shaft.get("part")
    if partner is None or shaft.get("turns") == "apart" or wiring["parts"][partner]["kind"] != "pot":
        return pot
    return knob_of(wiring, partner)


def pot_track(part: Mapping[str, Any], knob: float) -> list[tuple[str, str, float]]:
    """The track as a chain from lug 1 to lug 3: the lugs at both ends of each piece, and its ohms."""
    total, end = si(part["resistance"]), si(part.get("end_resistance", 0.0))
    stops = [(_share(part, knob / 10.0), "2")]
    if "tap" in part:
        stops.append((si(part["tap"]), "4"))
    points = [(0.0, "1"), *sorted(stops), (1.0, "3")]
    pieces = [(a, b, (high - low) * total) for (low, a), (high, b) in itertools.pairwise(points)]
    pieces[0] = (*pieces[0][:2], pieces[0][2] + end)
    pieces[-1] = (*pieces[-1][:2], pieces[-1][2] + end)
    if part.get("no_load") and knob == 10.0:  # a gap on the far side of the wiper
        pieces = [piece for piece in pieces if piece[1] != "2"]
    return pieces


def _share(part: Mapping[str, Any], travel: float) -> float:
    taper = part["taper"]
    middle = {"audio": 0.15, "reverse audio": 0.85}
    if isinstance(taper, list):
        points = [(si(x), si(y)) for x, y in taper]
    elif taper in middle:
        points = [(0.0, 0.0), (0.5, si(part.get("midpoint", middle[taper]))), (1.0, 1.0)]
    elif taper == "measured audio":
        points = [(i / 20.0, float(y)) for i, y in enumerate(MEASURED_AUDIO)]
    elif taper == "blend":
        return min(2.0 * travel, 1.0)
    elif taper == "reverse blend":
        return max(2.0 * travel - 1.0, 0.0)
    elif taper == "linear":
        points = [(0.0, 0.0), (1.0, 1.0)]
    else:
        raise ValueError(f"reference files: taper {taper!r}")
    return _straight(points, travel)


def _straight(points: list[tuple[float, float]], x: float) -> float:
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if x0 <= x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    raise ValueError(f"{x} lies outside the taper")
