"""The search for strings: held to every way there is, and to what a hand can do."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest

from dsp.takes.midi import fingering
from dsp.takes.midi.board import FINGERS, Board, board_of, courses_of, fingers
from dsp.takes.midi.fingering import Wanted, find_fingering, placements
from dsp.takes.player import instrument_of
from server.paths import demo_folder
from server.wirings.text import load_wiring

BOARD = Board((40, 45, 50, 55, 59, 64), 0.648, 22, 0.115)
SMALL = Board((40, 45, 50), 0.648, 7, 0.115)


def chord_of(keys: Sequence[int]) -> list[Wanted]:
    return [Wanted(key, 0.0, 1.0) for key in keys]


def frets_on(keys: Sequence[int], board: Board = BOARD) -> list[int | str]:
    """Return a chord as guitarists write it: a fret per string, lowest first."""
    found: list[int | str] = ["x"] * len(board.keys)
    for note in find_fingering([chord_of(keys)], board).notes:
        found[note.string] = note.fret
    return found


@pytest.mark.parametrize(
    "frets",
    [
        ("x", 3, 2, 0, 1, 0),
        (3, 2, 0, 0, 0, 3),
        ("x", 0, 2, 2, 1, 0),
        (0, 2, 2, 1, 0, 0),
        (1, 3, 3, 2, 1, 1),
        ("x", "x", 0, 2, 3, 2),
    ],
)
def test_common_shapes_are_found(frets: tuple[int | str, ...]) -> None:
    """Common practice: the first shapes of every chord book."""
    keys = [key + int(fret) for key, fret in zip(BOARD.keys, frets, strict=True) if fret != "x"]
    assert frets_on(keys) == list(frets)


def test_a_hand_has_four_fingers_and_a_reach() -> None:
    assert fingers({0: 1, 1: 2, 2: 3, 3: 4, 4: 5}) == 5
    assert not placements(chord_of([41, 53, 70]), Board((40, 45), 0.648, 22, 0.115))[0]
    assert placements(chord_of([43, 47]), Board((40, 45), 0.648, 22, 0.115))[0]
    assert not placements(chord_of([41, 54]), Board((40, 45), 0.648, 22, 0.115))[0]


def passage(seed: int, chords: int) -> list[list[Wanted]]:
    """Return random notes of the small board, some of which ring into the next."""
    chance = np.random.default_rng(seed)
    found: list[list[Wanted]] = []
    while len(found) < chords:
        keys = sorted({int(key) for key in chance.integers(40, 58, size=chance.integers(1, 3))})
        at_s = 0.3 * len(found)
        chord = [Wanted(key, at_s, at_s + float(chance.uniform(0.1, 1.2))) for key in keys]
        if placements(chord, SMALL)[0]:
            found.append(chord)
    return found


def cheapest_m(chords: Sequence[Sequence[Wanted]]) -> float:
    """Return the lowest cost over every way to lay every chord and every place of the hand."""
    ways = [
        [
            (way, place)
            for way in placements(chord, SMALL)[0]
            for place in (tuple(fingering._places(way, SMALL)) or (0,))
        ]
        for chord in chords
    ]
    notes = [note for chord in chords for note in chord]
    best = np.inf
    for choice in product(*ways):
        best = min(best, _cost_m(choice, chords, notes))
    return float(best)


Choice = Sequence[tuple[fingering.Placement, int]]


def _cost_m(choice: Choice, chords: Sequence[Sequence[Wanted]], notes: list[Wanted]) -> float:
    """Return the cost of one way; where several notes may go, that of the best choice."""
    states: list[tuple[float, int, fingering.Held]] = [(0.0, 0, ())]
    first = 0
    for (way, place), chord in zip(choice, chords, strict=True):
        now_s = chord[0].start_s
        after = []
        for cost_m, at, held in states:
            still = tuple(one for one in held if notes[one[2]].end_s > now_s + fingering.EARLY_S)
            there = place or at
            moved_m = abs(SMALL.frets_m[at - 1] - SMALL.frets_m[there - 1]) if at and there else 0.0
            for kept, cut in fingering._hold(still, way, there, SMALL):
                lost_m = sum(fingering._cut_cost_m(notes[index], now_s) for index in cut)
                struck = tuple((string, fret, first + i) for i, (string, fret) in enumerate(way))
                own_m = fingering._own_cost_m(way, SMALL)
                after.append((cost_m + moved_m + lost_m + own_m, there, tuple(sorted((*kept, *struck)))))
        states = after
        first += len(chord)
    return min(state[0] for state in states)


@pytest.mark.parametrize("seed", range(12))
def test_no_way_is_easier_than_the_one_found(seed: int) -> None:
    """Against every combination of placements, without states, pruning or a programme."""
    chords = passage(seed, 5)
    found = find_fingering(chords, SMALL)
    assert found.exact
    assert found.cost_m == pytest.approx(cheapest_m(chords), abs=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_whatever_is_found_can_be_played(seed: int) -> None:
    """Pitches are those wanted; no string has two notes, no hand five fingers or too wide a reach."""
    chance = np.random.default_rng(seed)
    chords: list[list[Wanted]] = []
    while len(chords) < 40:
        keys = sorted({int(key) for key in chance.integers(40, 80, size=chance.integers(1, 5))})
        at_s = 0.25 * len(chords)
        chord = [Wanted(key, at_s, at_s + float(chance.uniform(0.1, 0.9))) for key in keys]
        if placements(chord, BOARD)[0]:
            chords.append(chord)
    wanted = [note for chord in chords for note in chord]
    notes = find_fingering(chords, BOARD).notes
    assert [BOARD.keys[note.string] + note.fret for note in notes] == [note.key for note in wanted]
    for chord in chords:
        now_s = chord[0].start_s
        sounding = [
            played
            for note, played in zip(wanted, notes, strict=True)
            if note.start_s <= now_s < played.end_s - fingering.EARLY_S
        ]
        frets = {one.string: one.fret for one in sounding}
        assert len(frets) == len(sounding)
        assert fingers(frets) <= FINGERS
        pressed = [fret for fret in frets.values() if fret]
        assert not pressed or BOARD.span_m(min(pressed), max(pressed)) <= BOARD.reach_m + 1e-12


def test_a_scale_is_played_in_one_place() -> None:
    """From the fifth fret on, two octaves of A minor pentatonic need no shift of more than two frets."""
    keys = [45, 48, 50, 52, 55, 57, 60, 62, 64, 67, 69, 72]
    chords = [[Wanted(key, 0.25 * i, 0.25 * i + 0.2)] for i, key in enumerate(keys)]
    pressed = [note.fret for note in find_fingering(chords, BOARD).notes if note.fret]
    assert max(pressed) - min(pressed) <= 8


def test_a_bent_note_is_fretted_and_a_bend_downward_is_let_go() -> None:
    up = Wanted(59, 0.0, 1.0, highest=2.0)
    assert all(fret > 0 for way in placements([up], BOARD)[0] for _, fret in way)
    down = Wanted(64, 0.0, 1.0, lowest=-2.0)
    assert {fret for way in placements([down], BOARD)[0] for string, fret in way if string == 4} == {3}


def test_courses_are_told_by_their_tuning() -> None:
    twelve = instrument_of(load_wiring(demo_folder() / "twelve.yaml").instrument)[0]
    assert board_of(twelve, None, 22, 0.115).keys == BOARD.keys
    assert courses_of([35, 40, 45, 50, 54, 59]) == 6
    assert board_of(twelve, 12, 22, 0.115).keys[:2] == (40, 52)


def test_a_passage_beyond_the_search_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fingering, "MOST_STATES", 2)
    assert not find_fingering(passage(3, 6), SMALL).exact
