"""What an exciter and a blade tell, on guitars of its own drawing; the seeds are nobody's who tuned."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exciter_rig import TEXT, record, transfer
from fault_cases import Case, faulty_cases, read_one, sound_cases
from rig import RATE_HZ, Rig, opened
from small_wirings import read, wiring_of

from dsp.checking.book import Book, make_book
from dsp.checking.diagnosis import Diagnosis, diagnose, told_by_exciter, would_change_nothing
from dsp.checking.directions import find_directions
from dsp.checking.exciter import (
    EXCITER,
    EXCITER_HZ,
    NOISE_FLOOR,
    ExciterRig,
    bring_to_level,
    find_exciter_directions,
    find_exciter_points,
    predict_all,
    signed_level,
    transfer_copies,
    transfer_of_level,
)
from dsp.checking.exciter_bands import (
    HELD_TO,
    NOT_JUDGED,
    bands_of,
    draw_transfers,
    find_ratio_bands,
    judge_transfers,
)
from dsp.checking.exciter_reading import read_exciter
from dsp.checking.options import find_options
from dsp.checking.points import Point, find_points, find_settings
from dsp.checking.signs import sign_groups, turn_signs
from dsp.circuit.copies import Copies
from dsp.errors import InputError
from dsp.measuring.tone import make_tone
from dsp.measuring.transfer import measure_transfer
from dsp.wiring.model import Wiring

MOST_FALSE_ALARMS = 0.05
SEED = 8100
NECK, BRIDGE = (f"start and finish of {one} are exchanged" for one in ("neck", "bridge"))
TURNED = "the magnet of bridge is turned round"


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    return read(TEXT)


@pytest.fixture(scope="module")
def book(wiring: Wiring) -> Book:
    return make_book(wiring, [*find_points(find_settings(wiring)), *find_exciter_points(wiring)])


def read_by(book: Book, *kinds: str) -> list[int]:
    """Numbers of the points that are read so."""
    return [i for i, point in enumerate(book.points) if point.kind in kinds]


def case_of(book: Book, text: str, seed: int = 5) -> Case:
    """A guitar with one fault of the book."""
    fault = next(one for one in book.faults if one.text == text)
    return read_one(book, fault, np.random.default_rng(seed))


def say(book: Book, case: Case, where: list[int], **how: bool) -> Diagnosis:
    return diagnose(book, [book.points[i] for i in where], case.levels[where], **how)  # type: ignore[arg-type]


def first_of(found: Diagnosis) -> set[str]:
    return {fault.text for fault in found.classes[0].faults}


def test_a_transfer_is_that_of_coils_as_plain_sources(wiring: Wiring) -> None:
    """Two coils in parallel by hand; levels keep both sign and size."""
    points = [Point(wiring.setting(p), hz, c) for c in ("neck", "bridge") for p in "123" for hz in EXCITER_HZ]
    found = predict_all(wiring, points, (), np.zeros((1, 0)))[0]
    want = [transfer(p.coil, p.setting.position, np.array([p.frequency_hz]))[0].real for p in points]
    assert transfer_of_level(found) == pytest.approx(np.array(want), abs=1e-6)
    assert signed_level(np.array(want)) == pytest.approx(found, abs=1e-4)
    less = predict_all(wiring, points, (), np.zeros((1, 0)), ExciterRig(input_ohm=100e3))[0]
    assert transfer_of_level(less) != pytest.approx(np.array(want), abs=0.01), "the input counts"


def test_an_exciter_tells_what_impedance_cannot(book: Book) -> None:
    told = {fault.text for fault in told_by_exciter(book)}
    assert {NECK, BRIDGE, TURNED} <= told
    assert NECK in {fault.text for fault in would_change_nothing(book)}
    assert "tip and sleeve of the jack are exchanged" not in told, "which way round it lies is not known"


def test_leads_exchanged_are_seen_by_the_signs_of_two_coils(book: Book) -> None:
    case = case_of(book, NECK)
    by_meter = say(book, case, read_by(book, "meter"))
    assert by_meter.classes[0].sound, "the twin: the meter alone sees nothing"
    found = say(book, case, read_by(book, "meter", "exciter"))
    assert first_of(found) == {NECK, BRIDGE}, "of two coils nobody knows which is turned"
    assert not found.unexplained
    free = say(book, case, read_by(book, "meter", "exciter"), sides_kept=False)
    assert free.classes[0].sound, "without its side kept, signs between coils say nothing"


def test_two_like_coils_exchanged_are_seen(book: Book) -> None:
    text = "neck and bridge are exchanged"
    assert text in first_of(say(book, case_of(book, text), read_by(book, "exciter")))


def test_a_blade_tells_the_magnet_from_the_leads(book: Book) -> None:
    case = case_of(book, TURNED)
    excited = say(book, case, read_by(book, "meter", "exciter"))
    assert excited.classes[0].sound, "an exciter hears no magnet"
    found = say(book, case, read_by(book, "meter", "exciter", "blade"))
    assert not found.classes[0].sound
    assert TURNED in first_of(found)
    assert NECK not in first_of(found)


@pytest.mark.parametrize("text", ["no fault", "the joint at bridge.start and selector.B is open"])
def test_which_way_round_an_exciter_lies_does_not_matter(book: Book, text: str) -> None:
    case = case_of(book, text)
    told = read_by(book, "exciter")
    levels = case.levels.copy()
    levels[told] *= -1.0
    where = read_by(book, "meter", "exciter")
    found = say(book, replace(case, levels=levels), where)
    assert case.fault in found.classes[0].faults
    assert not found.unexplained
    assert found.probability == pytest.approx(say(book, case, where).probability, abs=1e-9)


def accused(book: Book, count: int, **how: float) -> float:
    where = read_by(book, "meter", "exciter", "blade")
    points = [book.points[i] for i in where]
    cases = sound_cases(book, count, SEED)
    found = [diagnose(book, points, case.levels[where], plan=False, **how) for case in cases]  # type: ignore[arg-type]
    return float(np.mean([not one.classes[0].sound or one.unexplained for one in found]))


def test_sound_guitars_are_not_accused(book: Book) -> None:
    assert accused(book, 40) <= MOST_FALSE_ALARMS


def test_a_finder_that_trusts_levels_accuses_them(book: Book) -> None:
    """The twin: no coil's level is unknown."""
    slopes = book.slopes.copy()
    slopes[:, [one.attribute == "level" for one in book.directions]] = 0.0
    assert accused(replace(book, slopes=slopes), 20, refit=False) > MOST_FALSE_ALARMS


