"""A knob with a goal: the grid against the engine, the figures of a brief, what is confined where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tenor import TENOR, tenor

from dsp.errors import InputError
from dsp.knobs import goal_search
from dsp.knobs.gates import find_gates
from dsp.knobs.goal import Goal, leads_there, measure, shortfall
from dsp.knobs.goal_networks import (
    ANOTHER_POT,
    BENT,
    BRIDGED,
    FADED,
    GOAL_KINDS,
    LEAK,
    OPPOSED,
    PAD,
    fit_across,
    goal_networks,
    volume_networks,
)
from dsp.knobs.goal_search import (
    Answer,
    Candidate,
    compute_along,
    compute_elsewhere,
    find_front,
    search_goal,
)
from dsp.knobs.networks import BESIDE, CAPACITOR, IN_LINE, NetworkVariant
from dsp.knobs.ohm_energy import compute_ohm_energy
from dsp.knobs.tracks import Track, even_curve, sold_tracks
from dsp.knobs.travel import compute_travel
from dsp.parts.taper import linear, named
from dsp.sound.spectra import band_energy, standard_notes
from dsp.sound.timbre import ear_bands
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.changed import EditedText

SAME_SHARE = 1e-7
"""Of an energy: the closed form against the engine, rounding alone."""
BY_HAND = (("470 pF", 500e3, 3.4, 0.84), ("220 pF", 500e3, 4.3, 0.84), ("100 pF", 1e6, 5.4, 0.83))
"""Networks that a builder found by hand for one coil of the pair: a capacitor in series bridged by a pot
of reverse audio taper; width in dB and evenness."""


def read(text: str) -> Wiring:
    return read_wiring(parse_tree(text, "small"), "small")


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    return tenor()


@pytest.fixture(scope="module")
def networks(wiring: Wiring) -> list[NetworkVariant]:
    return list(goal_networks(wiring, wiring.setting("2"), "tone"))


@pytest.fixture(scope="module")
def answer(wiring: Wiring, networks: list[NetworkVariant]) -> Answer:
    """A search among every fifth network, and one that belongs to every answer here."""
    some = [one for i, one in enumerate(networks) if i % 5 == 0 or one.text == "1 nF"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(goal_search, "goal_networks", lambda *_: iter(some))
        return search_goal(wiring, wiring.setting("2"), "tone", Goal(("other",), 3.0, 14.0, 0.8))


@pytest.fixture(scope="module")
def whole(wiring: Wiring) -> Answer:
    """The whole search: 658 networks with 100 tracks."""
    return search_goal(wiring, wiring.setting("2"), "tone", Goal(("other",), 3.0, 14.0, 0.8))


def built(wiring: Wiring, tried: NetworkVariant, knob: str, track: Track) -> Wiring:
    """The wiring with a network and a track, put together here."""
    change = tried.change
    if track.across_ohm is not None:
        change = fit_across(change, wiring, tried, knob, track.across_ohm)
    pot = replace(wiring.pots[knob], taper=track.taper, resistance_ohm=track.resistance_ohm)
    done = change.apply(wiring)
    return replace(done, parts={**done.parts, knob: pot})


# --- the grid


def test_energy_by_resistance_is_the_engine_s(wiring: Wiring, networks: list[NetworkVariant]) -> None:
    """For one network of every kind and place, with tracks of every taper, with and without a resistor."""
    setting, bands = wiring.setting("2"), ear_bands()
    notes = standard_notes(wiring, bands)
    tracks = sold_tracks(500e3, end_ohm=0.0, opens=False)[::17]
    some = {(one.kind, one.only, one.fades): one for one in networks[::3]}
    assert {kind for kind, *_ in some} >= {CAPACITOR, BRIDGED, FADED}
    for tried in some.values():
        energy = compute_ohm_energy(tried, wiring, setting, "tone", 1e6, notes, bands)
        for track in tracks[:2]:
            got = energy(track.in_use(rising=tried.rising))
            done = built(wiring, tried, "tone", track)
            values = np.linspace(0.0, 10.0, 21)
            settings = [done.setting("2", {"tone": float(value)}) for value in values]
            want = band_energy(done, settings, bands)
            assert np.abs(got - want).max() <= SAME_SHARE * want.max(), (tried.text, track)


def test_an_open_track_and_bare_ends_are_the_engine_s() -> None:
    pot = "{kind: pot, resistance: 500 kΩ, taper: audio, end_resistance: 300 Ω, no_load: true}"
    wiring = read(
        TENOR.replace("{kind: pot, resistance: 500 kΩ, taper: audio}\n  tone_cap", f"{pot}\n  tone_cap")
    )
    assert wiring.pots["tone"].no_load
    setting, bands = wiring.setting("2"), ear_bands()
    notes = standard_notes(wiring, bands)
    for tried in list(goal_networks(wiring, setting, "tone"))[:300:60]:
        track = Track(250e3, named("audio"), "audio", None, 300.0, opens=True)
        energy = compute_ohm_energy(tried, wiring, setting, "tone", 1e6, notes, bands)
        done = built(wiring, tried, "tone", track)
        settings = [done.setting("2", {"tone": float(value)}) for value in np.linspace(0.0, 10.0, 21)]
        want = band_energy(done, settings, bands)
        assert np.abs(energy(track.in_use(rising=tried.rising)) - want).max() <= SAME_SHARE * want.max()


def test_measures_are_the_travel_s(wiring: Wiring) -> None:
    setting, bands = wiring.setting("2"), ear_bands()
    values = np.linspace(0.0, 10.0, 21)
    energy = band_energy(wiring, [wiring.setting("2", {"tone": float(v)}) for v in values], bands)
    own = compute_travel(wiring, setting, "tone")
    found = measure(Goal(("dark",)), energy[None], energy[-1], bands)
    assert found.change_db[0] == pytest.approx(own.width_db)
    assert found.evenness[0] == pytest.approx(own.evenness)
    assert found.spread_db[0] == pytest.approx(np.ptp(own.level_db))
    assert (found.start_db[0], bool(found.at_ten[0])) == (0.0, True)
    assert found.treble_db[0] < -10.0, "a tone control takes treble"
    softer = measure(Goal(("quieter",)), energy[None], energy[-1], bands)
    assert softer.evenness[0] == pytest.approx(own.level_evenness)
    assert softer.change_db[0] == pytest.approx(own.level_db[0]), "the closed tone control is louder"
    assert not softer.at_ten[0]


def test_what_leads_where(wiring: Wiring) -> None:
    bands = ear_bands()
    middles = np.sqrt(bands.edges_hz[1:] * bands.edges_hz[:-1])
    flat = np.ones(bands.n_bands)
    for end, tilted in (
        ("thin", np.where(middles < 250.0, 0.1, 1.0)),
        ("dark", np.where(middles > 3e3, 0.1, 1.0)),
        ("clear", np.where(middles > 3e3, 10.0, 1.0)),
    ):
        steps = np.stack([flat ** (1 - x) * tilted**x for x in np.linspace(0.0, 1.0, 21)])
        for goal in ("thin", "dark", "clear"):
            right = leads_there(Goal((goal,)), measure(Goal((goal,)), steps[None], flat, bands))[0]
            assert right == (goal == end or (end, goal) == ("clear", "thin")), (end, goal)
        middle = np.stack(
            [np.where((middles < 250.0) | (middles > 3e3), 10.0**-x, 1.0) for x in np.linspace(0, 1, 21)]
        )
        for goal in ("thin", "dark"):
            assert not leads_there(Goal((goal,)), measure(Goal((goal,)), middle[None], flat, bands))[0]
        off = measure(Goal((end,)), steps[None], np.where(middles > 1e3, 1e-3, 1.0), bands)
        assert not leads_there(Goal((end,)), off)[0], "neither end is today's sound"


def test_shortfall_is_nothing_where_all_is_met() -> None:
    steps = np.geomspace(1.0, 100.0, 21)[None, :, None] * np.ones(37)
    softer = Goal(("quieter",), 12.0, 1.0, 0.9)
    found = measure(softer, steps, steps[0, -1], ear_bands())
    assert shortfall(softer, found)[0] == 0.0
    assert shortfall(replace(softer, at_least_db=30.0), found)[0] == pytest.approx(1 / 3, abs=0.01)
    assert shortfall(replace(softer, at_least_db=30.0), found)[0] > 0.3


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((("thinn",),), "did you mean 'thin'"),
        (((),), "no end"),
        ((("dark", "clear"),), "exclude"),
        ((("quieter", "thin"),), "exclude"),
        ((("thin",), -1.0), "at least"),
        ((("thin",), 3.0, 0.0), "within"),
        ((("thin",), 3.0, 3.0, 1.5), "evenness"),
        ((("thin",), float("nan")), "at least"),
    ],
)
def test_goals_that_are_none(arguments: tuple[object, ...], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Goal(*arguments)  # type: ignore[arg-type]


# --- one coil of a pair, by the tone knob


def test_every_kind_is_tried_everywhere_and_in_the_position_alone(networks: list[NetworkVariant]) -> None:
    tried = {(one.kind, bool(one.only)) for one in networks}
    everywhere = {*GOAL_KINDS} - {OPPOSED, FADED, BESIDE, IN_LINE, ANOTHER_POT, BENT}
    assert {kind for kind, only in tried if not only} == everywhere
    assert {kind for kind, only in tried if only} == everywhere | {FADED}


def test_networks_found_by_hand_are_in_the_grid(wiring: Wiring, networks: list[NetworkVariant]) -> None:
    for value, ohm, width_db, evenness in BY_HAND:
        tried = next(one for one in networks if one.text.startswith(f"{value} bridged") and not one.only)
        done = built(wiring, tried, "tone", Track(ohm, named("reverse audio"), "reverse audio"))
        own = compute_travel(done, done.setting("2"), "tone")
        assert (round(own.width_db, 1), round(own.evenness, 2)) == (width_db, evenness)


@pytest.mark.long
def test_the_search_beats_what_was_found_by_hand(whole: Answer) -> None:
    assert (whole.networks, whole.computed) == (658, 65_800)
    for _, _, width_db, evenness in BY_HAND:
        assert any(
            one.change_db > width_db and one.evenness > evenness - 0.005 for one in whole.candidates
        ), (
            width_db,
            evenness,
        )


@pytest.mark.long
def test_the_grid_is_the_engine_s(wiring: Wiring, networks: list[NetworkVariant]) -> None:
    """Networks and tracks drawn by lot, each wiring built and its travel computed by the engine."""
    goal, setting = Goal(("other",)), wiring.setting("2")
    bands, tracks = ear_bands(), sold_tracks(500e3, end_ohm=0.0, opens=False)
    notes, lot = standard_notes(wiring, bands), np.random.default_rng(7)
    today = band_energy(wiring, [setting], bands)[0]
    for tried in lot.choice(np.array(networks, dtype=object), 120):
        track = tracks[lot.integers(len(tracks))]
        energy = compute_ohm_energy(tried, wiring, setting, "tone", 1e6, notes, bands)
        found = measure(goal, energy(track.in_use(rising=tried.rising)[None]), today, bands)
        own = compute_travel(built(wiring, tried, "tone", track), setting, "tone")
        assert found.change_db[0] == pytest.approx(own.width_db, abs=1e-6), (tried.text, track)
        assert found.evenness[0] == pytest.approx(own.evenness, abs=1e-6), (tried.text, track)
        assert found.spread_db[0] == pytest.approx(np.ptp(own.level_db), abs=1e-6), (tried.text, track)


def test_a_front_is_what_nothing_beats() -> None:
    rows = np.random.default_rng(3).integers(0, 12, (60, 2))
    worth = sorted(((float(a), float(b)) for a, b in rows), reverse=True)
    best = {worth[k] for k in find_front(worth)}
    for one in worth:
        beaten = any(other[0] >= one[0] and other[1] >= one[1] and other != one for other in worth)
        assert (one in best) != beaten


def test_candidates_are_what_the_engine_computes(wiring: Wiring, answer: Answer) -> None:
    assert len(answer.candidates) >= 5
    for one in answer.candidates:
        along = compute_along(wiring, wiring.setting("2"), one)
        assert along.width_db == pytest.approx(one.change_db, abs=1e-6)
        assert along.evenness == pytest.approx(one.evenness, abs=1e-6)
        assert np.ptp(along.level_db) == pytest.approx(one.spread_db, abs=1e-6)
        assert one.meets
        with_curve = one.change_with_curve(wiring)
        if with_curve is not None:
            done = with_curve.apply(wiring)
            even = compute_travel(done, done.setting("2"), "tone").evenness
            assert even == pytest.approx(one.curve_evenness, abs=1e-6)
            assert even > one.evenness


def test_a_position_alone_leaves_the_others_as_they_are(wiring: Wiring, answer: Answer) -> None:
    """A pot of another resistance changes the tone control of the others; the same pot changes nothing."""
    alone = next(one for one in answer.candidates if one.variant.only)
    kept = replace(alone, track=Track(500e3, named("audio"), "audio"))
    assert [one.same for one in compute_elsewhere(wiring, wiring.setting("2"), kept)] == [True, True]
    everywhere = next(one for one in answer.candidates if not one.variant.only)
    assert not any(one.same for one in compute_elsewhere(wiring, wiring.setting("2"), everywhere))


def test_a_pot_that_is_kept_leaves_the_other_positions(
    wiring: Wiring, networks: list[NetworkVariant]
) -> None:
    some = [one for one in networks if one.kind == BRIDGED][::4]
    goal = Goal(("other",), 2.0, 14.0, 0.6, keep_pot=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(goal_search, "goal_networks", lambda *_: iter(some))
        found = search_goal(wiring, wiring.setting("2"), "tone", goal)
    assert found.computed == len(some) * 6
    assert {one.variant.only for one in found.candidates} == {"2"}, "falling, an audio track is not even"
    for one in found.candidates:
        assert "tone" not in one.change(wiring).parts
        assert one.curve is None
        assert all(other.same for other in compute_elsewhere(wiring, wiring.setting("2"), one))


def test_a_candidate_written_is_the_candidate(wiring: Wiring, answer: Answer) -> None:
    for one in answer.candidates[::4]:
        for change in (one.change(wiring), one.change_with_curve(wiring)):
            if change is None:
                continue
            written, edited = EditedText(TENOR, "tenor.yaml"), EditedText(TENOR, "tenor.yaml")
            written.put_change(wiring, change)
            edited.change(edited.changes(wiring, change))
            done = change.apply(wiring)
            for text in (written, edited):
                again = text.wiring()
                assert again.parts == done.parts
                assert {frozenset(j.terminals) for j in again.joints} == {
                    frozenset(j.terminals) for j in done.joints
                }


def test_instructions_name_the_expression(wiring: Wiring, answer: Answer) -> None:
    alone = next(one for one in answer.candidates if one.variant.only and one.kind == CAPACITOR)
    steps = alone.change(wiring).instructions(wiring)
    assert steps[-1] == (
        "in selector write 1 = (pa + pb) | (tone + tone_cap); 2 = pa | (tone + tone_cap_2);"
        " 3 = ns | (tone + tone_cap)"
    )


def test_nothing_that_meets_the_goal_leaves_the_nearest(wiring: Wiring) -> None:
    small = read(
        "format: 1\nparts:\n"
        "  a: {kind: coil, resistance: 6 kΩ, inductance: 2.5 H, capacitance: 110 pF, at: 40 mm}\n"
        "  tone: {kind: pot, resistance: 250 kΩ}\n  cap: {kind: capacitor, capacitance: 22 nF}\n"
        "  output: {kind: jack}\ninstrument: {scale: 650 mm}\n"
        "joints: [[a.start, output.tip, tone.2], [tone.1, cap.a], [cap.b, a.finish, output.sleeve]]\n"
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(goal_search, "goal_networks", lambda *words: list(goal_networks(*words))[::9])
        found = search_goal(small, small.setting("1"), "tone", Goal(("dark",), 40.0, 1.0, 0.95))
    assert found.meeting == 0
    assert 0 < len(found.candidates) <= 3
    assert not any(one.meets for one in found.candidates)
    loose = replace(small, joints=tuple(j for j in small.joints if ("cap", "a") not in j.terminals))
    with pytest.raises(InputError, match="variable resistor"):
        search_goal(loose, loose.setting("1"), "tone", Goal(("dark",)))


def test_a_volume_is_bent_by_a_resistor(wiring: Wiring) -> None:
    """Common practice: a resistor from lug 1 to the wiper of a linear volume makes it fall like audio."""
    goal = Goal(("quieter",), 20.0, 8.0, 0.3)
    found = search_goal(wiring, wiring.setting("2"), "volume", goal)
    assert (found.networks, found.computed) == (11, 11 * 4 * 5)
    assert {one.kind for one in found.candidates} == {ANOTHER_POT, BENT}
    for one in found.candidates:
        along = compute_along(wiring, wiring.setting("2"), one)
        assert along.level_evenness == pytest.approx(one.evenness, abs=1e-6)
        assert one.start == 10.0
        assert one.change_db >= 20.0
    plain, bent = (
        next(
            one
            for one in volume_networks(wiring, "volume")
            if one.text in ("the pot alone" if not resistor else "47 kΩ from lug 1 to the wiper")
        )
        for resistor in (False, True)
    )
    middle = [
        compute_travel(
            built(wiring, one, "volume", Track(500e3, linear(), "linear")), wiring.setting("2"), "volume"
        ).level_db[10]
        for one in (plain, bent)
    ]
    assert middle[1] < middle[0] - 6.0


# --- a spare pole


SWITCHED = """\
format: 1
instrument: {scale: 650 mm}
parts:
  a: {kind: coil, resistance: 6 kΩ, inductance: 2.5 H, capacitance: 110 pF, at: 40 mm}
  b: {kind: coil, resistance: 5 kΩ, inductance: 2.0 H, capacitance: 100 pF, at: 150 mm}
  selector: {kind: rotary, poles: 2, positions: 3}
  volume: {kind: pot, resistance: 500 kΩ, taper: audio}
  tone: {kind: pot, resistance: 500 kΩ, taper: audio}
  cap: {kind: capacitor, capacitance: 22 nF}
  output: {kind: jack}
