"""The strings' damping fitted again, to the notes of the fit half alone: the constants in the code follow.

Every partial's early decay rate against the law, least squares of its logarithm with little weight on
outliers, each note alike. `string_notes` holds the split. The constants taken are within 30 %: rendered
notes of the same half moved them, and friction until another recording lay in range (test_real_strings).
"""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from modelled_notes import FINGERED
from scipy.optimize import least_squares
from string_measures import measure
from string_notes import FIT_HZ, clean_notes

from dsp.strings.damping import AIR_KG_M3, AIR_PA_S
from dsp.strings.modes import PLANES
from dsp.strings.tuned import PLAIN_LOSS, RUBS_AT_HZ, WOUND_LOSS, tune
from dsp.takes.player import USUAL_SCALE_M, USUAL_STRINGS

pytestmark = [pytest.mark.reference, pytest.mark.long]

START = {"friction": 1e-4, "bending": 5e-4, "wound friction": 5e-5, "rubbing": 0.03, "conductance": 4e-3}
HELD = 0.03
"""Weight that holds a constant near where it starts, beside a weight of 1 for a note: two of them hardly
show on five notes."""


def rows() -> list[tuple[bool, np.ndarray, dict[str, np.ndarray]]]:
    """For each note whether it is wound, its partials' rates, and each constant's share of them."""
    found, notes = [], clean_notes()
    for hz in FIT_HZ:
        one = measure(notes[hz].samples, notes[hz].rate_hz, hz)
        string = USUAL_STRINGS[FINGERED[hz][0]]
        tuned = tune(string, USUAL_SCALE_M)
        f, rate = one.partials[np.isfinite(one.partials[:, 2])][:, 1:3].T
        skin = np.sqrt(pi * AIR_PA_S * AIR_KG_M3 * f)
        bends = pi * f * 4.0 * pi**2 * tuned.weight_kg_m * tuned.stiffness_nm2 * (f / tuned.tension_n) ** 2
        shares = {
            "air": pi * (AIR_PA_S + tuned.diameter_m * skin) / tuned.weight_kg_m,
            "conductance": np.full_like(f, 2.0 * tuned.impedance_kg_s * one.f0_hz),
        }
        if string.wound:
            shares |= {"wound friction": pi * f, "rubbing": bends * RUBS_AT_HZ / f}
        else:
            shares |= {"friction": pi * f, "bending": bends}
        found.append((string.wound, rate, shares))
    return found


def test_the_constants_are_those_of_the_fit(capsys: pytest.CaptureFixture[str]) -> None:
    names, data = list(START), rows()
    start = np.log([START[name] for name in names])

    def off(logs: np.ndarray) -> np.ndarray:
        constants = dict(zip(names, np.exp(logs), strict=True)) | {"air": 1.0}
        each = [
            np.log(rate / sum(constants[name] * share for name, share in shares.items())) / np.sqrt(len(rate))
            for _, rate, shares in data
        ]
        return np.concatenate([*each, HELD * (logs - start)])

    fitted = dict(zip(names, np.exp(least_squares(off, start, loss="soft_l1", f_scale=0.1).x), strict=True))
    ours = {
        "friction": PLAIN_LOSS.friction,
        "bending": PLAIN_LOSS.bending,
        "wound friction": WOUND_LOSS.friction,
        "rubbing": WOUND_LOSS.rubbing,
        "conductance": PLANES[0].conductance_s_kg,
    }
    with capsys.disabled():
        for name in names:
            print(f"\n  {name}: fitted {fitted[name]:.2e}, taken {ours[name]:.2e}", end="")
    for name in ("friction", "rubbing", "conductance"):
        assert fitted[name] / ours[name] == pytest.approx(1.0, abs=0.3), name
    assert WOUND_LOSS.bending == 0.0