def test_the_right_class_is_among_three(book: Book) -> None:
    where = read_by(book, "meter", "exciter")
    ranks = []
    for case in faulty_cases(book, 40, SEED + 1):
        classes = say(book, case, where, plan=False).classes
        ranks.append(next(i for i, one in enumerate(classes) if case.fault in one.faults))
    assert np.mean(np.array(ranks) < 3) >= 0.97


def test_an_exciter_is_asked_for_where_there_is_one(book: Book) -> None:
    case = case_of(book, NECK)
    read_already = read_by(book, "meter", "recording")
    assert say(book, case, read_already).next_reading is None
    upcoming = say(book, case, read_already, exciter=True).next_reading
    assert upcoming is not None
    assert upcoming.kind in ("exciter", "blade")
    assert set(upcoming.coils) == {"neck", "bridge"}, "one coil's sign alone says nothing"
    taken = [i for i in read_by(book, upcoming.kind) if book.points[i].coil in upcoming.coils]
    after = say(book, case, [*read_already, *taken], exciter=True)
    assert not after.classes[0].sound


def test_levels_come_to_what_is_expected_whatever_the_strength(wiring: Wiring, book: Book) -> None:
    told = [book.points[i] for i in read_by(book, "exciter")]
    expected = transfer_copies(wiring, told, Copies(1), ExciterRig())[0, :, 0].real
    assert bring_to_level(wiring, told, -0.003 * expected) == pytest.approx(-expected)
    neck = np.array([point.coil == "neck" for point in told])
    dead = np.where(neck, 0.02 * expected, 0.0)
    assert bring_to_level(wiring, told, dead)[neck] == pytest.approx(expected[neck]), (
        "a dead coil says nothing"
    )
    assert not bring_to_level(wiring, told, 0.0 * expected).any()


