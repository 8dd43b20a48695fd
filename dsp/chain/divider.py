"""What an amplifier's input passes on of the voltage across it."""

from __future__ import annotations

from dsp.parts.library.inputs import LOW_INPUT_F, LOW_INPUT_OHM
from dsp.parts.load import Load

LOW_SHARE = 0.5
"""Two resistors of 68 kΩ in series; the valve is at their joint (a public page on amplifier stages)."""
CLOSE = 1e-6


def input_share(load: Load) -> float:
    """Return the share of the voltage across an input that reaches the valve.

    A load holds only what a coil sees, not this share. So the library's low input is recognised by its
    resistance and capacitance.

    Examples
    --------
    >>> input_share(Load())
    1.0
    >>> input_share(Load(amplifier_ohm=136e3, amplifier_f=32e-12))
    0.5
    """
    ohm, farad = load.amplifier_ohm / LOW_INPUT_OHM, load.amplifier_f / LOW_INPUT_F
    return LOW_SHARE if abs(ohm - 1.0) < CLOSE and abs(farad - 1.0) < CLOSE else 1.0
