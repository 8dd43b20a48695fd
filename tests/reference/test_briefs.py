"""Wirings for usual design briefs, held to what each brief asks for.

The briefs are common practice; the instruments are invented, their coils within the usual ranges. That
their responses are right is checked against ngspice with all other networks.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray
from reference.spice.wiring_file import NETWORKS

from dsp.circuit.response import respond
from dsp.facts.findings.check import check
from dsp.facts.position import position_facts
from dsp.sound.spectra import energy_of, standard_notes
from dsp.sound.timbre import ear_bands, timbre, timbre_distance
from dsp.wiring.model import Setting, Wiring
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

NAMES = ("three_singles", "three_toggles", "two_volumes", "three_humbuckers")
SAME_DB = 0.05
"""Stands whose level and timbre differ by less are one sound."""


def brief(name: str) -> Wiring:
    return load_wiring(NETWORKS / f"brief_{name}.yaml")


def stands(wiring: Wiring) -> list[Setting]:
    """Every position of every switch, knobs at 10."""
    others = wiring.stands
    rows = itertools.product(wiring.positions, *others.values())
    return [wiring.setting(first, {}, dict(zip(others, rest, strict=True))) for first, *rest in rows]


def sounds(wiring: Wiring) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the timbre, shape (n, n_bands), and the level, dB, of every stand."""
    bands = ear_bands()
    coil = respond(wiring, stands(wiring), bands.centres_hz).coil
    energy = energy_of(coil, standard_notes(wiring, bands), bands)
    return timbre(energy), 10.0 * np.log10(energy.sum(axis=1))


def distances(wiring: Wiring) -> NDArray[np.float64]:
    """Return the larger of the difference in timbre and in level between any two stands, dB."""
    points, level_db = sounds(wiring)
    apart = timbre_distance(points[:, None], points[None])
    return np.maximum(apart, np.abs(level_db[:, None] - level_db[None]))


@pytest.mark.parametrize("name", NAMES)
def test_a_builder_finds_nothing_to_mend(name: str) -> None:
    assert {one.severity for one in check(brief(name))} <= {"note", "reminder"}


@pytest.mark.parametrize(("name", "n_stands", "n_sounds"), [
    ("three_singles", 10, 10),
    ("three_toggles", 27, 15),  # where one pickup is heard, the other one's toggle rests
    ("two_volumes", 3, 3),
    ("three_humbuckers", 5, 5),
])  # fmt: skip
def test_every_stand_has_a_sound_of_its_own(name: str, n_stands: int, n_sounds: int) -> None:
    apart = distances(brief(name))
    assert len(apart) == n_stands
    different = {tuple(np.flatnonzero(row < SAME_DB)) for row in apart}
    assert len(different) == n_sounds


def test_the_usual_five_of_three_single_coils_are_down() -> None:
    wiring = brief("three_singles")
    down = [wiring.setting(one, {}, {"push_pull": "1"}) for one in wiring.positions]
    heard = [set(one.coils) for one in position_facts(wiring, down)]
    assert heard == [{"bridge"}, {"bridge", "middle"}, {"middle"}, {"middle", "neck"}, {"neck"}]


def test_neither_of_two_volumes_silences_the_other_pickup() -> None:
    wiring = brief("two_volumes")
    for volume, others in (("neck_volume", "bridge"), ("bridge_volume", "neck")):
        settings = [wiring.setting("2", {volume: value}) for value in (10.0, 0.0)]
        names = list(wiring.coils)
        rows = [i for i, name in enumerate(names) if name.startswith(others)]
        loud, down = np.abs(respond(wiring, settings, np.array([200.0, 1000.0])).coil[:, rows])
        assert np.all(20.0 * np.log10(down / loud) > -6.0)


def test_three_humbuckers_hum_nowhere() -> None:
    wiring = brief("three_humbuckers")
    facts = position_facts(wiring, stands(wiring))
    assert all(one.hum_residual_db < -40.0 for one in facts)
