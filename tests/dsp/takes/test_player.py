"""A score as the player plays it: which strings, when, how hard, and what stops them."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from score_text import EXACT, SEVEN, SIX, TWELVE, played, score_of
from tolerances import HUMAN_CORRELATION, HUMAN_MEAN_SIGMA, HUMAN_SPREAD, PLAYED_S

from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.parts.instrument import Instrument
from dsp.strings.curvature import Curvature
from dsp.strings.magnetised import tune_set
from dsp.strings.note import Movement, Note
from dsp.strings.perform import Setup, perform
from dsp.strings.tuned import tune
from dsp.takes.player import COURSE_S, HUSH_S, PLUCK_SHARE, check_places, instrument_of, notes_of, strings_of

COILS = [
    Coil(4e3, 2.0, 8e-11, at_m=0.16, sensitivity=1.0),
    Coil(5e3, 3.0, 8e-11, at_m=0.04, winding=-1, sensitivity=1.0),
]
CHORD = "frets: [3, 2, 0, 0, 0, 3]"
EASY = [f"beat: {beat}, string: {1 + beat % 6}, fret: {beat % 5}" for beat in range(200)]


def sound(notes: tuple[Note, ...], seconds: float = 1.0) -> np.ndarray:
    strings = tune_set(SIX.strings, SIX.scale_m)
    return np.concatenate(
        list(perform(notes, Setup(strings, COILS, 48_000.0), round(seconds * 48e3))), axis=1
    )


def starts(notes: tuple[Note, ...]) -> list[float]:
    return [note.start_s for note in notes]


# --- what an event states, and its defaults


def test_an_event_of_defaults() -> None:
    (note,) = played(["beat: 2, string: 6"])
    assert note == Note(
        0,
        1.0,
        force=0.6,
        pluck_at_m=PLUCK_SHARE * SIX.scale_m,
        hush_s=note.hush_s,
        again_s=None,
        movement=None,
        noises=note.noises,
    )


def test_an_event_with_every_field() -> None:
    (note,) = played(
        [
            "beat: 1, string: 1, fret: 5, force: 0.9, pluck_at: 60 mm, mute: 0.4, up: true, length: 0.5,"
            " hand: finger, bend: {to: 2, after: 1, over: 2}, slide: {to: 3, after: 0.5, over: 0.2},"
            " vibrato: {depth: 0.3, rate: 5 Hz, after: 1.5}, dead: true"
        ]
    )
    moved = Movement(2.0, 0.5, 1.0, -2, 0.25, 0.1, 0.3, 5.0, 0.75)
    assert note.movement == moved
    assert replace(note, movement=None, noises=None) == Note(
        5, 0.5, 5, 0.9, 0.06, 0.4, True, "finger", stop_s=0.75, hush_s=note.hush_s, dead=True
    )


def test_a_harmonic_is_handed_on() -> None:
    assert [note.harmonic for note in played(["beat: 0, string: 6, harmonic: 3", "beat: 1, string: 5"])] == [
        3,
        1,
    ]


def test_defaults_hold_until_an_event_says_otherwise() -> None:
    head = EXACT + "defaults: {force: 0.9, pluck_at: 50 mm, mute: 0.3, hand: finger, up: true, length: 1}\n"
    plain, own, strum = played(
        [
            "beat: 0, string: 6",
            "beat: 1, string: 5, force: 0.2, up: false, hand: pick, mute: 0",
            "beat: 2, frets: [1]",
        ],
        head,
    )
    assert (plain.force, plain.pluck_at_m, plain.mute, plain.hand, plain.up) == (
        0.9,
        0.05,
        0.3,
        "finger",
        True,
    )
    assert (own.force, own.pluck_at_m, own.mute, own.hand, own.up) == (0.2, 0.05, 0.0, "pick", False)
    assert (strum.force, strum.mute, strum.up) == (0.9, 0.3, True)
    assert plain.stop_s == pytest.approx(0.5)


def test_the_usual_place_moves_up_where_the_string_is_short() -> None:
    """The usual place lies beyond the middle of a string stopped at fret 24."""
    low, high = played(["beat: 0, string: 1", "beat: 1, string: 2, fret: 24"])
    assert low.pluck_at_m == pytest.approx(PLUCK_SHARE * SIX.scale_m)
    assert high.pluck_at_m == pytest.approx(0.5 * SIX.scale_m / 4.0)


def test_noises_are_seeded_and_may_be_left_out() -> None:
    events = ["beat: 1, string: 6", "beat: 2, string: 6", "beat: 2, string: 5"]
    seeds = [note.noises for note in played(events)]
    assert None not in seeds
    assert len(set(seeds)) == len(events)
    assert seeds == [note.noises for note in played(events, f"{EXACT}noises: on\n")]
    assert seeds != [note.noises for note in played(events, f"{EXACT}seed: 1\n")]
    without = played(events, f"{EXACT}noises: off\n")
    assert without == tuple(replace(note, noises=None) for note in played(events))


def test_curvature_on_off_and_with_values() -> None:
    assert score_of(["beat: 0, string: 1"]).curvature == Curvature()
    assert score_of(["beat: 0, string: 1"], "curvature: off\n").curvature is None
    assert score_of(["beat: 0, string: 1"], "curvature: on\n").curvature == Curvature()
    given = score_of(["beat: 0, string: 1"], "curvature: {distance: 6 mm, power: 3}\n").curvature
    assert given == Curvature(0.006, 3.0)


def test_the_take_ends_a_tail_after_the_last_event() -> None:
    assert score_of(["beat: 4, string: 1", "beat: 0, string: 2, length: 8"], "tail: 1.5 s\n").seconds == 5.5
    assert score_of(["beat: 4, string: 1"], "tail: 1.5 s\n").seconds == 3.5


# --- strings and courses


def test_string_one_is_the_highest() -> None:
    assert [note.string for note in played([f"beat: {s}, string: {s}" for s in range(1, 7)])] == [
        5,
        4,
        3,
        2,
        1,
        0,
    ]


@pytest.mark.parametrize(
    ("instrument", "strings"),
    [(SIX, [0, 5]), (TWELVE, [0, 1, 10, 11]), (SEVEN, [1, 6])],
    ids=["6", "12", "7"],
)
def test_six_courses_on_instruments(instrument: Instrument, strings: list[int]) -> None:
    """Twelve strings make pairs; on seven, six numbers are the six highest strings."""
    notes = played(["beat: 0, string: 6", "beat: 1, string: 1"], f"courses: 6\n{EXACT}", instrument)
    assert [note.string for note in notes] == strings


def test_without_courses_twelve_strings_are_twelve_numbers() -> None:
    notes = played(["beat: 0, string: 12", "beat: 1, string: 1"], EXACT, TWELVE)
    assert [note.string for note in notes] == [0, 11]


def test_a_course_is_struck_one_string_after_the_other() -> None:
    down = played(["beat: 1, string: 6"], f"courses: 6\n{EXACT}", TWELVE)
    up = played(["beat: 1, string: 6, up: true"], f"courses: 6\n{EXACT}", TWELVE)
    assert [note.string for note in down] == [0, 1]
    assert [note.string for note in up] == [1, 0]
    for notes in (down, up):
        assert starts(notes) == pytest.approx([0.5, 0.5 + COURSE_S])


# --- strums


@pytest.mark.parametrize(("words", "order"), [("", [0, 1, 2, 3, 4, 5]), (", up: true", [5, 4, 3, 2, 1, 0])])
def test_a_strum_goes_down_or_up(words: str, order: list[int]) -> None:
    notes = played([f"beat: 1, {CHORD}, spread: 50 ms{words}"])
    assert [note.string for note in notes] == order
    assert starts(notes) == pytest.approx(0.5 + 0.01 * np.arange(6))
    frets = {note.string: note.fret for note in notes}
    assert [frets[string] for string in range(6)] == [3, 2, 0, 0, 0, 3]


def test_spread_is_from_first_to_last_struck_whatever_lies_between() -> None:
    notes = played(["beat: 1, frets: [x, 0, X, 2, x, x], spread: 60 ms"])
    assert [note.string for note in notes] == [1, 3]
    assert starts(notes) == pytest.approx([0.5, 0.56])
    assert starts(played(["beat: 1, frets: [x, x, x, x, 1, x], spread: 60 ms"])) == pytest.approx([0.5])
    assert starts(played([f"beat: 1, {CHORD}, spread: 0 s"])) == pytest.approx([0.5] * 6)
    assert starts(played([f"beat: 1, {CHORD}"]))[-1] == pytest.approx(0.53)


# --- chance


def test_one_seed_one_take_another_seed_another() -> None:
    events = [f"beat: 1, {CHORD}", "beat: 2, string: 3, fret: 2"]
    once, again = played(events, "seed: 5\n"), played(events, "seed: 5\n")
    other = played(events, "seed: 6\n")
    assert once == again
    np.testing.assert_array_equal(sound(once), sound(again))
    assert all(a.start_s != b.start_s and a.force != b.force for a, b in zip(once, other, strict=True))
    assert np.max(np.abs(sound(once) - sound(other))) > 0.01 * np.max(np.abs(sound(once)))


@pytest.mark.parametrize("order", range(3))
def test_events_in_any_order_of_the_file_are_one_take(order: int) -> None:
    events = [f"beat: 1, {CHORD}", *EASY[:20], "beat: 3, string: 3, fret: 7", f"beat: 4, {CHORD}, up: true"]
    mixed = random.Random(order).sample(events, len(events))
    assert mixed != events
    assert notes_of(score_of(mixed, "seed: 1\n"), SIX, "a") == notes_of(
        score_of(events, "seed: 1\n"), SIX, "b"
    )


def test_a_change_to_one_event_leaves_the_others_as_they_were() -> None:
    less = [note for note in played(EASY[:10], "seed: 2\n") if note.string != 5]
    more = [note for note in played([*EASY[1:10], "beat: 0.5, string: 1"], "seed: 2\n") if note.string != 5]
    assert less
    assert [(n.start_s, n.force) for n in more] == [(n.start_s, n.force) for n in less]


def test_onsets_and_forces_scatter_as_asked() -> None:
    """Against the normal law: mean, standard deviation, and independence of neighbours."""
    notes = played(EASY, "timing: 6 ms\ndynamics: 2 dB\nseed: 8\n")
    late_s = np.array(starts(notes))[1:] - 0.5 * np.arange(1, len(EASY))
    louder_db = 20.0 * np.log10(np.array([note.force for note in notes])[1:] / 0.6)
    for values, sigma in ((late_s, 0.006), (louder_db, 2.0)):
        assert abs(values.mean()) < HUMAN_MEAN_SIGMA * sigma / math.sqrt(len(values))
        assert values.std() == pytest.approx(sigma, rel=HUMAN_SPREAD)
        assert abs(np.corrcoef(values[1:], values[:-1])[0, 1]) < HUMAN_CORRELATION
    assert abs(np.corrcoef(late_s, louder_db)[0, 1]) < HUMAN_CORRELATION


def test_without_scatter_every_onset_is_exact() -> None:
    notes = played(EASY)
    assert starts(notes) == pytest.approx(0.5 * np.arange(len(EASY)), abs=PLAYED_S)
    assert {note.force for note in notes} == {0.6}


def test_nothing_starts_before_the_take() -> None:
    assert all(
        min(starts(played(["beat: 0, string: 1"], f"timing: 100 ms\nseed: {s}\n"))) >= 0.0 for s in range(9)
    )


# --- what ends a note


def test_each_note_knows_when_its_string_is_plucked_again() -> None:
    events = ["beat: 3, string: 6", "beat: 0, string: 6", "beat: 1, string: 5", "beat: 2, string: 6, fret: 1"]
    notes = notes_of(score_of(events, "seed: 3\n"), SIX, "s.yaml")
    for string, count in ((0, 3), (1, 1)):
        chain = [note for note in notes if note.string == string]
        assert len(chain) == count
        assert [note.again_s for note in chain] == [note.start_s for note in chain[1:]] + [None]
        assert starts(tuple(chain)) == sorted(starts(tuple(chain)))


def test_a_length_stops_a_note_and_no_other() -> None:
    short, ringing = played(["beat: 1, string: 6, length: 0.5", "beat: 1.2, string: 5"])
    assert short.stop_s == pytest.approx(0.75)
    assert ringing.stop_s is None
    assert ringing.hush_s == short.hush_s == pytest.approx(0.75 + 2.0 - HUSH_S)


def test_a_hand_is_laid_on_what_rings_before_the_take_ends() -> None:
    """The last samples are all but silent: the sound neither breaks off nor stops before its end."""
    score = score_of([f"beat: 0, {CHORD}", f"beat: 1, {CHORD}"], "tail: 0.9 s\n")
    stems = sound(notes_of(score, SIX, "s.yaml"), score.seconds)
    peak, last = np.max(np.abs(stems)), np.max(np.abs(stems[:, -48:]))
    assert -110.0 < 20.0 * np.log10(last / peak) < -70.0
    before = np.max(np.abs(stems[:, : -round((HUSH_S + 0.05) * 48e3)][:, -2400:]))
    assert before > 0.05 * peak


def test_a_length_within_a_strum_counts_from_each_string() -> None:
    notes = played([f"beat: 1, {CHORD}, spread: 50 ms, length: 1"])
    assert [note.stop_s for note in notes] == pytest.approx([note.start_s + 0.5 for note in notes])


# --- what an instrument lacks


def test_an_instrument_without_strings_is_lent_six() -> None:
    lent, note = instrument_of(Instrument(0.686))
    assert (len(lent.strings), lent.scale_m) == (6, 0.686)
    assert "E2 A2 D3 G3 B3 E4 on 686 mm are assumed" in note
    assert instrument_of(SIX) == (SIX, "")
    assert instrument_of(None)[1]


def test_coils_with_places_pass() -> None:
    check_places({"neck": COILS[0], "bridge": COILS[1]}, "w.yaml", {})


# --- what a player varies, and the left hand


def test_each_stroke_lands_somewhere_else() -> None:
    """By the spreads of the score, by its seed, and never beyond the string."""
    events = [f"beat: {beat}, string: {1 + beat % 6}" for beat in range(200)]
    exact = played(events)
    spread = played(events, "timing: 0 s\ndynamics: 0 dB\nplace: 4 mm\nangle: 14\n")
    again = played(events, "timing: 0 s\ndynamics: 0 dB\nplace: 4 mm\nangle: 14\n")
    assert spread == again
    away_m = np.array([a.pluck_at_m - b.pluck_at_m for a, b in zip(spread, exact, strict=True)])
    turned = np.degrees([note.turned for note in spread])
    assert np.std(away_m) == pytest.approx(0.004, rel=HUMAN_SPREAD)
    assert np.std(turned) == pytest.approx(14.0, rel=HUMAN_SPREAD)
    assert abs(np.corrcoef(away_m, turned)[0, 1]) < HUMAN_CORRELATION
    near = played(["beat: 0, string: 1, fret: 36, pluck_at: 1 mm"], "place: 50 mm\nseed: 7\n")[0]
    assert 0.0 < near.pluck_at_m < near.length_m(SIX.scale_m)


def test_strings_are_tuned_by_hand() -> None:
    """By a cent or so, the same in every note of a take; exactly if the score says so."""
    score = score_of(["beat: 0, string: 1"], "seed: 3\ntuning: 2\n")
    ratios = [
        a.pitch_hz / tune(b, SIX.scale_m).pitch_hz
        for a, b in zip(strings_of(score, SIX), SIX.strings, strict=True)
    ]
    cents = 1200.0 * np.log2(ratios)
    assert 0.3 < np.std(cents) < 6.0
    assert len(set(cents)) == 6
    exact = strings_of(score_of(["beat: 0, string: 1"], "tuning: 0\n"), SIX)
    assert exact == tune_set(SIX.strings, SIX.scale_m)


def test_a_hammer_on_and_a_pull_off() -> None:
    picked, hammered, pulled = played(
        [
            "beat: 0, string: 3, fret: 5",
            "beat: 1, string: 3, fret: 7, slur: true",
            "beat: 2, string: 3, fret: 5, slur: true",
        ]
    )
    assert [note.hand for note in (picked, hammered, pulled)] == ["pick", "left", "left"]
    assert [note.slurred for note in (picked, hammered, pulled)] == [True, True, False]
    assert hammered.force == pulled.force == pytest.approx(0.6 * picked.force)
    length_m = hammered.length_m(SIX.scale_m)
    assert 0.95 * length_m < hammered.pluck_at_m < length_m
    assert pulled.pluck_at_m == pytest.approx(length_m)


def test_a_slur_needs_a_note_before() -> None:
    with pytest.raises(InputError) as refused:
        score_of(["beat: 0, string: 2", "beat: 1, string: 3, slur: true"])
    assert "no note on string 3 before" in str(refused.value)


def test_a_strum_mutes_and_reaches_some_strings() -> None:
    notes = played(
        ["beat: 0, frets: [x, m, 2, 2, 1, 0]", "beat: 1, frets: [0, 2, 2, 1, 0, 0], up: true, reach: 3"]
    )
    first, second = notes[:5], notes[5:]
    assert [(note.string, note.dead) for note in first] == [
        (1, True),
        (2, False),
        (3, False),
        (4, False),
        (5, False),
    ]
    assert [note.string for note in second] == [5, 4, 3]
