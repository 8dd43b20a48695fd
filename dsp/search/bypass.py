"""What a volume knob takes from the treble on its way down, and parts that give it back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.parts.passive import Capacitor, Resistor
from dsp.search.evenness import band_energy
from dsp.sound.timbre import ear_bands, timbre
from dsp.wiring.model import Joint, Part, Setting, Wiring

Floats = NDArray[np.float64]
LOW_KNOB = 2.0
"""Below this a volume is on its way to silence and its tone of no account."""
POINTS = 9
BYPASS_F = (120e-12, 180e-12, 270e-12, 390e-12, 560e-12, 820e-12, 1.2e-9)
"""Every other value of E12 in the range that is met (common practice)."""
RESISTORS_OHM = (None, 100e3, 150e3, 220e3)
"""In series with the capacitor; None for a bare capacitor."""


@dataclass(frozen=True)
class Bypass:
    """Parts from lug 3 to the wiper, and how the timbre wanders with them.

    Attributes
    ----------
    capacitance_f, resistance_ohm : float or None
        None for no capacitor at all, or none in series.
    wander_db : float
        Largest timbre distance to the knob at 10, from 2 up.
    treble_db : ndarray, shape (n,)
        Level from 2 to 8 kHz against the whole, re that at 10, at ``values``.
    values : ndarray, shape (n,)
    """

    capacitance_f: float | None
    resistance_ohm: float | None
    wander_db: float
    treble_db: Floats
    values: Floats


def bypasses(wiring: Wiring, setting: Setting, knob: str) -> Iterator[Bypass]:
    """A volume as it is, then with each capacitor, alone or with a resistor.

    Parameters
    ----------
    wiring : Wiring
    setting : Setting
        Where everything else stands.
    knob : str
    """
    yield _tried(wiring, setting, knob, None, None)
    for capacitance_f in BYPASS_F:
        for resistance_ohm in RESISTORS_OHM:
            yield _tried(wiring, setting, knob, capacitance_f, resistance_ohm)


def _tried(
    wiring: Wiring, setting: Setting, knob: str, capacitance_f: float | None, resistance_ohm: float | None
) -> Bypass:
    bands = ear_bands()
    values = np.linspace(LOW_KNOB, 10.0, POINTS)
    changed = wiring if capacitance_f is None else _with(wiring, knob, capacitance_f, resistance_ohm)
    settings = [
        changed.setting(setting.position, {**setting.knobs, knob: float(value)}, setting.switches)
        for value in values
    ]
    energy = band_energy(changed, settings, bands)
    points = timbre(energy)
    wander_db = float(np.sqrt(np.mean((points - points[-1]) ** 2, axis=1)).max())
    middles = np.sqrt(bands.edges_hz[1:] * bands.edges_hz[:-1])
    treble = energy[:, (middles > 2e3) & (middles < 8e3)].sum(axis=1) / np.maximum(energy.sum(axis=1), 1e-300)
    treble_db = 10.0 * np.log10(np.maximum(treble, 1e-12))
    return Bypass(capacitance_f, resistance_ohm, wander_db, treble_db - treble_db[-1], values)


def _with(wiring: Wiring, knob: str, capacitance_f: float, resistance_ohm: float | None) -> Wiring:
    """The wiring with parts soldered from lug 3 of a pot to its wiper."""
    capacitor, resistor = _free(wiring, "bypass_c"), _free(wiring, "bypass_r")
    parts: dict[str, Part] = {**wiring.parts, capacitor: Capacitor(capacitance_f)}
    joints = [Joint(((knob, "3"), (capacitor, "a")))]
    if resistance_ohm is None:
        joints.append(Joint(((capacitor, "b"), (knob, "2"))))
    else:
        parts[resistor] = Resistor(resistance_ohm)
        joints.append(Joint(((capacitor, "b"), (resistor, "a"))))
        joints.append(Joint(((resistor, "b"), (knob, "2"))))
    return replace(wiring, parts=parts, joints=(*wiring.joints, *joints))


def _free(wiring: Wiring, name: str) -> str:
    while name in wiring.parts:
        name += "_"
    return name
