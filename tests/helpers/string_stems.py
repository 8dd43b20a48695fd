"""Play a string of published values into plain coils, for comparison with formulas."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.modes import ONE_PLANE
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.strings.tuned import Loss, TunedString

RATE_HZ = 48_000
MEASURED_B = 1.97e-5
LENGTH_M, TENSION_N, WEIGHT_KG_M = 1.002, 180.5, 1.17e-3
MEASURED = TunedString(
    length_m=LENGTH_M,
    diameter_m=0.43e-3,
    weight_kg_m=WEIGHT_KG_M,
    tension_n=TENSION_N,
    stiffness_nm2=MEASURED_B * TENSION_N * LENGTH_M**2 / pi**2,
    loss=Loss(bending=4.5e-3, friction=2.03e-4),
)
"""Plain steel, 0.43 mm: C. Issanchou, S. Bilbao, J.-L. Le Carrou, C. Touze, O. Doare, J. Sound Vib. 393
(2017) 229-251, values as in the published companion code (read there, not in the paper)."""


def point_coil(at_m: float, *, winding: int = 1, magnet: int = 1, aperture_m: float = 1e-9) -> Coil:
    """Return a coil that senses one point of the string."""
    return Coil(
        1e3, 1.0, 1e-10, at_m=at_m, aperture_m=aperture_m, winding=winding, magnet=magnet, sensitivity=1.0
    )


def heard(
    note: Note, coils: Sequence[Coil], seconds: float, string: TunedString = MEASURED
) -> NDArray[np.float64]:
    """Return the stems of one note on one string in one plane, shape (n_coils, n)."""
    stage = Setup([string], coils, RATE_HZ, planes=ONE_PLANE)
    return np.concatenate(list(perform([note], stage, round(seconds * RATE_HZ))), axis=1)
