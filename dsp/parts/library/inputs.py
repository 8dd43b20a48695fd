"""What a guitar is plugged into, in words, as a load: a resistance and a capacitance behind 5 m of cable.

A valve's grid has Cgk + Cga (1 + A) (a valve designer's page). With 1.65 and 1.6 pF of a published model and
a gain of 61.5 that is 102 pF; socket and wires add 10 to 30 pF (from memory). 130 pF are taken, behind
resistors against radio. Of two jacks with 68 kΩ each the high one has 1 MΩ across and 34 kΩ in series, the
low one 136 kΩ and half the voltage (a public page on amplifier stages). Each entry below is what a coil meets
of such a network. Instrument inputs have some 1 MΩ, line inputs 10 to 100 kΩ (public pages on impedances).
"""

from __future__ import annotations

from dsp.parts.library.entry import Entry

_CABLE = {"length": "5 m", "capacitance": "100 pF/m"}


def _input(name: str, resistance: str, capacitance: str, about: str, *, at_the_jack: bool = False) -> Entry:
    """Return an input; one at the jack has no cable, and any other keeps the cable that is there."""
    fields: dict[str, object] = {
        "cable": _CABLE | ({"length": "0 m"} if at_the_jack else {}),
        "amplifier": {"resistance": resistance, "capacitance": capacitance},
    }
    return Entry(name, "load", about, fields, keeps="" if at_the_jack else "cable")


INPUTS: tuple[Entry, ...] = (
    _input(
        "valve_input",
        "1 MΩ",
        "150 pF",
        "Input of a valve amplifier: 130 pF of grid behind 34 kΩ, which act as 150 pF within 0.7 dB to 5 kHz",
    ),
    _input(
        "low_input",
        "136 kΩ",
        "32 pF",
        "Low input of a valve amplifier, two resistors of 68 kΩ: it dulls, and halves the level",
    ),
    _input(
        "buffer_after_cable",
        "500 kΩ",
        "20 pF",
        "Buffer or pedal after the cable, 500 kΩ (from memory); what follows is not heard by the coils",
    ),
    _input(
        "buffer_at_jack",
        "1 MΩ",
        "20 pF",
        "Buffer at the guitar's own jack: no cable loads the coils, so resonances lie high; needs a supply",
        at_the_jack=True,
    ),
    _input(
        "interface",
        "1 MΩ",
        "150 pF",
        "Instrument input of a recording interface: 1 MΩ, its 150 pF from memory",
    ),
    _input(
        "line_input",
        "20 kΩ",
        "20 pF",
        "A line input by mistake, 20 kΩ of the usual 10 to 100: it removes every resonance and most treble",
    ),
)
