"""What a drawing takes over from its file: places and runs that the wiring has a use for."""

from __future__ import annotations

from dsp.parts.kind import Terminal
from dsp.wiring.model import Wiring


def places_of(wiring: Wiring) -> dict[str, tuple[float, float, int]]:
    """Return the places of parts that exist."""
    return {name: place for name, place in wiring.drawn.places.items() if name in wiring.parts}


def unknown_places(wiring: Wiring) -> tuple[str, ...]:
    """Return the names that have a place and no part."""
    return tuple(name for name in wiring.drawn.places if name not in wiring.parts)


def runs_of(wiring: Wiring) -> tuple[tuple[Terminal, Terminal], ...]:
    """Return the wires wished for between terminals of one joint."""
    idle = idle_runs(wiring)
    return tuple(run for number, run in enumerate(wiring.drawn.runs) if number not in idle)


def idle_runs(wiring: Wiring) -> tuple[int, ...]:
    """Return the numbers of the wires wished for where there is no joint."""
    held = [set(joint.terminals) for joint in wiring.joints]
    return tuple(
        number
        for number, (first, last) in enumerate(wiring.drawn.runs)
        if first == last or not any({first, last} <= joint for joint in held)
    )
