"""Bands of the meter reading, held to every corner of the tolerances."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import random_wirings
from places import DEMO

from dsp.circuit.meter import jack_reading_ohm
from dsp.sheet.readings import at_extreme, extreme_of, find_readings, scaled
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring


def check_corners(wiring: Wiring) -> None:
    """No corner of the tolerances reads beyond the band, and two reach its ends."""
    moved = [name for name, part in wiring.parts.items() if scaled(part, 2.0) != part]
    for reading in find_readings(wiring)[:6]:
        found = []
        for signs in product((-1, 1), repeat=len(moved)):
            parts = {
                name: scaled(wiring.parts[name], extreme_of(wiring, name, sign))
                for name, sign in zip(moved, signs, strict=True)
            }
            corner = replace(wiring, parts={**wiring.parts, **parts})
            found.append(jack_reading_ohm(corner, reading.setting))
        assert min(found) == pytest.approx(reading.low_ohm, rel=1e-12)
        assert max(found) == pytest.approx(reading.high_ohm, rel=1e-12)
        assert reading.low_ohm <= reading.ohm <= reading.high_ohm


@pytest.mark.parametrize("path", [DEMO / "baritone.yaml", DEMO / "twelve.yaml"], ids=lambda path: path.stem)
def test_the_band_holds_every_corner(path) -> None:
    check_corners(load_wiring(path))


@pytest.mark.parametrize("seed", range(8))
def test_the_band_of_random_wirings_holds_every_corner(seed: int) -> None:
    wiring = random_wirings.chaotic(np.random.default_rng(seed))
    if sum(scaled(part, 2.0) != part for part in wiring.parts.values()) <= 8:
        check_corners(wiring)
    else:
        pytest.skip("more corners than a quick test can try")


def test_a_stated_tolerance_and_the_room_set_the_band() -> None:
    """One coil of 10 kΩ, 2 %, alone: 15 to 30 °C add 0.393 % per kelvin (IEC 60028)."""
    from dsp.parts.kinds import new_part
    from dsp.wiring.model import Joint

    coil = new_part("coil", resistance=1e4, inductance=3.0, capacitance=1e-10)
    ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    parts = {"neck": coil, "output": new_part("jack")}
    wiring = Wiring("one", "", parts, tuple(map(Joint, ends)), tolerances={"neck": {"resistance": 0.02}})
    (reading,) = find_readings(wiring)
    assert reading.low_ohm == pytest.approx(1e4 * 0.98 * (1 - 5 * 0.00393))
    assert reading.high_ohm == pytest.approx(1e4 * 1.02 * (1 + 10 * 0.00393))
    assert at_extreme(wiring, 1).coils["neck"].inductance_h == 3.0