def test_signs_turn_in_groups() -> None:
    groups = np.array([-1, 0, 0, 1])
    turned = turn_signs(np.array([[1.0, 2.0, -1.0, 1.0]]), np.array([-1.0, -2.0, 1.0, 1.0]), groups)
    assert turned.tolist() == [[1.0, -1.0, -1.0, 1.0]]


def test_each_coil_has_a_sign_of_its_own_where_sides_are_free(wiring: Wiring) -> None:
    points = [Point(wiring.setting("1"), hz, coil) for coil in ("neck", "bridge") for hz in (900.0, 0.0)]
    assert sign_groups(points).tolist() == [0, 1, 0, 1]
    assert sign_groups(points, sides_kept=False).tolist() == [0, 1, 2, 1]
    assert sign_groups([Point(wiring.setting("1"))]).tolist() == [-1]


def test_sound_guitars_keep_their_ratios(wiring: Wiring) -> None:
    """Five hundred guitars of any level, drawn with a seed of their own."""
    points = [one for one in find_exciter_points(wiring) if one.kind == "exciter"]
    own = (one for one in find_exciter_directions(wiring) if one.attribute != "level")
    directions = (*find_directions(wiring), *own)
    rng = np.random.default_rng(SEED + 3)
    read = transfer_of_level(
        predict_all(wiring, points, directions, rng.standard_normal((500, len(directions))))
    )
    read = read * (1 + 0.015 * rng.standard_normal(read.shape)) + NOISE_FLOOR * rng.standard_normal(
        read.shape
    )
    bands = find_ratio_bands(wiring, points)
    number = {id(point): i for i, point in enumerate(points)}
    ratios = read / read[:, [number[id(band.reference)] for band in bands]]
    failed = [
        any(band.judge(ratio) != "within" for band, ratio in zip(bands, row, strict=True)) for row in ratios
    ]
    assert np.mean(failed) <= MOST_FALSE_ALARMS
    narrow = [any(abs(row - [band.typical for band in bands]) > 0.05) for row in ratios]
    assert np.mean(narrow) > MOST_FALSE_ALARMS, "the twin: bands of five hundredths"


def test_readings_are_judged_with_their_signs(wiring: Wiring) -> None:
    points = [one for one in find_exciter_points(wiring) if one.kind == "exciter"]
    sound = 0.004 * transfer_of_level(predict_all(wiring, points, (), np.zeros((1, 0)))[0])
    assert {one.side for one in judge_transfers(wiring, points, sound)} == {"within"}
    neck = np.array([point.coil == "neck" for point in points])
    turned = np.where(neck, -sound, sound)
    assert "turned" in {one.side for one in judge_transfers(wiring, points, turned)}
    free = judge_transfers(wiring, points, turned, sides_kept=False)
    assert {one.side for one in free} == {"within", HELD_TO}, "nobody knows the side"
    assert {one.band and one.band.is_reference for one in free if one.side == HELD_TO} == {True}
    both = [i for i, one in enumerate(points) if one.setting.position == "2" and one.coil == "bridge"]
    for factor, side in ((2.0, "too high"), (0.4, "too low"), (-1.0, "turned")):
        odd = sound.copy()
        odd[both] *= factor
        assert {judge_transfers(wiring, points, odd)[i].side for i in both} == {side}
    blades = [Point(wiring.setting(at), 0.0, coil) for at, coil in (("1", "neck"), ("3", "bridge"))]
    same = judge_transfers(wiring, blades, np.array([-1.0, -1.0]))
    assert {one.side for one in same} == {"within"}, "winding and magnet are both turned in the bridge"
    assert {one.side for one in judge_transfers(wiring, blades, np.array([1.0, -1.0]))} == {"turned"}