joints:
  - [a.start, selector.A1, selector.A2]
  - [b.start, selector.A3]
  - [selector.A0, volume.3, tone.2]
  - [tone.1, cap.a]
  - [volume.2, output.tip]
  - [a.finish, b.finish, volume.1, cap.b, output.sleeve]
"""


def test_a_spare_pole_confines_networks_to_one_position() -> None:
    """In its position the network does what it does soldered for good; elsewhere the wiring is today's."""
    wiring = read(SWITCHED.replace("kind: rotary", "kind: switch"))
    setting = wiring.setting("1")
    (gate, *_) = find_gates(wiring, "1")
    assert (gate.common, gate.on) == (("selector", "B0"), (("selector", "B1"),))
    assert gate.off == (("selector", "B2"), ("selector", "B3"))
    networks = list(goal_networks(wiring, setting, "tone"))
    hz = ear_bands()
    for kind in (CAPACITOR, LEAK, BRIDGED, PAD):
        alone = next(one for one in networks if one.kind == kind and one.only)
        everywhere = next(
            one for one in networks if one.kind == kind and one.text == alone.text and not one.only
        )
        for value in (0.0, 4.0, 10.0):
            energy = {
                one.only: [
                    band_energy(done := one.change.apply(wiring), [done.setting(p, {"tone": value})], hz)
                    for p in "123"
                ]
                for one in (alone, everywhere)
            }
            np.testing.assert_allclose(energy["1"][0], energy[""][0], rtol=1e-9)
            if kind in (CAPACITOR, LEAK):  # today's tone control stays
                for k, position in ((1, "2"), (2, "3")):
                    today = band_energy(wiring, [wiring.setting(position, {"tone": value})], hz)
                    np.testing.assert_allclose(energy["1"][k], today, rtol=1e-9)
            else:  # bridged: the knob does nothing
                for k, position in ((1, "2"), (2, "3")):
                    bare = replace(
                        wiring, joints=tuple(j for j in wiring.joints if ("cap", "a") not in j.terminals)
                    )
                    off = band_energy(bare, [bare.setting(position)], hz)
                    np.testing.assert_allclose(energy["1"][k], off, rtol=1e-9)


