"""Places of the map over two knobs in ngspice: distances of timbre and levels from its voltages."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pair_case import AFTER, PARTS, STRINGS
from reference.spice import runner
from reference.spice.independent import emf, netlist
from reference.spice.wiring_file import Setting, coils
from ruamel.yaml import YAML
from small_wirings import LOAD, read, wiring_text

from dsp.knobs.pair import compute_pair
from dsp.sound.spectra import standard_notes
from dsp.sound.timbre import ear_bands, timbre_distance

pytestmark = pytest.mark.reference

PLACES = ((10.0, 10.0), (10.0, 0.0), (7.0, 10.0), (6.5, 3.5))
"""Volume and tone."""
SAME_DB = 0.002


def test_places_of_a_map() -> None:
    """Bands and floor of the distance are written anew here; the notes' spectra are the project's."""
    text = "name: pair\n" + wiring_text(PARTS, AFTER, STRINGS + LOAD)
    wiring: dict[str, Any] = YAML(typ="safe", pure=True).load(text)
    names, own, bands = tuple(coils(wiring)), read(text), ear_bands()
    decks = [netlist(wiring, Setting(None, {"volume": v, "tone": t})) for v, t in PLACES]
    sweeps = runner.at(bands.centres_hz)
    jobs = [runner.Job(deck, tuple(emf(name) for name in names), sweeps) for deck in decks]
    notes = standard_notes(own, bands)
    level, shape = [], []
    for answer in runner.run(jobs):
        volts = np.array([answer.voltage[emf(name)] for name in names])
        power = [(v.conj() @ n @ v).real for v, n in zip(volts.T, notes.transpose(0, 2, 1), strict=True)]
        energy = np.array(power).reshape(-1, 3).sum(axis=1)
        level.append(10.0 * np.log10(energy.sum()))
        db = 10.0 * np.log10(np.maximum(energy / energy.max(), 1e-5))
        shape.append(db - db.mean())
    pair = compute_pair(own, own.setting(own.positions[0]), ("volume", "tone"))
    at = [(round(2 * v), round(2 * t)) for v, t in PLACES]
    for k in range(1, len(PLACES)):
        want = float(np.sqrt(np.mean((shape[k] - shape[0]) ** 2)))
        got = float(timbre_distance(pair.points[at[k]], pair.points[at[0]]))
        assert got == pytest.approx(want, abs=SAME_DB)
        assert pair.level_db[at[k]] == pytest.approx(level[k] - level[0], abs=SAME_DB)
        beside = pair.points[at[k][0] - 2, at[k][1]]
        assert abs(float(timbre_distance(beside, pair.points[at[0]])) - want) > SAME_DB
