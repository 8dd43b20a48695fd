"""Coils of one housing as measured, and as the library, the starters and the demo have them.

Source of the table: the open data set "strayr" of pickup sweeps, a public repository, commit 7760780
(2023). Each row is our own fit of its unloaded sweeps at 0.5-1.6 kHz: both coils in series, each coil
alone, and the k that follows. Parallel was measured at two units. None of it was used to choose the
formulas below; the library's values were chosen to lie within it.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from places import DEMO

from dsp.parts.library.coils import COILS
from dsp.parts.library.entry import Entry
from dsp.parts.library.index import LIBRARY
from dsp.units import parse
from dsp.wiring.model import Wiring
from server.commissions.starters import GENERIC
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

Unit = tuple[float, float, float, float]
DOUBLES: tuple[Unit, ...] = (  # whole, coil, coil (henry), k
    (4.36, 1.82, 1.82, 0.195), (5.37, 2.23, 2.28, 0.192), (5.24, 2.00, 2.29, 0.222),
    (5.66, 2.31, 2.39, 0.203), (4.23, 1.71, 1.68, 0.248), (4.32, 1.73, 1.68, 0.266),
)  # fmt: skip
HOT_DOUBLES: tuple[Unit, ...] = (
    (9.77, 4.22, 4.17, 0.165), (9.26, 3.97, 4.19, 0.136), (8.04, 3.33, 3.57, 0.165),
    (7.72, 3.21, 3.43, 0.163), (8.27, 3.64, 3.63, 0.138),
    (8.56, 3.77, 3.65, 0.153), (8.48, 3.68, 3.72, 0.147), (8.49, 3.72, 3.70, 0.144),
    (9.32, 4.06, 4.15, 0.135), (8.78, 3.41, 3.58, 0.256),
)  # fmt: skip
OTHERS: tuple[Unit, ...] = ((6.41, 3.11, 3.11, 0.030), (10.36, 4.44, 4.51, 0.158))
PARALLEL = {(8.04, 3.33, 3.57, 0.165): 1.91, (7.72, 3.21, 3.43, 0.163): 1.85}
WHOLE_H = {False: (4.2, 5.7), True: (7.7, 9.8)}
"""Of doubles and of hot doubles, the measured range rounded outwards."""
ONE_OF_WHOLE = (0.38, 0.44)
QUARTILES = (0.145, 0.20)
ROUNDED_H = 0.012
"""The table's values are rounded to 0.01 H and its k to 0.001."""


def aiding(one: float, other: float, k: float) -> float:
    """Series, the same current through both: from the energy 1/2 L i^2."""
    return one + other + 2 * k * math.sqrt(one * other)


def parallel(one: float, other: float, k: float) -> float:
    """The same flux change in both: inverse of the sum of the inverse matrix of inductances."""
    mutual = k * math.sqrt(one * other)
    return float(1 / np.linalg.inv(np.array([[one, mutual], [mutual, other]])).sum())


@pytest.mark.parametrize("unit", [*DOUBLES, *HOT_DOUBLES, *OTHERS], ids=str)
def test_the_table_fits_the_coefficients_meaning(unit: Unit) -> None:
    whole, one, other, k = unit
    assert k > 0, "coils side by side aid"
    assert abs(aiding(one, other, k) - whole) <= ROUNDED_H + 0.0005 * 2 * math.sqrt(one * other)
    assert abs(aiding(one, other, -k) - whole) > 10 * ROUNDED_H


def test_the_table_has_all_units_and_the_quartiles_named() -> None:
    ks = [unit[3] for unit in (*DOUBLES, *HOT_DOUBLES, *OTHERS)]
    assert len(ks) == 18
    assert np.percentile(ks, (25, 75)) == pytest.approx(QUARTILES, abs=0.006)
    for (whole, one, other, k), measured in PARALLEL.items():
        assert measured > 1.08 * parallel(one, other, 0.0), f"{whole} H: without coupling"
        assert measured == pytest.approx(parallel(one, other, k), rel=0.06)


def measured_parallels(hot: bool) -> tuple[float, float]:
    found = [parallel(one, other, k) for _, one, other, k in (HOT_DOUBLES if hot else DOUBLES)]
    return min(found), max(found)


SIDE_BY_SIDE = [entry for entry in COILS if "double" in entry.name]


@pytest.mark.parametrize("entry", SIDE_BY_SIDE, ids=lambda entry: entry.name)
def test_library_units_lie_in_the_measured_ranges(entry: Entry) -> None:
    """Whole, one coil and parallel, by the formulas above."""
    one, other = (parse(str(e.fields["inductance"]), "inductance") for e in (entry, LIBRARY[entry.pair]))
    hot = "hot" in entry.name
    whole = aiding(one, other, entry.coupling)
    assert WHOLE_H[hot][0] <= whole <= WHOLE_H[hot][1]
    for coil in (one, other):
        assert ONE_OF_WHOLE[0] <= coil / whole <= ONE_OF_WHOLE[1]
    low, high = measured_parallels(hot)
    assert low <= parallel(one, other, entry.coupling) <= high
    assert QUARTILES[0] <= entry.coupling <= QUARTILES[1]
    # The ranges can fail: the same coils without coupling leave them.
    assert one / aiding(one, other, 0.0) > ONE_OF_WHOLE[1]


def test_stacked_coils_oppose() -> None:
    """Our own choice: of stacks no measurement is at hand."""
    stacked = [entry for entry in COILS if "stacked" in entry.name]
    assert len(stacked) == 2
    assert all(entry.coupling < 0 and "own choice" in entry.about for entry in stacked)


FILES = [
    DEMO / "baritone.yaml",
    DEMO / "baritone_sketch.yaml",
    DEMO / "tenor.yaml",
    GENERIC / "two_humbuckers.yaml",
]


def pairs(wiring: Wiring) -> list[tuple[float, float, float]]:
    coils = wiring.coils
    return [
        (coils[c.first].inductance_h, coils[c.second].inductance_h, c.coefficient) for c in wiring.couplings
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_two_coil_pickups_of_demo_and_starters_aid(path: Path) -> None:
    found = pairs(load_wiring(path))
    assert len(found) == (1 if path.stem == "tenor" else 2)
    for one, other, k in found:
        assert QUARTILES[0] <= k <= QUARTILES[1]
        for coil in (one, other):
            assert ONE_OF_WHOLE[0] <= coil / aiding(one, other, k) <= ONE_OF_WHOLE[1]