def test_one_reading_alone_says_nothing(wiring: Wiring) -> None:
    loud, silent, other = (
        Point(wiring.setting(at), 900.0, c) for at, c in (("1", "neck"), ("3", "neck"), ("3", "bridge"))
    )
    pulses = [Point(wiring.setting(at), 0.0, coil) for at, coil in (("1", "neck"), ("3", "bridge"))]

    def sides(points: list[Point], *read: float, **how: bool) -> list[str]:
        return [one.side for one in judge_transfers(wiring, points, np.array(read), **how)]

    assert sides([loud], 0.01) == [HELD_TO], "it is its own reference"
    assert sides([loud], 0.0) == ["too low"], "silent where it is loudest"
    assert sides([loud, silent], 0.01, 0.0) == [HELD_TO, "within"]
    assert sides([loud, other], 0.01, -0.01) == ["within", "within"], "by the sign of another coil"
    assert sides([loud, other], 0.01, -0.01, sides_kept=False) == [HELD_TO, HELD_TO]
    assert sides(pulses[:1], 1.0) == [HELD_TO]
    assert sides(pulses, 1.0, 1.0) == ["within", "within"]


def test_a_coil_that_no_setting_hears_is_not_judged(wiring: Wiring) -> None:
    silent = [Point(wiring.setting("3"), hz, "neck") for hz in (*EXCITER_HZ, 0.0)]
    for level in (0.0, 0.02):
        found = judge_transfers(wiring, silent, np.full(3, level))
        assert {one.side for one in found} == {NOT_JUDGED}
    hanging = wiring_of(HOUSED, "a.start, output.tip\na.finish, output.sleeve")
    points = find_exciter_points(hanging)
    excited = [one for one in points if one.kind == "exciter"]
    by_coil = {
        coil: {b.heard for b in find_ratio_bands(hanging, excited) if b.point.coil == coil} for coil in "ab"
    }
    assert by_coil == {"a": {True}, "b": {False}}
    judged = judge_transfers(hanging, points, np.full(len(points), 0.01))
    assert {one.side for one in judged if one.point.coil == "b"} == {NOT_JUDGED}
    assert find_ratio_bands(hanging, ()) == ()


def test_a_reading_is_judged_by_the_band_of_the_whole_plan(wiring: Wiring) -> None:
    points = [one for one in find_exciter_points(wiring) if one.kind == "exciter"]
    sound = draw_transfers(wiring, points)
    plan = dict(zip(map(repr, points), bands_of(sound), strict=True))
    some = [one for one in points if one.coil == "bridge" and one.frequency_hz == 900.0]
    assert bands_of(sound.some(some)) != tuple(plan[repr(one)] for one in some), "the twin: of these alone"
    for drawn in (sound, None):
        found = judge_transfers(wiring, some, np.full(len(some), 0.01), sound=drawn)
        assert [one.band for one in found] == [plan[repr(one)] for one in some]
    both = [one for one in some if one.setting.position == "2"]
    (alone,) = judge_transfers(wiring, both, np.array([0.01]), sound=sound)
    assert alone.band is not None
    assert alone.band.is_reference, "the loudest that was read"


def test_crosstalk_of_a_silent_coil_does_not_silence_the_others(wiring: Wiring) -> None:
    loud = [Point(wiring.setting(at), 900.0, "neck") for at in "123"]
    silent = Point(wiring.setting("1"), 900.0, "bridge")
    alone = bring_to_level(wiring, loud, np.array([0.01, 0.0056, 0.0]))
    assert np.abs(alone).max() > 0.5
    found = bring_to_level(wiring, [*loud, silent], np.array([0.01, 0.0056, 0.0, 1e-5]))
    assert found[:3] == pytest.approx(alone)


