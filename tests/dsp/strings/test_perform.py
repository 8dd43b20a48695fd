"""Notes as coils sense them: signs and scales, hands, moving pitches, magnets, no clicks."""

from __future__ import annotations

import itertools
import tracemalloc
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt
from score_text import SIX
from tolerances import (
    BEND_CENT,
    CLICK_DB,
    COMB_MOVED,
    CURVED_SLOPE,
    DAMPED_FIRST_DB,
    GAINS,
    HARMONIC_LEAVES_DB,
    OUT_OF_BAND_DB,
    RESIDUE_DB,
    RUNG_OUT_DB,
    STARTS_DB,
    STOPPED_DB,
    TWIN_FACTOR,
    VIBRATO_CENT,
    VIBRATO_RATE,
)

from dsp.parts.coil import Coil
from dsp.strings import perform as performing
from dsp.strings.curvature import Curvature
from dsp.strings.hands import LEFT_DB, stop_envelope
from dsp.strings.modes import ONE_PLANE
from dsp.strings.note import Movement, Note
from dsp.strings.perform import Setup, perform, render_note
from dsp.strings.tuned import tune

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0
STRINGS = [replace(tune(string, SIX.scale_m), stretch_n=0.0) for string in SIX.strings]
"""They do not glide: `test_glide` tells what stretching does."""
NECK = Coil(4e3, 2.0, 8e-11, at_m=0.16, sensitivity=0.05)
BRIDGE = Coil(5e3, 3.0, 8e-11, at_m=0.04, sensitivity=0.05)
PLAIN = Note(2, 0.0, pluck_at_m=0.11)
G3 = Note(3, 0.0, pluck_at_m=0.11)


def stage(*coils: Coil, curvature: Curvature | None = None, one_plane: bool = True) -> Setup:
    """Set up a performance in one plane unless given another: one pitch, without beats."""
    found = Setup(STRINGS, coils or (NECK, BRIDGE), RATE_HZ, curvature)
    return replace(found, planes=ONE_PLANE) if one_plane else found


def heard(notes: Note | list[Note], on: Setup | None = None, seconds: float = 1.0) -> Floats:
    each = notes if isinstance(notes, list) else [notes]
    return np.concatenate(list(perform(each, on or stage(), round(seconds * RATE_HZ))), axis=1)


def peak(samples: Floats) -> float:
    return float(np.max(np.abs(samples)))


def db(ratio: float) -> float:
    return 20.0 * float(np.log10(max(ratio, 1e-30)))


def line(samples: Floats, hz: float, at_s: float, over_s: float = 0.1) -> complex:
    """Return the complex amplitude of one partial around a moment."""
    first, n = round((at_s - over_s / 2.0) * RATE_HZ), round(over_s * RATE_HZ)
    window = np.blackman(n)
    time_s = (first + np.arange(n)) / RATE_HZ
    turned = samples[first : first + n] * np.exp(-2j * np.pi * hz * time_s)
    return complex(2.0 * np.sum(turned * window) / np.sum(window))


def pitch_near(samples: Floats, hz: float, at_s: float, apart_s: float = 0.02) -> float:
    """Return the frequency of the partial near hz from the advance of its phase."""
    before, after = (line(samples, hz, at_s + step) for step in (-apart_s / 2.0, apart_s / 2.0))
    return hz + float(np.angle(after / before)) / (2.0 * np.pi * apart_s)


def cents(ratio: float) -> float:
    return 1200.0 * float(np.log2(ratio))


def sounding_hz(string: int, fret: int = 0) -> float:
    """Return the frequency of the first partial, with stiffness."""
    one = STRINGS[string]
    stretch = 2.0 ** (fret / 12.0)
    return one.pitch_hz * stretch * float(np.sqrt(1.0 + one.inharmonicity(one.length_m / stretch)))


# --- blocks, signs, scales


@pytest.mark.parametrize("block", [700, 4096])
def test_stems_do_not_depend_on_the_block(monkeypatch: pytest.MonkeyPatch, block: int) -> None:
    notes = [
        replace(PLAIN, again_s=0.3),
        replace(PLAIN, start_s=0.3, stop_s=0.6),
        replace(G3, start_s=0.0421, movement=Movement(vibrato=0.3)),
        Note(5, 700 / RATE_HZ, noises=1),
        replace(G3, start_s=0.44, noises=2),
        Note(0, 0.9999),
    ]
    for on in (stage(), stage(curvature=Curvature())):
        whole = heard(notes, on)
        with monkeypatch.context() as context:
            context.setattr(performing, "BLOCK", block)
            np.testing.assert_array_equal(heard(notes, on), whole)
        assert whole.shape == (2, 48_000)


