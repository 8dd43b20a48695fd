"""Findings about what the guitar is plugged into."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from dsp.circuit.resonance import resonances
from dsp.facts.findings.states import State, positions_of
from dsp.facts.findings.table import Finding
from dsp.units import show
from dsp.wiring.model import Setting, Wiring

HEAVY_OHM = 100e3
"""Instrument inputs have more, the low input of a valve amplifier too (136 kΩ)."""
LIGHT_OHM = 1e6
"""With so much the resonance is looked for that the input removes."""
HEARD_DB = 1.0
"""Height above 100 Hz of a peak that counts. Our own line."""


def find_heavy_input(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield the positions whose resonances the amplifier's input removes.

    Parameters
    ----------
    states : list of State
        The other switches in their first position.
    """
    if wiring.load.amplifier_ohm >= HEAVY_OHM:
        return
    light = replace(wiring, load=replace(wiring.load, amplifier_ohm=LIGHT_OHM))
    hit = [
        state for state in states if _has_peak(light, state.setting) and not _has_peak(wiring, state.setting)
    ]
    if hit:
        where = () if len(hit) == len(states) else positions_of(hit)
        detail = show(wiring.load.amplifier_ohm, "resistance")
        yield Finding("input removes the resonance", (), where, wiring.lines.get("load", 0), detail)


def _has_peak(wiring: Wiring, setting: Setting) -> bool:
    return any(one.height_db >= HEARD_DB for one in resonances(wiring, setting))
