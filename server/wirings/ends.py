"""Two built instruments as wiring files: the written one with other values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dsp.checking.directions import CABLE, Direction
from dsp.checking.spread import Spread, end_values
from dsp.circuit.copies import scaled_eddy
from dsp.parts.coil import Eddy
from dsp.parts.taper import Taper
from dsp.units import show
from dsp.wiring.model import Wiring
from server.wirings.text import WiringText, written

NAMES = ("end_one.yaml", "end_other.yaml")
UNITS = {
    "resistance_ohm": "resistance",
    "inductance_h": "inductance",
    "capacitance_f": "capacitance",
    "turns_area": "number",
    "hum_area_m2": "area",
}
"""Dimension of each value that a file holds as a number."""


def write_ends(folder: Path, file: Path, wiring: Wiring, spread: Spread) -> list[Path]:
    """Write the farthest two beside each other; return their files.

    Raises
    ------
    InputError
        If a file cannot be read or written.
    """
    written = []
    for which, name in enumerate(NAMES):
        text = WiringText.of(file)
        for path, value in end_edits(wiring, spread, which):
            text.set(path, value)
        text.save(folder / name)
        written.append(folder / name)
    return written


def end_edits(wiring: Wiring, spread: Spread, which: int) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield places of the file and their values at one end, 0 or 1."""
    yield from _edits(wiring, end_values(wiring, spread.directions, spread.ends[which]))


def _edits(
    wiring: Wiring, values: Sequence[tuple[Direction, float]]
) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield places of the file and what to write there, as `presolder set` would."""
    for one, value in values:
        part: Any = wiring.parts.get(one.part)
        if one.part == CABLE:
            if wiring.load.cable_f_per_m:
                per_m = show(wiring.load.cable_f_per_m * value, "capacitance per length", 4)
                yield ("load", "cable", "capacitance"), per_m
        elif one.number >= 0:
            own = wiring.couplings[one.number].coefficient
            yield ("couplings", str(one.number), "coefficient"), f"{own + value:.4f}"
        elif one.attribute == "eddy":
            # The whole list: a coil of the library has none in the file.
            losses = scaled_eddy(part.eddy, np.array(value))
            yield ("parts", one.part, "eddy"), written([_loss(loss) for loss in losses])
        elif one.attribute == "taper":
            yield ("parts", one.part, "taper"), _turned(part.taper, value)
        else:
            number = getattr(part, one.attribute) * value
            yield ("parts", one.part, one.field), show(number, UNITS[one.attribute], 4)


def _loss(loss: Eddy) -> dict[str, str]:
    return {"share": show(float(loss.share), "share", 4), "corner": show(loss.corner_hz, "frequency", 4)}


def _turned(taper: Taper, turn: float) -> str:
    """Return a taper whose inner points lie a turn of the knob earlier."""
    inner = taper.points[1:-1]
    room = min((x for x, _ in inner), default=0.5), max((x for x, _ in inner), default=0.5)
    moved = min(max(-turn / 10.0, 0.02 - room[0]), 0.98 - room[1])
    points = [(0.0, 0.0), *((x + moved, y) for x, y in inner), (1.0, 1.0)]
    if not inner:  # one straight line: bent in the middle
        points.insert(1, (0.5 + moved, 0.5))
    return "[" + ", ".join(f"[{x:.4f}, {y:.4f}]" for x, y in points) + "]"