@pytest.mark.parametrize(("winding", "magnet", "sign"), [(1, 1, 1), (-1, -1, 1), (-1, 1, -1), (1, -1, -1)])
def test_the_sign_is_that_of_winding_times_magnet(winding: int, magnet: int, sign: int) -> None:
    stems = heard(PLAIN, stage(NECK, replace(NECK, winding=winding, magnet=magnet)), 0.2)
    assert peak(stems[0]) > 0.01
    np.testing.assert_array_equal(stems[1], sign * stems[0])


def test_sensitivity_and_balance_only_scale() -> None:
    other = replace(NECK, sensitivity=0.02, string_balance_db=(0.0, 0.0, -3.0, 2.0, 0.0, 0.0))
    for note, balance_db in ((PLAIN, -3.0), (G3, 2.0), (Note(0, 0.0), 0.0)):
        stems = heard(note, stage(NECK, other), 0.2)
        gain = 0.4 * 10.0 ** (balance_db / 20.0)
        np.testing.assert_allclose(stems[1], gain * stems[0], atol=GAINS * peak(stems[1]))
        assert peak(stems[1] - (1.0 + 3.0 * GAINS) * gain * stems[0]) > GAINS * peak(stems[1])


def test_a_coil_beyond_the_sounding_length_senses_nothing() -> None:
    """At fret 24 a quarter of 648 mm is left: 162 mm."""
    stems = heard(Note(2, 0.0, 24, pluck_at_m=0.05), stage(NECK, replace(NECK, at_m=0.1625), BRIDGE), 0.3)
    assert peak(stems[0]) > 0.0
    assert peak(stems[1]) == 0.0
    assert peak(stems[2]) > 0.01
    for movement in (None, Movement(vibrato=0.5)):
        nothing = heard(Note(2, 0.0, 24, movement=movement), stage(replace(NECK, at_m=0.3)), 0.3)
        assert nothing.shape == (1, 14_400)
        assert peak(nothing) == 0.0


def test_an_up_stroke_is_a_negated_down_stroke() -> None:
    np.testing.assert_array_equal(heard(replace(PLAIN, up=True)), -heard(PLAIN))


# --- hands


def test_a_palm_takes_the_high_partials_first() -> None:
    """The palm's share of a partial's decay grows with the partial."""
    open_, muted = heard(PLAIN)[1], heard(replace(PLAIN, mute=0.5))[1]
    added = []
    for number in (1, 3, 6):
        hz = number * sounding_hz(2)
        rates = [np.log(abs(line(s, hz, 0.06) / line(s, hz, 0.12))) / 0.06 for s in (open_, muted)]
        added.append(rates[1] - rates[0])
    assert added[0] > 0.5
    assert added[1] > 2.0 * added[0]
    assert added[2] > 1.5 * added[1]


def test_a_string_is_damped_before_it_is_plucked_again() -> None:
    """A pick or finger rests on it for some 10 ms; a note without a successor rings on."""
    stems = heard(replace(PLAIN, again_s=0.5), seconds=0.6)[1]
    rung = heard(PLAIN, seconds=0.6)[1]
    n = round(0.5 * RATE_HZ)
    before = np.sqrt(np.mean(stems[n - 2400 : n - 960] ** 2))
    just = np.sqrt(np.mean(stems[n - 48 : n] ** 2))
    assert db(just / before) <= DAMPED_FIRST_DB
    assert db(float(np.sqrt(np.mean(rung[n - 48 : n] ** 2))) / before) > -20.0
    np.testing.assert_array_equal(stems[: n - 480], rung[: n - 480])


@pytest.mark.parametrize("movement", [None, Movement(vibrato=0.3)])
def test_the_left_hand_silences_within_150_ms(movement: Movement | None) -> None:
    stems = heard(replace(PLAIN, stop_s=0.3, movement=movement), stage(one_plane=False))
    n = round(0.3 * RATE_HZ)
    assert db(peak(stems[:, n + 7200 :]) / peak(stems[:, n - 2400 : n])) < STOPPED_DB
    assert peak(stems[:, n : n + 480]) > 0.3 * peak(stems[:, n - 480 : n]), "a hand, not a knife"


