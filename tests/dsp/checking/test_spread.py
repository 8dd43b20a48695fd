"""Instruments built alike, held to wiring files of them computed the usual way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from places import DEMO

from dsp.checking.directions import CABLE, HUM, draw_steps, find_directions, make_copies
from dsp.checking.points import find_settings
from dsp.checking.spread import _hum_weights, find_spread, listen
from dsp.circuit.copies import MOST_SHARE, Copies
from dsp.circuit.resonance import resonances
from dsp.circuit.response import hum_weights
from dsp.sound.spectra import band_energy
from dsp.sound.timbre import ear_bands, timbre, timbre_distance
from server.searches.spread import honest_text
from server.wirings.ends import write_ends
from server.wirings.text import load_wiring

SHARES_WITHIN = 0.10
"""The study's bar: shares by one step to either side against draws."""


@pytest.mark.parametrize("name", ["baritone", "twelve"])
def test_the_two_ends_as_files_are_as_far_apart(name: str, tmp_path: Path) -> None:
    """Of two instruments the ends are the two: their files differ by what was told."""
    file = DEMO / f"{name}.yaml"
    wiring = load_wiring(file)
    plain = [wiring.setting(position) for position in wiring.positions]
    half = [wiring.setting(wiring.positions[0], {"tone": 5.0})]
    found = find_spread(wiring, [*plain, *half], 2)
    ends = [load_wiring(path) for path in write_ends(tmp_path, file, wiring, found)]
    energy = [band_energy(one, [*plain, *half], ear_bands()) for one in ends]
    apart = timbre_distance(timbre(energy[0]), timbre(energy[1]))
    told = np.array([one.farthest_db for one in found.settings])
    # Spectra of the file's own strings stand in for each: coils lie where they lay.
    assert told[: len(plain)] == pytest.approx(apart[: len(plain)], abs=0.005)
    assert told[-1] == pytest.approx(apart[-1], abs=0.15)  # its taper is bent, not turned
    assert told.max() > 0.05


def test_resonances_are_those_of_the_solver(tmp_path: Path) -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    setting = wiring.setting("1")
    found = find_spread(wiring, [setting], 40)
    (peak,) = resonances(wiring, setting, coils=["neck"])
    assert found.settings[0].resonance_hz == pytest.approx(peak.frequency_hz, rel=0.02)
    assert 0.2 < found.settings[0].semitones < 1.0


def test_the_cable_differs_most() -> None:
    """The study: 77 to 83 % with the knobs up."""
    wiring = load_wiring(DEMO / "baritone.yaml")
    plain = [wiring.setting(position) for position in wiring.positions]
    with_cable = find_spread(wiring, plain, 30, cable=0.2)
    first = with_cable.shares[0]
    assert first.part == CABLE
    assert 0.7 < first.share < 0.9
    assert first.gain > 3 * max(one.gain for one in with_cable.shares[1:])
    alone = find_spread(wiring, plain, 30)
    assert CABLE not in {one.part for one in alone.shares}
    assert with_cable.settings[0].semitones > 1.5 * alone.settings[0].semitones


def test_shares_agree_with_draws() -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")
    settings = [wiring.setting(position) for position in ("1", "4", "6")]
    found = find_spread(wiring, settings, 2, cable=0.2)
    told = {one.part: one.share for one in found.shares}
    drawn: dict[str, float] = {}
    for part in told:
        own = np.array([one.part == part for one in found.directions])
        steps = draw_steps(60, len(own), 5) * own
        vectors = listen(wiring, settings, make_copies(wiring, found.directions, steps)).timbre
        drawn[part] = float(vectors.var(axis=1).mean())
    whole = sum(drawn.values())
    assert all(abs(told[part] - drawn[part] / whole) < SHARES_WITHIN for part in told)
    assert abs(told[CABLE] / 1.5 - drawn[CABLE] / whole) > SHARES_WITHIN, "the twin"


