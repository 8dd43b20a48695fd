"""The fault finder on guitars of its own drawing; the seeds are not those it was tuned with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from fault_cases import faulty_cases, off_list_cases, read_one, same_place, sound_cases
from places import DEMO
from small_wirings import wiring_of

from dsp.checking.bands import find_bands
from dsp.checking.book import Book, make_book, read
from dsp.checking.diagnosis import (
    CURVED,
    _refit,
    _weigh,
    diagnose,
    most_misfit,
    would_be_harmless,
    would_change_nothing,
)
from dsp.checking.faults import ADDED, find_faults
from dsp.checking.points import Point, find_points, find_settings, level_of, ohm_of
from dsp.checking.symptoms import WORDS, ear_levels, ear_settings
from dsp.circuit.response import hum_weights
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

MOST_FALSE_ALARMS, LEAST_FOUND, LEAST_TOP_THREE, MOST_STEPS = 0.05, 0.90, 0.97, 4.0
"""The study's bars. Tuned with seeds 5 to 7; these are others."""
LEAST_OFF_LIST = 0.8
"""Of values that are not in the book: the right place first. Our own bar, below what two other seeds gave."""
SEED = 4100

PARTS = """
neck: {COIL, eddy: [{share: 10 %, corner: 4 kHz}], winding: forward, at: 150 mm}
bridge: {kind: coil, resistance: 6 kΩ, inductance: 3 H, capacitance: 90 pF, winding: reverse, magnet: south}
volume: {kind: pot, resistance: 250 kΩ, taper: audio}
tone: {kind: pot, resistance: 250 kΩ, taper: audio}
cap: {kind: capacitor, capacitance: 22 nF}
selector: {kind: switch, lugs: [N, C, B], contacts: {1: [[N, C]], 2: [[N, C, B]], 3: [[C, B]]}}
output: {kind: jack}
"""
JOINTS = """
neck.start, selector.N
bridge.start, selector.B
selector.C, volume.3, tone.2
tone.1, cap.a
volume.2, output.tip
neck.finish, bridge.finish, volume.1, cap.b, output.sleeve
"""


@pytest.fixture(scope="module")
def small() -> Wiring:
    return wiring_of(PARTS, JOINTS)


@pytest.fixture(scope="module")
def small_book(small: Wiring) -> Book:
    return make_book(small, find_points(find_settings(small)))


@pytest.fixture(scope="module")
def baritone_book() -> Book:
    wiring = load_wiring(DEMO / "baritone.yaml")
    return make_book(wiring, find_points(find_settings(wiring)))


def rank_of(book: Book, case, where: list[int], **how) -> int:
    """Place of the class that holds the true fault, 0 for the first."""
    points = [book.points[i] for i in where]
    found = diagnose(book, points, case.levels[where], plan=False, **how)
    return next(i for i, one in enumerate(found.classes) if case.fault in one.faults)


def false_alarms(book: Book, count: int, seed: int, **how) -> float:
    points = list(book.points)
    found = (
        diagnose(book, points, case.levels, plan=False, **how) for case in sound_cases(book, count, seed)
    )
    return float(np.mean([not one.classes[0].sound for one in found]))


def without_spread(book: Book) -> Book:
    """A finder that takes every part for exact."""
    return replace(book, slopes=np.zeros_like(book.slopes))


def test_every_kind_of_fault_is_there(small: Wiring) -> None:
    faults = find_faults(small)
    kinds = {"sound", "open", "cold", "short", "leak", "swap", "contact", "value", "half"}
    assert {fault.kind for fault in faults} == kinds
    assert len({fault.text for fault in faults}) == len(faults)
    for fault in faults[1:]:
        assert fault.terminals, fault.text
        assert all(name in small.parts for name, _ in fault.terminals)


def test_a_slope_is_that_of_the_readings(small: Wiring, small_book: Book) -> None:
    """Columns of the book against the same readings a step further."""
    at = np.zeros(len(small_book.directions))
    at[0] = 0.4
    further = read(small_book.faults[0], small_book.directions, small_book.points, at)[0]
    assert small_book.levels[0] + 0.4 * small_book.slopes[0, 0] == pytest.approx(further, abs=1e-9)


def test_the_right_class_is_among_the_first_three(small_book: Book) -> None:
    everything = list(range(len(small_book.points)))
    ranks = [rank_of(small_book, case, everything) for case in faulty_cases(small_book, 60, SEED)]
    assert np.mean(np.array(ranks) < 3) >= LEAST_TOP_THREE