@pytest.mark.parametrize("harmonic", [2, 3])
def test_a_touch_leaves_its_harmonic(harmonic: int) -> None:
    stems = heard(replace(PLAIN, harmonic=harmonic, pluck_at_m=0.06))[1]
    left = {number: abs(line(stems, number * sounding_hz(2), 0.5)) for number in range(1, 6)}
    for number, level in left.items():
        if number % harmonic:
            assert db(level / left[harmonic]) < HARMONIC_LEAVES_DB
    open_ = heard(replace(PLAIN, pluck_at_m=0.06))[1]
    hz = harmonic * sounding_hz(2)
    assert abs(line(open_, hz, 0.5)) == pytest.approx(left[harmonic], rel=0.01), (
        "the string rests under the finger"
    )


# --- pitches that move


def test_a_bend_ends_two_semitones_up() -> None:
    first, last = sounding_hz(3), sounding_hz(3) * 2.0 ** (2.0 / 12.0)

    def bent(semitones: float) -> Floats:
        movement = Movement(bend=semitones, bend_from_s=0.2, bend_over_s=0.2)
        return heard(replace(G3, movement=movement))[0]

    stems = bent(2.0)
    assert abs(cents(pitch_near(stems, first, 0.08) / first)) < BEND_CENT
    assert 0.5 < cents(pitch_near(stems, first * 2.0 ** (1.0 / 12.0), 0.3, 0.005) / first) / 100.0 < 1.5
    assert abs(cents(pitch_near(stems, last, 0.6) / last)) < BEND_CENT
    twin = bent(2.0 + TWIN_FACTOR * BEND_CENT / 100.0)
    assert abs(cents(pitch_near(twin, last, 0.6) / last)) > BEND_CENT


def test_a_bend_of_zero_is_a_steady_note() -> None:
    """Two ways of summing the same modes."""
    still = heard(G3, stage(one_plane=False))
    moving = heard(replace(G3, movement=Movement()), stage(one_plane=False))
    np.testing.assert_allclose(moving, still, atol=1e-5 * peak(still))


@pytest.mark.parametrize(("fret", "frets"), [(2, 5), (7, -5)])
def test_a_slide_moves_pitch_and_comb(fret: int, frets: int) -> None:
    """The coils stay in place while the string over them gets shorter or longer."""
    movement = Movement(slide=frets, slide_from_s=0.15, slide_over_s=0.1)
    stems = heard(replace(G3, fret=fret, movement=movement))
    for at_s, where in ((0.08, fret), (0.5, fret + frets)):
        hz = sounding_hz(3, where)
        assert abs(cents(pitch_near(stems[0], hz, at_s) / hz)) < BEND_CENT
        length_m = SIX.scale_m * 2.0 ** (-where / 12.0)
        stiff = STRINGS[3].inharmonicity(length_m)
        for number in (1, 2, 3, 4):
            partial_hz = number * hz * np.sqrt((1.0 + stiff * number**2) / (1.0 + stiff))
            got = line(stems[0], partial_hz, at_s) / line(stems[1], partial_hz, at_s)
            want = [np.sin(number * np.pi * coil.at_m / length_m) for coil in (NECK, BRIDGE) if coil.at_m]
            assert abs(got) == pytest.approx(abs(want[0] / want[1]), rel=COMB_MOVED)


