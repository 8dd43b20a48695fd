"""Polynomials of the tracks' shares against the circuit's own solver, at random knob values."""

from __future__ import annotations

import json
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from places import DEMO, NETWORKS

from dsp.circuit.response import respond
from dsp.live import model as live
from dsp.live.model import LiveModel, make_model, pack_model
from dsp.parts.pot import Pot
from dsp.parts.taper import blend
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

EXACT_DB = 1e-3
DEEP = 1e-3
"""Of the setting's peak: deeper down a response is compared by its difference."""
BETWEEN_DB = 0.02
"""Halfway between two frequencies, where the response is within 40 dB of the peak."""
FILES = (
    *(DEMO / f"{name}.yaml" for name in ("baritone", "twelve", "tenor")),
    *(
        NETWORKS / f"{name}.yaml"
        for name in (
            "baritone_two_volumes",  # both at 0: two joints side by side
            "baritone_transformer",
            "baritone_tapped",
            "brief_three_humbuckers",  # four idle coils with sharp modes of their own
            "twelve_bass_cut",
            "twelve_blend",  # two tracks and a no-load tone on shafts, a tapped volume
            "twelve_series_phase",  # resistance at the ends of a track
        )
    ),
)


def _random_knobs(wiring: Wiring, rng: np.random.Generator) -> dict[str, float]:
    return {knob: float(rng.choice([0.0, 10.0, *rng.uniform(0, 10, 4)])) for knob in wiring.knobs}


def _deviation_db(got: np.ndarray, want: np.ndarray, deep: float = DEEP) -> float:
    peak = float(np.max(np.abs(want)))
    if peak < 1e-6:  # volume at 0
        return 0.0 if np.max(np.abs(got)) < 1e-6 else np.inf
    loud = np.abs(want) > deep * peak
    assert np.max(np.abs(got - want)[~loud], initial=0.0) < 1e-3 * deep * peak
    return float(np.max(np.abs(20 * np.log10(np.abs(got[loud] / want[loud])))))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_polynomials_are_the_circuit(file: Path) -> None:
    wiring, rng = load_wiring(file), np.random.default_rng(3)
    position = wiring.positions[-1]
    model = make_model(wiring, wiring.setting(position))
    for _ in range(25):
        knobs = _random_knobs(wiring, rng)
        circuit = respond(wiring, [wiring.setting(position, knobs)], model.frequencies_hz).coil[0]
        assert _deviation_db(model.respond(knobs), circuit) < EXACT_DB, knobs


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_polynomials_are_smooth_over_frequency(file: Path) -> None:
    """Six neighbours give the value halfway between two frequencies."""
    wiring, rng = load_wiring(file), np.random.default_rng(4)
    position = wiring.positions[0]
    model = make_model(wiring, wiring.setting(position))
    hz = model.frequencies_hz
    halfway = np.sqrt(hz[2:-3] * hz[3:-2])
    sixth = np.array([3, -25, 150, 150, -25, 3]) / 256  # Lagrange, halfway between six even points
    for _ in range(6):
        knobs = _random_knobs(wiring, rng)
        values = {**model.setting.knobs, **knobs}
        piece = next(one for one in model.pieces if all(v.holds(values[v.knob]) for v in one.variables))
        at = np.einsum("t,rtf->rf", piece.weights(values), piece.table)
        between = sum(weight * at[:, i : i + len(halfway)] for i, weight in enumerate(sixth))
        got = np.zeros((len(wiring.coils), len(halfway)), complex)
        got[list(piece.heard)] = between[1:] / between[0]
        circuit = respond(wiring, [wiring.setting(position, knobs)], halfway).coil[0]
        assert _deviation_db(got, circuit, 1e-2) < BETWEEN_DB, knobs


def test_tracks_of_one_shaft_share_a_variable() -> None:
    wiring = load_wiring(NETWORKS / "baritone_two_volumes.yaml")
    first, second = list(wiring.pots)[:2]
    ganged = replace(wiring, shafts={**wiring.shafts, second: first})
    model = make_model(ganged, ganged.setting(ganged.positions[0]))
    knobs = dict.fromkeys(ganged.knobs, 6.3)
    circuit = respond(ganged, [ganged.setting(ganged.positions[0], knobs)], model.frequencies_hz).coil[0]
    assert _deviation_db(model.respond(knobs), circuit) < EXACT_DB


def _model(most_bytes: int) -> tuple[Wiring, LiveModel]:
    wiring = load_wiring(DEMO / "tenor.yaml")
    return wiring, make_model(wiring, wiring.setting("3", {"tone": 2.0}), most_bytes=most_bytes)


def test_a_knob_that_changes_least_stands_still_where_space_is_short() -> None:
    wiring, model = _model(15_000)
    assert model.still
    assert set(model.still) < set(wiring.knobs)
    rest = {knob: 4.4 for knob in wiring.knobs if knob not in model.still}
    circuit = respond(wiring, [wiring.setting("3", {"tone": 2.0, **rest})], model.frequencies_hz).coil[0]
    assert _deviation_db(model.respond(dict.fromkeys(wiring.knobs, 4.4) | rest), circuit) < EXACT_DB


def test_the_bytes_hold_what_the_tables_say() -> None:
    _, model = _model(live.MOST_BYTES)
    packed = pack_model(model)
    (length,) = struct.unpack_from("<I", packed)
    head = json.loads(packed[4 : 4 + length])
    assert length % 4 == 0
    assert set(head) == set(live.HEAD)
    assert all(set(knob) == set(live.KNOB) for knob in head["knobs"])
    assert all(set(piece) == set(live.PIECE) for piece in head["pieces"])
    assert all(set(v) == set(live.VARIABLE) for piece in head["pieces"] for v in piece["variables"])
    numbers = np.frombuffer(packed, "<f4", offset=4 + length)
    assert len(numbers) == sum(2 * piece.table.size for piece in model.pieces)
    last, row = model.pieces[-1], head["pieces"][-1]
    kept = numbers[row["at"] :].reshape(*last.table.shape[:2], 2, -1)
    np.testing.assert_array_equal(kept[:, :, 0] + 1j * kept[:, :, 1], last.table)


def test_a_stretch_says_what_the_knob_does() -> None:
    """Resistances by stretches are those of the lugs, for each sort of track."""
    for pot in (
        Pot(500e3, end_resistance_ohm=40.0),
        Pot(250e3, blend(), no_load=True),
        Pot(500e3, tap=0.4, no_load=True),
    ):
        assert pot.stretches()[0].first == 0.0
        ends = [one for one in pot.stretches() if not one.at_top]
        assert [one.last for one in ends[:-1]] == [one.first for one in ends[1:]]
        assert ends[-1].last == 1.0
        low = pot.segments(2.0)
        share = pot.taper.share(0.2)
        assert low[0] == pytest.approx(pot.end_resistance_ohm + share * pot.resistance_ohm)
