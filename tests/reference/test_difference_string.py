"""The string model's linear part against a stiff string by finite differences.

Frequencies and amplitudes of the first twenty partials, of a plain string with a pick and of a stiffer one
with a finger. The two programs share the string's tension, weight and stiffness, and nothing else.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from difference_string import finest_cells, pluck
from partials import line
from string_stems import MEASURED, RATE_HZ, heard, point_coil
from tolerances import DIFFERENCE_CENT, DIFFERENCE_DB, ENERGY_KEPT

from dsp.strings.note import Note
from dsp.strings.pluck import HANDS, HARD_N_PER_N
from dsp.strings.tuned import TunedString

pytestmark = pytest.mark.reference

FACTOR = 1
"""Rate of the rougher grid, in terms of the model's."""
SECONDS = 0.4
NUMBERS = np.arange(1, 21)
AT_M, COIL_M, FORCE = 0.1317, 0.0531, 0.6
WOUND = replace(MEASURED, weight_kg_m=2.9e-3, tension_n=447.4, stiffness_nm2=MEASURED.stiffness_nm2 * 10.0)
"""The same pitch, with five times the stiffness relative to the tension."""


def model(string: TunedString, hand: str) -> tuple[np.ndarray, np.ndarray]:
    stem = heard(
        Note(0, 0.0, force=FORCE, pluck_at_m=AT_M, hand=hand), [point_coil(COIL_M)], SECONDS, string
    )[0]
    return _partials(stem, RATE_HZ, string)


def differences(string: TunedString, hand: str) -> tuple[np.ndarray, np.ndarray, float]:
    """Frequencies and levels extrapolated from two grids, one twice as fine: their errors fall fourfold."""
    held = HANDS[hand]
    shape = {
        "length_m": string.length_m,
        "tension_n": string.tension_n,
        "weight_kg_m": string.weight_kg_m,
        "stiffness_nm2": string.stiffness_nm2,
    }
    cells = finest_cells(**shape, rate_hz=2 * FACTOR * RATE_HZ)
    rows, kept = [], 0.0
    for times in (1, 2):
        rate_hz = times * FACTOR * RATE_HZ
        run = pluck(
            **shape,
            newton=FORCE * HARD_N_PER_N * string.tension_n,
            at_m=AT_M,
            width_m=held.width_m,
            release_s=held.release_s,
            coil_m=COIL_M,
            cells=cells * times // 2,
            rate_hz=rate_hz,
            seconds=SECONDS,
        )
        after = run.energy[len(run.energy) // 8 :]  # the hand has let go
        kept = max(kept, float(np.ptp(after) / np.mean(after)))
        rows.append(_partials(run.velocity, rate_hz, string))
    (rough_hz, rough), (fine_hz, fine) = rows
    return fine_hz + (fine_hz - rough_hz) / 3.0, fine + (fine - rough) / 3.0, kept


def _partials(samples: np.ndarray, rate_hz: int, string: TunedString) -> tuple[np.ndarray, np.ndarray]:
    stiff = string.inharmonicity(string.length_m)
    near = NUMBERS * string.pitch_hz * np.sqrt(1.0 + stiff * NUMBERS**2)
    found = [line(samples, rate_hz, hz, (0.1, SECONDS - 0.1), 60.0) for hz in near]
    return np.array([one.hz for one in found]), np.array([one.level for one in found])


@pytest.mark.parametrize(
    ("string", "hand"),
    [
        pytest.param(MEASURED, "pick", id="plain"),
        pytest.param(WOUND, "finger", id="wound", marks=pytest.mark.long),
    ],
)
def test_partials_agree(string: TunedString, hand: str, capsys: pytest.CaptureFixture[str]) -> None:
    ours_hz, ours = model(string, hand)
    theirs_hz, theirs, kept = differences(string, hand)
    cents = 1200.0 * np.abs(np.log2(ours_hz / theirs_hz))
    apart_db = np.abs(20.0 * np.log10(ours / theirs))
    with capsys.disabled():
        print(
            f"\n  {hand}: {cents.max():.2f} cent, {apart_db.max():.2f} dB; energy within {kept:.0e}", end=""
        )
    assert kept < ENERGY_KEPT
    assert cents.max() < DIFFERENCE_CENT
    assert apart_db.max() < DIFFERENCE_DB
    stiffer = replace(string, stiffness_nm2=1.2 * string.stiffness_nm2)
    other_hz, _ = model(stiffer, hand)
    assert (1200.0 * np.abs(np.log2(other_hz / theirs_hz))).max() > DIFFERENCE_CENT
    other = "finger" if hand == "pick" else "pick"
    assert (np.abs(20.0 * np.log10(model(string, other)[1] / theirs))).max() > DIFFERENCE_DB