@pytest.mark.parametrize(("depth", "rate_hz"), [(0.3, 5.2), (1.0, 3.0)])
def test_vibrato_has_its_rate_and_depth(depth: float, rate_hz: float) -> None:
    movement = Movement(vibrato=depth, vibrato_hz=rate_hz, vibrato_from_s=0.2)
    stems = heard(replace(G3, movement=movement), seconds=2.5)[0]
    hz = sounding_hz(3)
    low = sosfiltfilt(butter(4, 60.0, fs=RATE_HZ, output="sos"),
                      stems * np.exp(-2j * np.pi * hz * np.arange(len(stems)) / RATE_HZ))  # fmt: skip
    shift = np.diff(np.unwrap(np.angle(low))) * RATE_HZ / (2.0 * np.pi)
    found = 1200.0 * np.log2(1.0 + shift / hz)
    steady = found[round(0.1 * RATE_HZ) : round(0.18 * RATE_HZ)]
    assert np.max(np.abs(steady)) < VIBRATO_CENT
    moving = found[round(0.4 * RATE_HZ) : round(2.3 * RATE_HZ)]
    assert moving.max() == pytest.approx(100.0 * depth, abs=VIBRATO_CENT)
    assert moving.min() == pytest.approx(0.0, abs=VIBRATO_CENT)
    time_s = np.arange(round(0.4 * RATE_HZ), round(2.3 * RATE_HZ)) / RATE_HZ - 0.2
    tried = rate_hz * np.linspace(0.9, 1.1, 201)
    waves = np.hanning(len(moving)) * (moving - moving.mean())
    strength = [abs(np.sum(waves * np.exp(-2j * np.pi * one * time_s))) for one in tried]
    assert tried[int(np.argmax(strength))] == pytest.approx(rate_hz, rel=VIBRATO_RATE)


def test_a_slide_up_sends_nothing_back_from_beyond_the_band() -> None:
    """Partials that rise above the band vanish; aliases would appear everywhere below half the rate."""
    movement = Movement(slide=12, slide_from_s=0.02, slide_over_s=0.05)
    note = Note(5, 0.0, pluck_at_m=0.02, movement=movement)
    stems = heard(note, seconds=0.25)[1][round(0.08 * RATE_HZ) :]
    spectrum = np.abs(np.fft.rfft(stems * np.blackman(len(stems))))
    hz = np.fft.rfftfreq(len(stems), 1.0 / RATE_HZ)
    assert db(spectrum[hz > 21_800.0].max() / spectrum.max()) < OUT_OF_BAND_DB
    assert db(spectrum[(hz > 15_000.0) & (hz < 19_000.0)].max() / spectrum.max()) > OUT_OF_BAND_DB + 20.0


def test_a_slide_down_rings_until_the_longer_string_has_died() -> None:
    movement = Movement(slide=-24, slide_from_s=0.05, slide_over_s=0.3)
    note = Note(5, 0.0, 24, pluck_at_m=0.05, movement=movement)
    sound = render_note(note, stage(one_plane=False), round(60 * RATE_HZ)).emf
    assert sound.shape[1] < 60 * RATE_HZ
    assert db(peak(sound[:, -4800:]) / peak(sound)) < RUNG_OUT_DB


def test_a_slide_reaches_a_coil_that_sensed_nothing_before() -> None:
    movement = Movement(slide=-24, slide_from_s=0.05, slide_over_s=0.1)
    stems = heard(Note(5, 0.0, 24, pluck_at_m=0.05, movement=movement), stage(replace(NECK, at_m=0.3)), 0.5)
    assert peak(stems[:, : round(0.05 * RATE_HZ)]) == 0.0
    assert peak(stems[:, round(0.2 * RATE_HZ) :]) > 1e-3


@pytest.mark.parametrize("note", [
    Note(5, 0.0, 36, pluck_at_m=0.5, movement=Movement(slide=12, slide_over_s=0.3)),
    Note(5, 0.0, 30, pluck_at_m=0.11, movement=Movement(slide=6, slide_over_s=0.0)),
    Note(0, 0.0, 0, pluck_at_m=0.3, movement=Movement(slide=36, slide_from_s=0.1, slide_over_s=0.01)),
    Note(5, 0.0, 36, 1.0, 0.3, 1.0, movement=Movement(5.0, 0.0, 0.0, -36, 0.0, 0.2, 2.0, 15.0)),
    Note(5, 0.0, 60, pluck_at_m=0.3, movement=Movement(slide=60)),
], ids=str)  # fmt: skip
@pytest.mark.parametrize("curvature", [None, Curvature(0.001, 6.0)])
def test_slides_beyond_coil_pluck_and_board_stay_finite(note: Note, curvature: Curvature | None) -> None:
    stems = heard(note, stage(curvature=curvature), 0.5)
    assert np.all(np.isfinite(stems))
    assert stems.shape == (2, 24_000)


def test_a_long_moving_note_takes_little_memory() -> None:
    tracemalloc.start()
    try:
        sound = render_note(
            replace(Note(0, 0.0), movement=Movement(vibrato=0.3)), stage(), round(8 * RATE_HZ)
        ).emf
        held = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert sound.shape[1] > 5 * RATE_HZ
    assert held < 40e6


