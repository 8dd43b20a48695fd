"""The tone stack: treble, middle and bass between two valves, as a wiring of its own.

The stack is a passive network like a guitar's. It is therefore written as a wiring, and the project's own
solvers and filter design take it unchanged. The source is a resistance with an EMF: a "coil" whose
inductance and capacitance are too small to be heard.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import respond
from dsp.filters.bank import Bank
from dsp.filters.design import design_bank
from dsp.parts.kind import Terminal
from dsp.parts.kinds import new_part
from dsp.parts.load import Load
from dsp.wiring.model import Joint, Setting, Wiring

NO_HENRY, NO_FARAD = 1e-6, 1e-15
"""Of the source: at 20 kHz 0.1 Ω in series and 8 GΩ across, beside some kΩ."""


@dataclass(frozen=True)
class Stack:
    """Values of a stack of three controls.

    Attributes
    ----------
    source_ohm : float
        Of the valve before it.
    slope_ohm : float
        From the source to the bass and middle capacitors.
    treble_ohm, bass_ohm, middle_ohm : float
        Of the pots; linear.
    treble_f, bass_f, middle_f : float
        Of the capacitor at each pot.
    load_ohm, load_f : float
        Of the valve behind it.
    """

    source_ohm: float
    slope_ohm: float
    treble_ohm: float
    bass_ohm: float
    middle_ohm: float
    treble_f: float
    bass_f: float
    middle_f: float
    load_ohm: float = 1e6
    load_f: float = 20e-12


STACK = Stack(38e3, 100e3, 250e3, 250e3, 10e3, 250e-12, 100e-9, 47e-9)
"""The stack that every setting but direct goes through.

Parts lie in the ranges of a hobby page that compares stacks (C1 250-500 pF, C2 22-100 nF, C3 22-47 nF,
slope 33-100 kΩ, treble 200-250 kΩ, bass 250 kΩ-1 MΩ, middle 10-25 kΩ). A plate's 38 kΩ (62.5 kΩ parallel
to 100 kΩ) and the load are from memory."""

KNOBS: Mapping[str, Mapping[str, float]] = {
    "scooped": {"treble": 6.0, "middle": 5.0, "bass": 4.0},
    "flat": {"treble": 0.0, "middle": 8.0, "bass": 0.0},
}
"""Knobs of the stack in words, 0 to 10. Scooped is our own choice. Flat is the flattest of a grid of knobs:
0.7 dB from 80 Hz to 5 kHz."""

_JOINTS: tuple[tuple[Terminal, ...], ...] = (
    (("source", "start"), ("treble_cap", "a"), ("slope", "a")),
    (("treble_cap", "b"), ("treble", "3")),
    (("slope", "b"), ("bass_cap", "a"), ("middle_cap", "a")),
    (("bass_cap", "b"), ("treble", "1"), ("bass", "1")),
    (("bass", "2"), ("bass", "3"), ("middle", "3")),
    (("middle_cap", "b"), ("middle", "2")),
    (("treble", "2"), ("output", "tip")),
    (("middle", "1"), ("source", "finish"), ("output", "sleeve")),
)


def stack_wiring(stack: Stack = STACK) -> Wiring:
    """Write a stack as a wiring; the source is its only coil."""

    parts = {
        "source": new_part("coil", resistance=stack.source_ohm, inductance=NO_HENRY, capacitance=NO_FARAD),
        "treble_cap": new_part("capacitor", capacitance=stack.treble_f),
        "bass_cap": new_part("capacitor", capacitance=stack.bass_f),
        "middle_cap": new_part("capacitor", capacitance=stack.middle_f),
        "slope": new_part("resistor", resistance=stack.slope_ohm),
        "treble": new_part("pot", resistance=stack.treble_ohm),
        "bass": new_part("pot", resistance=stack.bass_ohm),
        "middle": new_part("pot", resistance=stack.middle_ohm),
        "output": new_part("jack"),
    }
    load = Load(0.0, 0.0, stack.load_ohm, stack.load_f)
    return Wiring("tone stack", "", parts, tuple(map(Joint, _JOINTS)), load=load)


def respond_stack(knobs: Mapping[str, float], frequencies_hz: Floats, stack: Stack = STACK) -> Complex:
    """Compute volt per volt of the source, shape (n_freqs,)."""
    found = respond(stack_wiring(stack), [Setting(knobs=dict(knobs))], frequencies_hz)
    response: Complex = found.coil[0, 0]
    return response


def design_stack(knobs: Mapping[str, float], rate_hz: float, stack: Stack = STACK) -> Bank:
    """Design the stack's filters at a sampling rate; one coil."""
    return design_bank(stack_wiring(stack), Setting(knobs=dict(knobs)), rate_hz)
