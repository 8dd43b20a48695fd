"""What a guitar is plugged into, in words, as a load: a resistance and a capacitance behind 5 m of cable.

A valve's grid has Cgk + Cga (1 + A) (a valve designer's page). With 1.65 and 1.6 pF of a published model and
a gain of 61.5 that is 102 pF; socket and wires add 10 to 30 pF (from memory). 130 pF are taken, behind
resistors against radio. Of two jacks with 68 kΩ each the high one has 1 MΩ across and 34 kΩ in series, the
low one 136 kΩ and half the voltage (a public page on amplifier stages). Each entry below is what a coil meets
of such a network. Instrument inputs have some 1 MΩ, line inputs 10 to 100 kΩ (public pages on impedances).
"""

from __future__ import annotations

from dsp.parts.library.entry import Entry
from dsp.units import show

LOW_INPUT_OHM, LOW_INPUT_F = 136e3, 32e-12
"""What a coil meets of the low input."""
_CABLE = {"length": "5 m", "capacitance": "100 pF/m"}


def _input(name: str, resistance: str, capacitance: str, about: str, *, at_the_jack: bool = False) -> Entry:
    """Return an input; one at the jack has no cable, and any other keeps the cable that is there."""
    fields: dict[str, object] = {
        "cable": _CABLE | ({"length": "0 m"} if at_the_jack else {}),
        "amplifier": {"resistance": resistance, "capacitance": capacitance},
    }
    about = f"{resistance} and {capacitance}: {about}"
    return Entry(name, "load", about, fields, keeps="" if at_the_jack else "cable")


INPUTS: tuple[Entry, ...] = (
    _input(
        "valve_input",
        "1 MΩ",
        "150 pF",
        "a valve amplifier; its 130 pF of grid behind 34 kΩ act so within 0.7 dB to 5 kHz",
    ),
    _input(
        "low_input",
        show(LOW_INPUT_OHM, "resistance"),
        show(LOW_INPUT_F, "capacitance"),
        "low input of a valve amplifier, two resistors of 68 kΩ; duller, half the voltage",
    ),
    _input(
        "buffer_after_cable",
        "500 kΩ",
        "20 pF",
        "a buffer or pedal after the cable, values from memory; nothing behind it loads a coil",
    ),
    _input(
        "buffer_at_jack",
        "1 MΩ",
        "20 pF",
        "a buffer in the guitar, which needs a supply; no cable, so resonances lie high",
        at_the_jack=True,
    ),
    _input(
        "interface",
        "1 MΩ",
        "150 pF",
        "instrument input of a recording interface, its capacitance from memory",
    ),
    _input(
        "line_input",
        "20 kΩ",
        "20 pF",
        "a line input by mistake, of the usual 10 to 100 kΩ; it removes every resonance",
    ),
)