# --- magnets


def test_without_curvature_everything_is_linear() -> None:
    soft, hard = heard(replace(PLAIN, force=0.25)), heard(replace(PLAIN, force=1.0))
    np.testing.assert_array_equal(hard, 4.0 * soft)


def test_curvature_adds_a_second_harmonic_that_grows_with_force() -> None:
    """Over the coil the string has one partial only: its second harmonic is the magnet's.

    To first order that grows with the square of the force.
    """
    on = stage(NECK, curvature=Curvature())
    note = replace(PLAIN, harmonic=1, pluck_at_m=SIX.scale_m / 2.0)  # no even partials
    seconds = []
    for force in (0.1, 0.2, 0.4):
        stems = heard(replace(note, force=force), on)[0]
        seconds.append(abs(line(stems, 2.0 * sounding_hz(2), 0.3)) / abs(line(stems, sounding_hz(2), 0.3)))
    straight = heard(replace(note, force=0.4), stage(NECK))[0]
    none = abs(line(straight, 2.0 * sounding_hz(2), 0.3)) / abs(line(straight, sounding_hz(2), 0.3))
    assert seconds[0] > 3.0 * none
    for less, more in itertools.pairwise(seconds):
        assert more / less == pytest.approx(2.0, rel=CURVED_SLOPE)


def test_curvature_of_a_faint_note_is_as_without() -> None:
    faint = replace(PLAIN, force=1e-3)
    curved, straight = heard(faint, stage(curvature=Curvature())), heard(faint)
    assert peak(curved - straight) < 0.02 * peak(straight)


# --- no sample out of place


def test_samples_are_finite_and_start_at_silence() -> None:
    """Silence before the pluck, a string at rest at the pluck."""
    for movement in (None, Movement(bend=1.0, bend_over_s=0.2)):
        for start_s in (0.1, 0.1 + 0.37 / RATE_HZ):
            stems = heard(replace(PLAIN, start_s=start_s, movement=movement), stage(one_plane=False), 0.5)
            assert np.all(np.isfinite(stems))
            assert not stems[:, :4800].any()
            assert db(peak(stems[:, 4800:4802]) / peak(stems)) < STARTS_DB