def test_the_ends_differ_by_their_cables_too(tmp_path: Path) -> None:
    """What is told of the farthest two is told of the two files, in the band that differs most as well."""
    file = DEMO / "twelve.yaml"
    wiring = load_wiring(file)
    settings = [wiring.setting(position) for position in wiring.positions]
    found = find_spread(wiring, settings, 10, cable=0.2)
    ends = [load_wiring(path) for path in write_ends(tmp_path, file, wiring, found)]
    cables = [one.load.cable_f_per_m for one in ends]
    at = [one.part for one in found.directions].index(CABLE)
    told = wiring.load.cable_f_per_m * np.exp(found.directions[at].sd * found.ends[:, at])
    assert cables == pytest.approx(told, rel=1e-3)
    one, other = (timbre(band_energy(end, settings, ear_bands())) for end in ends)
    rows = found.settings
    assert [row.farthest_db for row in rows] == pytest.approx(timbre_distance(one, other), abs=0.01)
    most = np.abs(one - other).max(axis=1)
    assert [row.farthest_band_db for row in rows] == pytest.approx(most, abs=0.02)
    assert honest_text(found).startswith(
        f"Built 10 times, the farthest two differ by {most.max():.1f} dB in the"
    )


def test_widths_do_not_hang_on_how_many_are_built() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    few, many = (find_spread(wiring, [wiring.setting("1")], built).settings[0] for built in (2, 30))
    assert few.semitones == pytest.approx(many.semitones)
    assert few.timbre_db == pytest.approx(many.timbre_db)
    assert few.farthest_db < many.farthest_db


def test_a_silent_setting_is_left_out() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    found = find_spread(wiring, find_settings(wiring), 3)
    assert len(found.settings) == len(find_settings(wiring)) - 1  # volume at 0


LIKE = """format: 1
parts:
  neck: {kind: coil, like: narrow_single_medium} # of the library
  bridge:
    kind: coil
    resistance: 6 kΩ
    inductance: 2 H
    capacitance: 100 pF
    eddy: [{share: 90 %, corner: 4 kHz}]
  output: {kind: jack}
joints:
  - [neck.start, bridge.finish]
  - [bridge.start, output.tip]
  - [neck.finish, output.sleeve]
"""


def test_ends_of_coils_of_the_library_are_files(tmp_path: Path) -> None:
    """The file states none of what differs; a loss stays below the whole inductance."""
    file = tmp_path / "like.yaml"
    file.write_text(LIKE, encoding="utf-8")
    wiring = load_wiring(file)
    found = find_spread(wiring, [wiring.setting("1")], 40)
    ends = [load_wiring(path) for path in write_ends(tmp_path, file, wiring, found)]
    for end, steps in zip(ends, found.ends, strict=True):
        copies = make_copies(wiring, found.directions, steps[None])
        neck, own = end.coils["neck"], wiring.coils["neck"]
        factor = copies.factors["neck", "eddy"][0]
        assert [one.share for one in neck.eddy] == pytest.approx(
            [factor * e.share for e in own.eddy], rel=1e-3
        )
        assert [one.corner_hz for one in neck.eddy] == pytest.approx(
            [e.corner_hz for e in own.eddy], rel=1e-3
        )
        assert hum_weights(end) == pytest.approx(_hum_weights(wiring, copies)[:, 0], rel=1e-3)
        most = min(0.9 * copies.factors["bridge", "eddy"][0], MOST_SHARE)
        assert end.coils["bridge"].eddy[0].share == pytest.approx(most, rel=1e-3)
    assert max(end.coils["bridge"].eddy[0].share for end in ends) > 0.9


def test_hum_follows_the_area_where_the_file_states_it(tmp_path: Path) -> None:
    """The weights of the response, and one spread for each coil."""
    file = tmp_path / "like.yaml"
    stated = LIKE.replace("narrow_single_medium}", "narrow_single_medium, hum_area: 4 m²}")
    file.write_text(stated, encoding="utf-8")
    wiring = load_wiring(file)
    coils = wiring.coils
    assert _hum_weights(wiring, Copies(1))[:, 0] == pytest.approx(hum_weights(wiring))
    assert hum_weights(wiring) == pytest.approx([4 / 5.9, 1.0])
    directions = [one for one in find_directions(wiring, alike=True) if one.field in HUM]
    assert [one.part for one in directions] == list(coils)
    assert [one.field for one in directions] == ["hum_area", "turns_area"]
    steps = np.ones((1, len(directions)))
    raised = _hum_weights(wiring, make_copies(wiring, directions, steps))[:, 0]
    assert raised / hum_weights(wiring) == pytest.approx(np.exp([one.sd for one in directions]))