@pytest.mark.parametrize(
    ("switch", "position", "on", "off"),
    [
        ("{kind: switch, poles: 2, positions: 3}", "3", 1, 2),
        ("{kind: switch, function: bridging, poles: 2, positions: 5}", "3", 0, 0),
    ],
)
def test_poles_that_can_and_cannot_confine(switch: str, position: str, on: int, off: int) -> None:
    text = SWITCHED.replace("{kind: rotary, poles: 2, positions: 3}", switch)
    gates = find_gates(read(text), position)
    assert (len(gates[0].on), len(gates[0].off)) == (on, off) if on or off else not gates or not gates[0].on


def test_no_pole_is_spare_where_its_lugs_are_soldered() -> None:
    text = SWITCHED.replace("kind: rotary", "kind: switch").replace(
        "selector.A1,", "selector.A1, selector.B1,"
    )
    assert find_gates(read(text), "1") == ()
    assert not find_gates(tenor(), "2"), "a sketch has no lugs"


# --- tracks


def test_a_resistor_across_the_lugs_tapers_the_track() -> None:
    """Common practice: an equal resistor across a linear rheostat gives a third of the way at half travel."""
    plain = Track(500e3, linear(), "linear")
    tapered = replace(plain, across_ohm=500e3)
    assert tapered.in_use(rising=True)[[0, 10, 20]] == pytest.approx([0.0, 500e3 / 3, 250e3])
    assert tapered.in_use(rising=False)[[0, 10, 20]] == pytest.approx([250e3, 500e3 / 3, 0.0])
    opened = replace(plain, opens=True)
    assert opened.in_use(rising=True)[-1] == np.inf
    assert replace(opened, across_ohm=1e6).in_use(rising=True)[-1] == pytest.approx(1e6)


