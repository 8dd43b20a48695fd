"""An exciter of our own over one coil of a small guitar: what an interface records, by plain formulas.

Independent of the product: coils as Thevenin sources in parallel, voltages by dividers, samples by
an inverse FFT over the whole recording.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

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


@dataclass(frozen=True)
class Guitar:
    """What a built guitar of `TEXT` has.

    Attributes
    ----------
    coils : mapping of str to tuple
        As `COILS`.
    """

    coils: Mapping[str, tuple[float, float, float, int]] = field(default_factory=lambda: COILS)
    volume_ohm: float = VOLUME_OHM
    input_ohm: float = INPUT_OHM
    cable_f: float = CABLE_F


def drawn_guitar(rng: np.random.Generator) -> Guitar:
    """A guitar by tolerance; two standard deviations: R 5 %, L 10, C 24, pot 20, cable 40; the room 8 K."""
    warm = 1 + 0.0039 * 4 * rng.standard_normal()
    coils = {}
    for name, (ohm, henry, farad, winding) in COILS.items():
        r, more, c = np.exp(np.array([0.025, 0.05, 0.12]) * rng.standard_normal(3))
        coils[name] = (ohm * r * warm, henry * more, farad * c, winding)
    volume, cable = np.exp(np.array([0.1, 0.2]) * rng.standard_normal(2))
    return Guitar(coils, VOLUME_OHM * volume, cable_f=500e-12 * cable)


def transfer(
    coil: str, position: str, hz: Floats, *, swapped: str = "", guitar: Guitar | None = None
) -> Complex:
    """Voltage at the jack over the EMF that an unturned winding would have, shape (n,).

    The leads of the coil ``swapped`` are exchanged.
    """
    built = guitar or Guitar()
    s = 2j * np.pi * hz
    total = 1 / built.volume_ohm + 1 / built.input_ohm + s * built.cable_f
    current = np.zeros(len(hz), complex)
    for name in JOINED[position]:
        ohm, henry, farad, winding = built.coils[name]
        branch = ohm + s * henry
        total = total + 1 / branch + s * farad
        if name == coil:
            current = winding * (-1 if name == swapped else 1) / branch
    return np.asarray(current / total)


def record(
    coil: str,
    position: str,
    seed: int,
    *,
    mutual_h: float = 0.0,
    swapped: str = "",
    guitar: Guitar | None = None,
) -> Floats:
    """Two channels of a recording, shape (2, n): across the 100 Ω, and the jack.

    Parameters
    ----------
    mutual_h : float
        Between exciter and coil, henry; that of `MUTUAL_H` unless given.
    """
    own = mutual_h or MUTUAL_H[coil]
    return record_transfer(
        lambda hz: own * transfer(coil, position, hz, swapped=swapped, guitar=guitar), seed
    )


def record_transfer(induced_h: Callable[[Floats], Complex], seed: int) -> Floats:
    """Two channels of a recording, shape (2, n).

    Parameters
    ----------
    induced_h : callable
        Of frequencies: the transfer from the coil's EMF to the jack, times the henry between exciter
        and coil.
    """

    def ratio(hz: Floats) -> Complex:
        kept = np.maximum(hz, 1.0)
        return np.asarray(2j * np.pi * hz / SERIES_OHM * induced_h(kept))

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