def test_sound_guitars_are_not_accused(small_book: Book) -> None:
    assert false_alarms(small_book, 80, SEED + 1) <= MOST_FALSE_ALARMS


def test_a_finder_without_spreads_accuses_them(small_book: Book) -> None:
    """The twin: parts taken for exact, no room for curves, no fit."""
    exact = without_spread(small_book)
    assert false_alarms(exact, 40, SEED + 1, refit=False, curved=0.0) > MOST_FALSE_ALARMS


def test_an_open_joint_is_named_with_its_terminals(small_book: Book) -> None:
    fault = next(f for f in small_book.faults if f.text == "the joint at neck.start and selector.N is open")
    case = read_one(small_book, fault, np.random.default_rng(3))
    meter = [i for i, point in enumerate(small_book.points) if not point.frequency_hz]
    found = diagnose(small_book, [small_book.points[i] for i in meter], case.levels[meter])
    first = found.classes[0]
    assert fault in first.faults
    assert not first.sound
    assert {("neck", "start"), ("selector", "N")} <= {t for f in first.faults for t in f.terminals}


def test_the_next_reading_is_new_and_the_last_is_none(small_book: Book) -> None:
    case = next(faulty_cases(small_book, 1, SEED + 3, seen=True))
    seen: list[int] = []
    for _ in range(len(small_book.points)):
        found = diagnose(small_book, [small_book.points[i] for i in seen], case.levels[seen], refit=False)
        upcoming = found.next_reading
        if upcoming is None:
            break
        more = points_of(small_book, upcoming)
        assert not set(more) & set(seen)
        seen += more
    assert found.next_reading is None
    assert seen
    assert found.clear