def test_an_even_curve_turns_equal_ways() -> None:
    """Ways that grow with the square root need a square taper: 1/16, 1/4, 9/16."""
    ohm = np.linspace(0.0, 1e6, 4001)
    found = even_curve(ohm, np.sqrt(ohm), 1e6, end_ohm=0.0, rising=True)
    assert found is not None
    assert found.points == ((0.0, 0.0), (0.25, 0.06), (0.5, 0.25), (0.75, 0.56), (1.0, 1.0))
    falling = even_curve(ohm, np.sqrt(ohm), 1e6, end_ohm=0.0, rising=False)
    assert falling is not None
    assert falling.points == ((0.0, 0.0), (0.25, 0.44), (0.5, 0.75), (0.75, 0.94), (1.0, 1.0))
    assert even_curve(ohm, 0.0 * ohm, 1e6, end_ohm=0.0, rising=True) is None


def test_a_candidate_s_track_is_in_its_change(wiring: Wiring, answer: Answer) -> None:
    one: Candidate = next(one for one in answer.candidates if not one.variant.only)
    tapered = replace(one, track=replace(one.track, across_ohm=220e3))
    assert "tone_taper_resistor" in tapered.change(wiring).parts
    along = compute_along(wiring, wiring.setting("2"), tapered)
    assert along.width_db != pytest.approx(one.change_db, abs=1e-3)