def test_a_coil_that_is_partly_read_may_be_read_on(book: Book) -> None:
    """One setting of the neck was read at one frequency: nothing says it yet."""
    every = range(len(book.points))

    def coils(read_already: list[int]) -> set[str]:
        found = find_options(book, read_already, every, sweeps=True)
        return {
            one.reading.coils[0]
            for one in found
            if one.reading.kind == "exciter" and len(one.reading.coils) == 1
        }

    neck = [
        i
        for i in read_by(book, "exciter")
        if book.points[i].coil == "neck" and book.points[i].frequency_hz == 900.0
    ]
    assert coils(neck[:1]) == {"neck", "bridge"}
    assert coils(neck) == {"bridge"}, "every setting, at one frequency"


def test_what_counts_as_seen_needs_the_sides_kept(wiring: Wiring) -> None:
    """Without a blade, whose signs nobody turns round."""
    points = [one for one in find_exciter_points(wiring) if one.kind == "exciter"]
    book = make_book(wiring, [*find_points(find_settings(wiring), ()), *points])
    assert {NECK, BRIDGE} <= {fault.text for fault in told_by_exciter(book)}
    assert not told_by_exciter(book, sides_kept=False), "of two coils side by side the sign alone tells"
    unseen = {fault.text for fault in would_change_nothing(book, exciter=True, sides_kept=False)}
    assert {NECK, BRIDGE} <= unseen


def test_a_recording_reads_ratio_and_sign() -> None:
    """Both coils in position 2 by an independent rig, with hum, 24 bits and coils 2 dB apart."""
    read = {
        (coil, at): dict(read_exciter(measure_transfer(record(coil, at, seed), RATE_HZ, coil, shorted=True)))
        for seed, (coil, at) in enumerate([("neck", "1"), ("neck", "2"), ("bridge", "2")])
    }
    for hz in EXCITER_HZ:
        own = np.array([hz])
        want = (transfer("neck", "2", own) / transfer("neck", "1", own))[0].real
        assert read["neck", "2"][hz] / read["neck", "1"][hz] == pytest.approx(want, rel=0.01)
        assert read["neck", "2"][hz] / read["neck", "1"][hz] != pytest.approx(1.03 * want, rel=0.01)
        assert read["neck", "1"][hz] * read["bridge", "2"][hz] < 0.0


def test_exchanged_channels_and_a_short_reach_are_told() -> None:
    tone = make_tone(RATE_HZ, 4)
    both = Rig().record(opened, tone, 3)
    loud = measure_transfer(np.array([0.05 * both[1], both[0]]), RATE_HZ, "swapped.wav", shorted=True)
    with pytest.raises(InputError, match="are the two inputs exchanged"):
        read_exciter(loud)
    high = replace(loud, frequencies_hz=loud.frequencies_hz + 5000.0, ratio=loud.ratio / 1e3)
    with pytest.raises(InputError, match="200 Hz within"):
        read_exciter(high)


HOUSED = """
a: {COIL, winding: forward}
b: {COIL, winding: reverse, magnet: south}
output: {kind: jack}
"""
SERIES = "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve"
PAIR = "couplings:\n  - {coils: [a, b], coefficient: 0.16}\n"


def test_the_other_coil_of_a_housing_hears_a_share_of_one_string_sign() -> None:
    wiring = wiring_of(HOUSED, SERIES, PAIR)
    setting = wiring.setting(wiring.positions[0])
    for coil, winding in (("a", 1), ("b", -1)):
        own, other = transfer_copies(wiring, [Point(setting, 200.0, coil)], Copies(1), ExciterRig())[0, 0]
        assert own.real * winding > 0.4
        assert other.real == pytest.approx(own.real, rel=0.05), "like coils in series, the same sign"
    stacked = wiring_of(HOUSED, SERIES, PAIR.replace("0.16", "-0.16"))
    own, other = transfer_copies(stacked, [Point(setting, 200.0, "a")], Copies(1), ExciterRig())[0, 0]
    assert own.real * other.real < 0.0
    names = {one.field for one in find_exciter_directions(wiring) if one.attribute == "share"}
    assert names == {"a", "b"}
    assert all(one.part in (EXCITER, "cable") for one in find_exciter_directions(wiring))
