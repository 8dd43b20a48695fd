"""Two knobs together: where the first leaves the second alone, where it does not, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pair_case import AFTER, BEFORE, COIL_AT, NO_LOAD, PARTS, STRINGS
from places import DEMO
from small_wirings import wiring_of

from dsp.errors import InputError
from dsp.knobs.pair import PairMap, PairRow, choose_knobs, compute_pair, find_most_even, find_widest
from dsp.knobs.pair_words import pair_record, pair_text
from dsp.knobs.travel import Travel, compute_travel
from dsp.sound.timbre import timbre_distance
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

PAIR = ("volume", "tone")


@pytest.fixture(scope="module")
def twelve() -> Wiring:
    return load_wiring(DEMO / "twelve.yaml")


def pair_of(joints: str, load: str) -> PairMap:
    wiring = wiring_of(PARTS, joints, STRINGS + load)
    return compute_pair(wiring, wiring.setting(wiring.positions[0]), PAIR)


def test_a_volume_into_nothing_leaves_the_tone_before_it_alone() -> None:
    """Without a load the divider after the tone control only scales, a fact of any voltage divider: the
    coil sees the whole track wherever the wiper is."""
    free = pair_of(BEFORE, NO_LOAD)
    assert max(row.changed_db for row in free.rows) < 0.01
    assert "leaves what tone does alone" in pair_text(free)
    # the audio taper: 15 % of the track at 5
    half = next(row for row in free.rows if row.value == 5.0)
    assert half.level_db == pytest.approx(20.0 * np.log10(0.15), abs=0.05)


def test_a_tone_behind_the_volume_does_something_else_once_that_is_back() -> None:
    """The track between coil and tone then is in series with its capacitor (common practice: a tone wired
    to the wiper gets stronger as the volume goes back)."""
    usual = "load:\n  cable: {length: 5 m, capacitance: 100 pF/m}\n  amplifier: {resistance: 1 MΩ}\n"
    before, after = pair_of(BEFORE, NO_LOAD), pair_of(AFTER, NO_LOAD)
    at_seven = {
        name: next(r for r in one.rows if r.value == 7.0) for name, one in (("b", before), ("a", after))
    }
    assert at_seven["a"].changed_db > 1.0 > 0.01 > at_seven["b"].changed_db
    assert "changes what tone does by" in pair_text(pair_of(AFTER, usual))


def test_rows_are_travels_and_places_are_settings(twelve: Wiring) -> None:
    pair = compute_pair(twelve, twelve.setting("3"), PAIR)
    for value in (10.0, 6.5, 2.0):
        alone = compute_travel(twelve, twelve.setting("3", {"volume": value}), "tone")
        row = next(row for row in pair.rows if row.value == value)
        assert row.travel.width_db == pytest.approx(alone.width_db, abs=1e-6)
        assert row.travel.evenness == pytest.approx(alone.evenness, abs=1e-6)
    across = compute_travel(twelve, twelve.setting("3", {"tone": 4.0}), "volume")
    steps = timbre_distance(pair.points[1:, 8], pair.points[:-1, 8])[1:]
    assert steps == pytest.approx(across.step_db[1:], abs=1e-6)
    assert pair.rows[0].changed_db == 0.0


def test_silence_is_no_place(twelve: Wiring) -> None:
    pair = compute_pair(twelve, twelve.setting("3"), PAIR)
    assert not pair.audible[0].any()
    assert pair.audible[1:].all()
    assert [row.value for row in pair.rows] == [n / 2 for n in range(20, 0, -1)]
    record = pair_record(pair)
    assert record["level_db"][0] == [None] * 21
    assert record["level_db"][20][20] == record["distance_db"][20][20] == 0.0
    dead = replace(twelve, joints=tuple(j for j in twelve.joints if ("output", "tip") not in j.terminals))
    silent = compute_pair(dead, dead.setting("3"), PAIR)
    assert silent.rows == ()
    assert pair_text(silent) == "Nothing is heard at any setting of volume and tone."
    assert pair_record(silent)["widest"] is None


def row(
    value: float, width_db: float, even: float, level_db: float = 0.0, changed_db: float = 0.0
) -> PairRow:
    """A row whose travel has a width and, of 20 steps, a share that does all the change."""
    busy = round(even * 20)
    steps = np.array([1.0] * busy + [0.0] * (20 - busy))
    return PairRow(
        value,
        Travel("tone", np.arange(21.0), steps, np.zeros(21), width_db, 2.0 * width_db),
        level_db,
        changed_db,
    )


def map_of(*rows: PairRow) -> PairMap:
    nothing = np.zeros((2, 2))
    return PairMap(
        ("volume", "tone"), np.array([0.0, 10.0]), np.zeros((2, 2, 3)), nothing, nothing == 0.0, rows
    )


def test_what_is_widest_and_most_even_is_said_in_a_sentence() -> None:
    rows = (row(10.0, 6.0, 0.5), row(8.0, 7.0, 0.5, -4.0, 0.2), row(6.0, 6.5, 0.8, -9.0, 1.5))
    told = map_of(*rows, row(4.0, 20.0, 1.0, -30.0, 9.0))
    assert pair_text(told) == (
        "Tone travels widest with volume at 8 (7.0 dB of timbre from end to end, evenness 0.50)"
        " and most evenly at 6 (evenness 0.80, 6.5 dB; 0.50 at 10)."
        " Volume turned down by up to 12 dB changes what tone does by 1.5 dB at most, at 6 (9.0 dB softer)."
    )
    assert "widest with volume at 4, and most evenly too" in pair_text(told, within_db=40.0)
    assert "with volume at 10, and most evenly too" in pair_text(told, within_db=0.0)
    idle = map_of(row(10.0, 0.1, 1.0))
    assert pair_text(idle) == "Tone hardly changes the timbre here, wherever volume stands."


def test_of_travels_alike_the_louder_one_is_told() -> None:
    alike = (row(10.0, 6.0, 0.5), row(9.0, 6.04, 0.5, -1.0))
    assert find_widest(alike).value == find_most_even(alike).value == 10.0
    assert find_widest((*alike, row(8.0, 6.2, 0.5, -2.0))).value == 8.0
    assert find_most_even((*alike, row(8.0, 6.2, 0.6, -2.0))).value == 8.0


def test_a_volume_and_a_tone_are_chosen() -> None:
    baritone = load_wiring(DEMO / "baritone.yaml")
    turned = replace(baritone, parts=dict(reversed(baritone.parts.items())))
    for wiring in (baritone, turned):
        setting = wiring.setting("1", {"volume": 0.0})
        assert choose_knobs(wiring, setting) == ("volume", "tone")
        assert choose_knobs(wiring, setting, ("tone", "")) == ("tone", "volume")
        assert choose_knobs(wiring, setting, ("", "volume")) == ("tone", "volume")


@pytest.mark.parametrize(
    ("wanted", "allowed"),
    [
        (("volum", ""), "volume, tone"),
        (("tone", "tone"), "two different knobs"),
        (("tone", "x"), "volume, tone"),
    ],
)
def test_knobs_that_cannot_be(twelve: Wiring, wanted: tuple[str, str], allowed: str) -> None:
    with pytest.raises(InputError) as refused:
        choose_knobs(twelve, twelve.setting("1"), wanted)
    assert allowed in refused.value.problems[0].allowed


def test_one_knob_is_no_pair() -> None:
    wiring = wiring_of(
        f"coil: {COIL_AT}\noutput: {{kind: jack}}", "coil.start, output.tip\ncoil.finish, output.sleeve"
    )
    with pytest.raises(InputError, match="two knobs or more"):
        choose_knobs(wiring, wiring.setting(wiring.positions[0]))