def _steps(samples: Floats) -> Floats:
    """Return the level above 8 kHz per millisecond: a broken wave shows as a peak."""
    high = sosfiltfilt(butter(8, 8000.0, "high", fs=RATE_HZ, output="sos"), samples)
    return np.sqrt(np.mean(high[: len(high) // 48 * 48].reshape(-1, 48) ** 2, axis=1))


@pytest.mark.parametrize("ended", [{"stop_s": 0.6}, {"again_s": 0.6}, {"stop_s": 0.6, "again_s": 0.61}])
@pytest.mark.parametrize("movement", [None, Movement(vibrato=0.4)])
def test_a_note_ends_without_a_click(ended: dict[str, float], movement: Movement | None) -> None:
    """After half a second a muted low string has nothing above 8 kHz; its end must add nothing."""
    note = replace(PLAIN, mute=0.1, force=1.0, movement=movement, **ended)  # type: ignore[arg-type]
    stems = heard(note, stage(one_plane=False), 1.2)[1]
    end = _steps(stems)[560:1100].max()
    assert db(end / peak(stems[25_000:28_000])) < CLICK_DB
    broken = stems.copy()
    broken[28_200:] = 0.0  # the twin: cut off before the hand lands
    assert db(_steps(broken)[560:1100].max() / peak(stems[25_000:28_000])) > CLICK_DB + 40.0


def test_two_hands_one_after_the_other_damp_both() -> None:
    """The left hand stops the string, then the pick lands: their dampings multiply."""
    time_s = np.arange(48_000) / 48_000
    left, pick = (stop_envelope(time_s, Note(0, 0.0, **hand)) for hand in ({"stop_s": 0.5}, {"again_s": 0.7}))
    both = stop_envelope(time_s, Note(0, 0.0, stop_s=0.5, again_s=0.7))
    np.testing.assert_allclose(both, left * pick, rtol=1e-12)
    assert np.all(left[:24_000] == 1.0)
    assert 1.0 > left[24_480] > left[26_400] > 0.0
    np.testing.assert_array_equal(stop_envelope(time_s, Note(0, 0.0)), np.ones(48_000))


@pytest.mark.parametrize("held", [{"stop_s": 0.3}, {"dead": True}, {"hush_s": 0.2}])
def test_hands_leave_a_residue_that_decays_as_the_string_does(held: dict[str, Any]) -> None:
    """A stop is no gate: what is left keeps its share of the open string's sound."""
    ended, rung = heard(replace(PLAIN, **held), seconds=2.0), heard(PLAIN, seconds=2.0)
    for at_s in (1.0, 1.8):
        part = slice(round(at_s * RATE_HZ), round((at_s + 0.2) * RATE_HZ))
        assert db(peak(ended[:, part]) / peak(rung[:, part])) == pytest.approx(LEFT_DB, abs=RESIDUE_DB)


def test_a_new_pluck_leaves_nothing_of_the_note_before() -> None:
    ended = heard(replace(PLAIN, stop_s=0.3, again_s=0.5))
    assert not ended[:, round(0.53 * RATE_HZ) :].any()
    assert ended[:, round(0.48 * RATE_HZ)].all()


# --- the pick's click

CLICKED = replace(PLAIN, start_s=0.1, noises=7)


def click(note: Note = CLICKED, on: Setup | None = None) -> Floats:
    """Return what noises add to a note."""
    return heard(note, on, 0.3) - heard(replace(note, noises=None), on, 0.3)


def test_a_pick_is_heard_while_it_touches_the_string() -> None:
    """It touches for 2 to 6 ms; what the string then still carries dies within 15 ms."""
    heard_at = np.flatnonzero(click()[1])
    assert 0.094 * RATE_HZ <= heard_at[0] <= 0.0985 * RATE_HZ
    assert heard_at[-1] <= 0.111 * RATE_HZ
    assert -50.0 < db(peak(click()) / peak(heard(CLICKED))) < -20.0


def test_clicks_are_the_same_for_one_seed_and_differ_otherwise() -> None:
    np.testing.assert_array_equal(click(), click())
    other = click(replace(CLICKED, noises=8))
    assert peak(click() - other) > 0.3 * peak(other)


def test_a_click_is_motion_of_the_string() -> None:
    """It follows a coil's winding and the stroke's force; coils elsewhere sense it otherwise."""
    turned = click(on=stage(NECK, replace(BRIDGE, winding=-1)))
    np.testing.assert_array_equal(turned, click() * [[1.0], [-1.0]])
    np.testing.assert_allclose(
        click(replace(CLICKED, force=0.3)), 0.5 * click(), atol=1e-6 * peak(heard(CLICKED))
    )
    neck, bridge = click()
    assert abs(np.corrcoef(neck, bridge)[0, 1]) < 0.9


@pytest.mark.parametrize("how", [{"hand": "finger"}, {"hand": "left"}, {"start_s": 0.0}])
def test_no_click_without_a_pick_or_before_the_take(how: dict[str, Any]) -> None:
    assert not click(replace(CLICKED, **how)).any()


def test_a_take_that_starts_at_once_has_what_is_left_of_its_click() -> None:
    assert click(replace(CLICKED, start_s=0.001))[:, :40].any()


def test_a_slur_lets_the_string_ring_until_it_lands() -> None:
    """A pick rests on the string some 10 ms before; a finger of the left hand does not."""
    picked = heard(replace(PLAIN, again_s=0.5), seconds=0.6)
    slurred = heard(replace(PLAIN, again_s=0.5, slurred=True), seconds=0.6)
    before = slice(round(0.498 * RATE_HZ), round(0.5 * RATE_HZ))
    assert peak(slurred[:, before]) > 3.0 * peak(picked[:, before])
    assert db(peak(slurred[:, -2400:]) / peak(slurred[:, before])) < -60.0


def test_a_muted_string_is_a_thud() -> None:
    """The left hand on it: 60 dB down within a fifth of a second, all partials alike."""
    stems = heard(replace(PLAIN, dead=True), seconds=0.5)[1]
    early, late = (peak(stems[round(at * RATE_HZ) :][:2400]) for at in (0.0, 0.2))
    assert db(late / early) < -60.0
    rung = heard(PLAIN, seconds=0.5)[1]
    assert db(peak(rung[round(0.2 * RATE_HZ) :][:2400]) / peak(rung[:2400])) > -20.0
