"""The real notes' pitches played by the string model, with today's constants and with those before.

The recorded guitar's strings and coil are unknown: the most frequent set of six, a coil beside the bridge
and a resonant low-pass stand for them, for both models alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, radians

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from dsp.parts.coil import Coil
from dsp.strings.curvature import Curvature
from dsp.strings.modes import PLANES, Plane
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.strings.tuned import STEEL_PA, Loss, TunedString, tune
from dsp.takes.player import PLUCK_SHARE, USUAL_SCALE_M, USUAL_STRINGS

Floats = NDArray[np.float64]

FINGERED = {
    82.4: (0, 0), 110.0: (1, 0), 146.8: (2, 0), 196.0: (3, 0), 246.9: (4, 0),
    329.6: (5, 0), 392.0: (5, 3), 466.1: (5, 6), 659.2: (5, 12),
}  # fmt: skip
"""String, 0 the lowest, and fret of each pitch."""
COIL = Coil(6e3, 3.0, 1e-10, at_m=0.042)
RESONANCE_HZ, RESONANCE_Q = 3800.0, 2.0
OLD_CORE_RATIO, OLD_WRAP_KG_M3 = 0.42, 8900.0


@dataclass(frozen=True)
class Model:
    """A set of constants."""

    strings: tuple[TunedString, ...]
    planes: tuple[Plane, ...]
    curvature: Curvature | None
    pluck_share: float


def _before() -> Model:
    strings = []
    for string in USUAL_STRINGS:
        found = tune(string, USUAL_SCALE_M)
        core_m = string.gauge_m * (OLD_CORE_RATIO if string.wound else 1.0)
        section = pi * string.gauge_m**2 / 4.0
        weight = found.weight_kg_m
        if string.wound:
            core = OLD_CORE_RATIO**2
            weight = section * (7850.0 * core + OLD_WRAP_KG_M3 * pi / 4.0 * (1.0 - core))
        strings.append(
            replace(
                found,
                weight_kg_m=weight,
                tension_n=weight * (2.0 * USUAL_SCALE_M * string.pitch_hz) ** 2,
                stiffness_nm2=STEEL_PA * pi * core_m**4 / 64.0,
                loss=Loss(0.01, 6e-6) if string.wound else Loss(4.5e-3, 2.03e-4),
                stretch_n=0.0,
            )
        )
    planes = (Plane(1.0, radians(40.0), 1.0, 4e-3), Plane(0.15, radians(-50.0), 1.00025, 5e-4))
    return Model(tuple(strings), planes, None, 0.2)


NOW = Model(tuple(tune(string, USUAL_SCALE_M) for string in USUAL_STRINGS), PLANES, Curvature(), PLUCK_SHARE)
BEFORE = _before()
"""The model of commit 2e78d94."""


def play(
    model: Model, hz: float, seconds: float, rate_hz: int, *, coil: Coil = COIL, force: float = 0.6
) -> Floats:
    """Play one of the pitches; through the low-pass."""
    string, fret = FINGERED[hz]
    length_m = USUAL_SCALE_M * 2.0 ** (-fret / 12.0)
    at_m = min(model.pluck_share * USUAL_SCALE_M, 0.5 * length_m)
    note = Note(string, 0.0, fret=fret, force=force, pluck_at_m=at_m)
    stage = Setup(model.strings, [coil], float(rate_hz), model.curvature, model.planes)
    return _resonant(
        np.concatenate(list(perform([note], stage, round(seconds * rate_hz))), axis=1)[0], rate_hz
    )


def _resonant(samples: Floats, rate_hz: int) -> Floats:
    """A second-order low-pass by the bilinear transform."""
    turn = 2.0 * pi * RESONANCE_HZ / rate_hz
    wide, near = np.sin(turn) / (2.0 * RESONANCE_Q), np.cos(turn)
    over = np.array([(1.0 - near) / 2.0, 1.0 - near, (1.0 - near) / 2.0]) / (1.0 + wide)
    return np.asarray(lfilter(over, [1.0, -2.0 * near / (1.0 + wide), (1.0 - wide) / (1.0 + wide)], samples))
