"""An exciter of our own over one coil of a small guitar: what an interface records, by plain formulas.

Independent of the product: coils as Thevenin sources in parallel, voltages by dividers, samples by
an inverse FFT over the whole recording.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from rig import RATE_HZ, Rig
from small_wirings import wiring_text

from dsp.measuring.tone import make_tone

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
PARTS = """
neck: {kind: coil, resistance: 5.5 kΩ, inductance: 2.2 H, capacitance: 100 pF, winding: forward}
bridge: {kind: coil, resistance: 7 kΩ, inductance: 3 H, capacitance: 120 pF, winding: reverse, magnet: south}
volume: {kind: pot, resistance: 250 kΩ, taper: linear}
selector: {kind: switch, lugs: [N, C, B], contacts: {1: [[N, C]], 2: [[N, C, B]], 3: [[C, B]]}}
output: {kind: jack}
"""
JOINTS = """
neck.start, selector.N
bridge.start, selector.B
selector.C, volume.3
volume.2, output.tip
neck.finish, bridge.finish, volume.1, output.sleeve
"""
TEXT = wiring_text(PARTS, JOINTS)
COILS = {"neck": (5500.0, 2.2, 100e-12, 1), "bridge": (7000.0, 3.0, 120e-12, -1)}
"""Resistance, inductance, capacitance and winding, as above."""
JOINED = {"1": ("neck",), "2": ("neck", "bridge"), "3": ("bridge",)}
MUTUAL_H = {"neck": 2.2e-4, "bridge": 1.7e-4}
"""Between the exciter and each coil: 2 dB apart; 1 V at 1 kHz and 100 Ω gives some 10 mV."""
SERIES_OHM, VOLUME_OHM, INPUT_OHM, CABLE_F = 100.0, 250e3, 1e6, 500e-12


def transfer(coil: str, position: str, hz: Floats, *, swapped: str = "") -> Complex:
    """Voltage at the jack over the EMF that an unturned winding would have, shape (n,).

    The leads of the coil ``swapped`` are exchanged.
    """
    s = 2j * np.pi * hz
    total = 1 / VOLUME_OHM + 1 / INPUT_OHM + s * CABLE_F
    current = np.zeros(len(hz), complex)
    for name in JOINED[position]:
        ohm, henry, farad, winding = COILS[name]
        branch = ohm + s * henry
        total = total + 1 / branch + s * farad
        if name == coil:
            current = winding * (-1 if name == swapped else 1) / branch
    return np.asarray(current / total)


def record(coil: str, position: str, seed: int, **how: str) -> Floats:
    """Two channels of a recording, shape (2, n): across the 100 Ω, and the jack."""

    def ratio(hz: Floats) -> Complex:
        kept = np.maximum(hz, 1.0)
        return 2j * np.pi * hz * MUTUAL_H[coil] / SERIES_OHM * transfer(coil, position, kept, **how)

    rig = _Fixed(ratio)
    return rig.record(lambda hz: hz.astype(complex), make_tone(RATE_HZ, 4), seed)


class _Fixed(Rig):
    """The interface of `rig`, with a ratio of its own."""

    def __init__(self, ratio: Callable[[Floats], Complex]) -> None:
        super().__init__()
        object.__setattr__(self, "_ratio", ratio)

    def ratio(self, part: object, hz: Floats) -> Complex:
        del part
        return self._ratio(hz)  # type: ignore[attr-defined,no-any-return]