def test_every_reading_is_asked_for_once(small_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never sure and content with no gain, the planner ends when all is read."""
    monkeypatch.setattr("dsp.checking.diagnosis.SURE", 1.1)
    monkeypatch.setattr("dsp.checking.diagnosis.LEAST_GAIN", -1.0)
    case = next(faulty_cases(small_book, 1, SEED + 4, seen=True))
    seen: list[int] = []
    for _ in range(len(small_book.points) + 1):
        found = diagnose(small_book, [small_book.points[i] for i in seen], case.levels[seen], refit=False)
        if found.next_reading is None:
            break
        seen += points_of(small_book, found.next_reading)
    assert not found.clear
    assert sorted(seen) == list(range(len(small_book.points)))


def points_of(book: Book, upcoming) -> list[int]:
    return [
        i
        for i, point in enumerate(book.points)
        if point.setting == upcoming.setting and (point.frequency_hz > 0) == upcoming.sweep
    ]


def heard(book: Book, word: str, position: str, **knobs: float) -> set[str]:
    """Texts of the faults that a word makes at least twice as likely as no fault."""
    setting = replace(book.ear[0], position=position, knobs={**book.ear[0].knobs, **knobs})
    found = diagnose(book, [], np.zeros(0), [(word, setting)])
    prior = np.array([fault.prior for fault in book.faults])
    likely = found.probability / prior
    return {f.text for f, one in zip(book.faults, likely, strict=True) if one > 2 * likely[0]}


def test_what_is_heard_points_at_faults(small_book: Book) -> None:
    assert "the joint at volume.2 and output.tip is open" in heard(small_book, "silent", "1")
    assert "start and finish of neck are exchanged" in heard(small_book, "thin", "2")
    assert "start and finish of neck are exchanged" not in heard(small_book, "thin", "1")
    assert "the joint at tone.1 and cap.a is open" in heard(small_book, "does nothing", "1", tone=0.0)
    assert "lugs 1 and 3 of volume are exchanged" in heard(small_book, "works reversed", "1", volume=0.0)
    assert "the joint at neck.start and selector.N is open" in heard(small_book, "hums", "2")
    assert "tone is 130 kΩ" not in heard(small_book, "silent", "1")
    assert heard(small_book, "fine", "1") == set()


def test_what_the_ear_alone_tells_apart_is_not_one_class(small_book: Book) -> None:
    """Leads exchanged change no reading, but both coils together sound thin."""
    swap = next(f for f in small_book.faults if f.text == "start and finish of neck are exchanged")
    both = replace(small_book.ear[0], position="2")
    silent = diagnose(small_book, [], np.zeros(0))
    assert next(one for one in silent.classes if swap in one.faults).sound, "nothing was heard yet"
    first = diagnose(small_book, [], np.zeros(0), [("thin", both), ("fine", small_book.ear[0])]).classes[0]
    assert swap in first.faults
    assert not first.sound


def test_what_is_neither_read_nor_heard_is_harmless(small_book: Book) -> None:
    unseen, harmless = would_change_nothing(small_book), would_be_harmless(small_book)
    assert set(map(id, harmless)) < set(map(id, unseen))
    assert "start and finish of neck are exchanged" not in {one.text for one in harmless}
    for one in harmless:
        changed = ear_levels(one.wiring, small_book.ear) - ear_levels(
            small_book.faults[0].wiring, small_book.ear
        )
        assert np.abs(changed).max() < 0.5, one.text


@pytest.mark.parametrize("word", WORDS)
def test_no_word_settles_anything_alone(word: str, small_book: Book) -> None:
    knobs = {"tone": 0.0} if WORDS[word].knob else {}
    setting = replace(small_book.ear[0], knobs={**small_book.ear[0].knobs, **knobs})
    assert diagnose(small_book, [], np.zeros(0), [(word, setting)]).probability.max() < 0.5


@pytest.fixture(scope="module")
def baritone_cases(baritone_book: Book) -> list:
    return list(faulty_cases(baritone_book, 50, SEED + 10))


def subsets(book: Book) -> Iterator[tuple[str, list[int]]]:
    """Points of the meter alone, of sweeps alone, of both."""
    every = range(len(book.points))
    yield "meter", [i for i in every if not book.points[i].frequency_hz]
    yield "sweeps", [i for i in every if book.points[i].frequency_hz]
    yield "both", list(every)


@pytest.mark.long
def test_baritone_right_class_among_three(baritone_book: Book, baritone_cases: list) -> None:
    for name, where in subsets(baritone_book):
        ranks = np.array([rank_of(baritone_book, case, where) for case in baritone_cases])
        print(f"\nbaritone, {name}: first {np.mean(ranks == 0):.3f}, among three {np.mean(ranks < 3):.3f}")
        assert np.mean(ranks < 3) >= LEAST_TOP_THREE


@pytest.mark.long
def test_baritone_false_alarms(baritone_book: Book) -> None:
    share = false_alarms(baritone_book, 100, SEED + 11)
    print(f"\nbaritone, sound guitars accused: {share:.3f}")
    assert share <= MOST_FALSE_ALARMS
    assert false_alarms(without_spread(baritone_book), 30, SEED + 11, refit=False, curved=0.0) > 0.05


@pytest.mark.long
def test_the_fit_takes_accusations_back(baritone_book: Book) -> None:
    """Along straight lines alone some sound guitars are accused; with the parts fitted fewer are."""
    where = dict(subsets(baritone_book))["sweeps"]
    points = [baritone_book.points[i] for i in where]
    accused = {False: 0, True: 0}
    for case in sound_cases(baritone_book, 150, 41):  # the seed at which it was looked at
        for refit in accused:
            how = {"refit": refit, "curved": 0.0, "plan": False}
            found = diagnose(baritone_book, points, case.levels[where], **how)  # type: ignore[arg-type]
            accused[refit] += not found.classes[0].sound
    print(f"\nbaritone, accused along lines {accused[False]}, with parts fitted {accused[True]}, of 150")
    assert accused[False] > accused[True] + 1


@pytest.mark.long
def test_baritone_faults_leave_their_bands(baritone_book: Book) -> None:
    wiring = baritone_book.faults[0].wiring
    where = dict(subsets(baritone_book))["sweeps"]
    bands = find_bands(wiring, [baritone_book.points[i] for i in where])
    low, high = (level_of(np.array([getattr(b, end) for b in bands])) for end in ("low_ohm", "high_ohm"))
    found = []
    for case in faulty_cases(baritone_book, 400, SEED + 12, seen=True):
        level = case.levels[where]
        found.append(bool(np.any((level < low - 1e-9) | (level > high + 1e-9))))
    print(f"\nbaritone, faults beyond a band of the sweeps: {np.mean(found):.3f}")
    assert np.mean(found) >= LEAST_FOUND
    wide = [np.any((c.levels[where] < low - 1) | (c.levels[where] > high + 1)) for c in
            faulty_cases(baritone_book, 100, SEED + 12, seen=True)]  # fmt: skip
    assert np.mean(wide) < LEAST_FOUND, "bands 2.7 times as wide find too few"


@pytest.mark.long
def test_baritone_planned_readings(baritone_book: Book) -> None:
    steps, right = [], []
    for case in faulty_cases(baritone_book, 60, SEED + 13, seen=True):
        seen: list[int] = []
        count = 0
        while True:
            points = [baritone_book.points[i] for i in seen]
            found = diagnose(baritone_book, points, case.levels[seen], refit=False)
            if found.next_reading is None:
                break
            seen += points_of(baritone_book, found.next_reading)
            count += 1
        steps.append(count)
        right.append(case.fault in found.classes[0].faults)
    print(f"\nbaritone, planned readings: {np.mean(steps):.2f} on the mean, right {np.mean(right):.2f}")
    assert np.mean(steps) <= MOST_STEPS
    assert np.mean(right) >= 0.9


def test_what_was_not_fitted_leads_nothing(small_book: Book) -> None:
    """A sweep out of calibration: fitted, every fault explains it far worse than along lines."""
    where = np.array(dict(subsets(small_book))["sweeps"])
    levels = level_of(1.5 * ohm_of(small_book.levels[0, where]))
    fit = _weigh(small_book, where, levels, CURVED)
    classes = [[i] for i in map(int, np.argsort(-fit.evidence))]
    chosen = {0, *(group[0] for group in classes[:3])}
    prior = np.zeros(len(classes))
    found = _refit(small_book, prior, fit.evidence, classes, chosen, where, levels, fit.parts)
    assert found[0] < fit.evidence[0] - 2e3, "or nothing is shown"
    others = [i for i in range(len(found)) if i not in chosen]
    assert found[others].max() < found[list(chosen)].min() - 20


@pytest.mark.parametrize("factor", [0.8, 1.5])
def test_readings_that_no_fault_explains_are_told(factor: float, small_book: Book) -> None:
    for name, where in subsets(small_book):
        levels = level_of(factor * ohm_of(small_book.levels[0, where]))
        found = diagnose(small_book, [small_book.points[i] for i in where], levels, plan=False)
        assert found.unexplained, name
        assert found.misfit > 10


def test_what_one_fault_explains_is_not_doubted(small_book: Book) -> None:
    where = dict(subsets(small_book))["both"]
    cases = [*sound_cases(small_book, 15, SEED + 20), *faulty_cases(small_book, 25, SEED + 21)]
    left = []
    for case in cases:
        found = diagnose(small_book, list(small_book.points), case.levels[where], plan=False)
        assert not found.unexplained, case.fault.text
        left.append(found.misfit)
    assert 0.2 < np.median(left) < 1.0


def test_a_value_between_two_of_the_list_is_explained(small_book: Book) -> None:
    """A cold joint of 16 kΩ, where the book has 8 and 30."""
    text = "the joint at volume.2 and output.tip is cold, about 8 kΩ"
    fault = next(f for f in small_book.faults if f.text == text)
    joint = replace(fault.wiring.parts[ADDED], resistance_ohm=16e3)  # type: ignore[type-var]
    between = replace(fault, wiring=replace(fault.wiring, parts={**fault.wiring.parts, ADDED: joint}))
    case = read_one(small_book, between, np.random.default_rng(11))
    found = diagnose(small_book, list(small_book.points), case.levels, plan=False)
    assert fault.place in {one.place for one in found.classes[0].faults}
    assert not found.unexplained
    assert found.misfit < 2


@pytest.mark.long
def test_values_off_the_list_on_fresh_draws(small_book: Book) -> None:
    """Cold joints, leaks and capacitors of any value, with a seed that nothing was chosen on."""
    cases = list(off_list_cases(small_book, 12, SEED + 42))
    for name, where in list(subsets(small_book))[:2]:
        points = [small_book.points[i] for i in where]
        found = [diagnose(small_book, points, case.levels[where], plan=False) for case in cases]

        def led(shift: int = 0, *, accused: bool = False, answers: list = found) -> int:
            """How many first lines hold the right place; with `accused`, of those that are no "no fault"."""
            turned = [one.classes[0] for one in answers[shift:] + answers[:shift]]
            return sum(
                any(same_place(case.fault, one) for one in line.faults) and not (accused and line.sound)
                for case, line in zip(cases, turned, strict=True)
            )

        print(
            f"\noff the list, fresh, {name}: in the first line {led()} of {len(cases)}, in one that accuses "
            f"{led(accused=True)}, doubted {sum(one.unexplained for one in found)}"
        )
        assert led() >= LEAST_OFF_LIST * len(cases)
        assert led(1, accused=True) < 0.5 * len(cases), "the twin: another guitar's answers"


def test_two_faults_are_not_one(small_book: Book) -> None:
    tone = next(f for f in small_book.faults if f.text == "cap is 2.2 nF")
    half = next(f for f in find_faults(tone.wiring) if f.text == "half of bridge is shorted inside")
    case = read_one(small_book, half, np.random.default_rng(12))
    assert diagnose(small_book, list(small_book.points), case.levels, plan=False).unexplained


def test_few_readings_are_not_doubted_for_chance(small_book: Book) -> None:
    """Survival 0.001 of chi-squared: 10.83 with 1 degree, 16.27 with 3 (tables, from memory)."""
    assert most_misfit(1) == pytest.approx(10.83, abs=0.005)
    assert most_misfit(3) == pytest.approx(16.27 / 3, abs=0.002)
    assert most_misfit(35) == 3.0
    none = diagnose(small_book, [], np.zeros(0), plan=False)
    assert (none.misfit, none.unexplained) == (0.0, False)


SWITCHED = """
neck: {COIL}
one: {kind: switch, lugs: [A, B], contacts: {1: [], 2: [[A, B]]}}
other: {kind: switch, lugs: [A, B], contacts: {1: [], 2: [[A, B]]}}
third: {kind: switch, lugs: [A, B], contacts: {1: [], 2: [[A, B]]}}
output: {kind: jack}
"""
SWITCHED_JOINTS = """
neck.start, output.tip, one.A, other.A, third.A
neck.finish, output.sleeve, one.B
"""


def test_a_word_may_be_heard_at_every_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond a number of combinations the usual settings move one switch at a time."""
    monkeypatch.setattr("dsp.sheet.readings.MOST_SETTINGS", 1)
    wiring = wiring_of(SWITCHED, SWITCHED_JOINTS)
    here = wiring.setting(wiring.positions[-1], {}, dict.fromkeys(wiring.switches, "2"))
    assert here not in ear_settings(wiring)
    book = make_book(wiring, [Point(wiring.setting(wiring.positions[0]))], heard=[here])
    assert here in book.ear
    found = diagnose(book, [], np.zeros(0), [("fine", here)])
    assert found.probability.sum() == pytest.approx(1.0)


def test_two_knobs_turned_down_are_heard_so(small: Wiring) -> None:
    both = small.setting("1", {"tone": 0.0, "volume": 3.0})
    (added,) = ear_settings(small, [both])[len(ear_settings(small)) :]
    assert added.knobs == {"tone": 0.0, "volume": 0.0}


AREAS = """
neck: {COIL, hum_area: 4 m²}
bridge: {COIL, hum_area: 9 m², winding: reverse, turns_area: 1}
output: {kind: jack}
"""
IN_SERIES = "neck.start, output.tip\nneck.finish, bridge.start\nbridge.finish, output.sleeve"


def test_hum_that_is_heard_follows_the_area() -> None:
    """5 m² are left of two coils that lie against each other, as in the response."""
    wiring = wiring_of(AREAS, IN_SERIES)
    dummy = replace(wiring.parts["bridge"], hum_area_m2=0.0)  # type: ignore[type-var]
    alone = replace(wiring, parts={**wiring.parts, "bridge": dummy})
    setting = [wiring.setting(wiring.positions[0])]
    hum = [ear_levels(one, setting)[0, 3] for one in (wiring, alone)]
    assert hum[0] - hum[1] == pytest.approx(20 * np.log10(5 / 4), abs=0.05)
    assert hum_weights(wiring) == pytest.approx([4 / 5.9, -9 / 5.9])


def test_half_a_coil_picks_up_half_the_hum() -> None:
    wiring = wiring_of(AREAS, IN_SERIES)
    fault = next(f for f in find_faults(wiring) if f.text == "half of bridge is shorted inside")
    assert hum_weights(fault.wiring) == pytest.approx([4 / 5.9, -4.5 / 5.9])


def test_some_faults_change_no_reading(small_book: Book) -> None:
    texts = {fault.text for fault in would_change_nothing(small_book)}
    assert "start and finish of neck are exchanged" in texts  # the sign alone
    assert "the joint at volume.2 and output.tip is open" not in texts
