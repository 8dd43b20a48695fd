"""Which string plays which note: the easiest way, by an exact search.

A state is the hand's place on the neck and the notes that ring on, each on its string. A dynamic
programme goes from chord to chord, keeps the cheapest way to each state, and so finds the cheapest of all
ways. Costs are in metres of the hand's travel; their weights are our choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import ceil

from dsp.takes.midi.board import FINGERS, Board, fingers

STRETCH = 0.3
"""Cost of a metre between the frets held down, beside a metre of travel."""
HEIGHT = 0.02
"""Cost of a metre of the neck below a fret: low frets are preferred, open strings most."""
CUT_M, CUT_M_PER_S, CUT_MOST_S = 0.15, 0.2, 1.5
"""Cost of a note that ends early because its string or its finger is needed."""
STILL = 0.1
"""Semitones: smaller bends are none, to a hand."""
MOST_PLACEMENTS = 600
MOST_TRIED = 20_000
"""Ways to lay one chord on the strings; common instruments have fewer by far."""
MOST_STATES = 150
MOST_COMPARED = 24
"""Cheapest states that others are compared with."""
EARLY_S = 0.02
"""A note that ends no more than this after the next begins is played as written."""


@dataclass(frozen=True)
class Wanted:
    """A note to be laid on a string.

    Attributes
    ----------
    lowest, highest : float
        Semitones of its bends, 0 and 0 if it is not bent.
    """

    key: int
    start_s: float
    end_s: float
    lowest: float = 0.0
    highest: float = 0.0

    @property
    def bent(self) -> bool:
        """Whether the left hand bends it."""
        return self.lowest < -STILL or self.highest > STILL

    @property
    def pressed_key(self) -> int:
        """Key of its fret, lower where a bend goes below the note."""
        return self.key - ceil(-self.lowest - STILL) if self.lowest < -STILL else self.key


Placement = tuple[tuple[int, int], ...]
"""String and fret of each note of a chord."""
Held = tuple[tuple[int, int, int], ...]
"""What rings: string, fret, and the index of the note; by string."""
NOTHING_HELD: tuple[tuple[Held, tuple[int, ...]], ...] = (((), ()),)


@dataclass(frozen=True)
class Played:
    """A note on its string.

    Attributes
    ----------
    string : int
        0 is the lowest.
    end_s : float
        As played; earlier than wanted where the note is cut.
    """

    string: int
    fret: int
    end_s: float


@dataclass(frozen=True)
class Fingering:
    """The way found.

    Attributes
    ----------
    notes : tuple of Played
        In the order of the notes wanted.
    exact : bool
        Whether no way was left out of the search.
    """

    notes: tuple[Played, ...]
    cost_m: float
    exact: bool


@dataclass(frozen=True)
class _Step:
    """The cheapest way to a state."""

    cost_m: float
    before: _Step | None
    placement: Placement
    cut: tuple[int, ...]


def frets_of(note: Wanted, board: Board) -> Iterator[tuple[int, int]]:
    """Yield every string and fret that sound a note; bends need a finger."""
    least = 1 if note.bent else 0
    for string, key in enumerate(board.keys):
        fret = note.pressed_key - key
        if least <= fret <= board.highest_fret:
            yield string, fret


def placements(chord: Sequence[Wanted], board: Board) -> tuple[list[Placement], bool]:
    """Return the ways to lay a chord on the strings, and whether they are all."""
    found: list[Placement] = []
    choices = [tuple(frets_of(note, board)) for note in chord]
    order = sorted(range(len(chord)), key=lambda index: len(choices[index]))
    laid: dict[int, tuple[int, int]] = {}
    tried = 0

    def lay(depth: int) -> None:
        nonlocal tried
        if depth == len(order):
            frets = dict(laid.values())
            if fingers(frets) <= FINGERS:
                found.append(tuple(laid[index] for index in range(len(chord))))
            return
        index = order[depth]
        used = {string for string, _ in laid.values()}
        for string, fret in choices[index]:
            tried += 1
            if tried > MOST_TRIED or len(found) >= MOST_PLACEMENTS:
                return
            if string in used or not _within(board, [*(one for _, one in laid.values()), fret]):
                continue
            laid[index] = (string, fret)
            lay(depth + 1)
            del laid[index]

    lay(0)
    return found, tried <= MOST_TRIED and len(found) < MOST_PLACEMENTS


def _within(board: Board, frets: Sequence[int]) -> bool:
    pressed = [fret for fret in frets if fret]
    return not pressed or board.span_m(min(pressed), max(pressed)) <= board.reach_m


def find_fingering(chords: Sequence[Sequence[Wanted]], board: Board) -> Fingering:
    """Return the easiest way to play chords, one after the other.

    Parameters
    ----------
    chords : sequence of sequences of Wanted
        By time; each can be laid on the strings.

    Examples
    --------
    >>> board = Board((40, 45, 50, 55, 59, 64), 0.648, 22, 0.11)
    >>> chord = [Wanted(key, 0.0, 1.0) for key in (48, 52, 55, 60, 64)]
    >>> [(note.string, note.fret) for note in find_fingering([chord], board).notes]
    [(1, 3), (2, 2), (3, 0), (4, 1), (5, 0)]
    """
    notes = [note for chord in chords for note in chord]
    states: dict[tuple[int, Held], _Step] = {}
    exact, first = True, 0
    for chord in chords:
        ways, whole = placements(chord, board)
        exact = exact and whole
        states = _advance(states, chord, ways, board, notes, first)
        if len(states) > MOST_STATES:
            best = sorted(states.items(), key=lambda one: (one[1].cost_m, one[0]))
            states, exact = dict(best[:MOST_STATES]), False
        first += len(chord)
    if not states:
        return Fingering((), 0.0, exact)
    best_step = min(states.items(), key=lambda one: (one[1].cost_m, one[0]))[1]
    return Fingering(_played(best_step, chords, notes), best_step.cost_m, exact)


def _advance(
    states: dict[tuple[int, Held], _Step],
    chord: Sequence[Wanted],
    ways: Sequence[Placement],
    board: Board,
    notes: Sequence[Wanted],
    first: int,
) -> dict[tuple[int, Held], _Step]:
    """Return the cheapest way to every state after a chord."""
    now_s = min(note.start_s for note in chord)
    laid = [(_own_cost_m(way, board), way, _struck(way, first), tuple(_places(way, board))) for way in ways]
    found: dict[tuple[int, Held], _Step] = {}
    for held, steps in _by_held(states, notes, now_s).items():
        reached: dict[int, tuple[float, _Step | None]] = {}
        for own_m, way, struck, places in laid:
            for there in places or steps:  # an open string asks for no place
                if places and there not in reached:
                    reached[there] = _come(steps, there, board)
                cost_m, before = reached[there] if places else (_cost_m(steps[there]), steps[there])
                for kept, cut in _hold(held, way, there, board) if held else NOTHING_HELD:
                    lost_m = own_m + sum(_cut_cost_m(notes[index], now_s) for index in cut)
                    state = (there, tuple(sorted((*kept, *struck))))
                    known = found.get(state)
                    if known is None or cost_m + lost_m < known.cost_m:
                        found[state] = _Step(cost_m + lost_m, before, way, cut)
    return _undominated(found, board, notes, now_s)


def _struck(way: Placement, first: int) -> Held:
    return tuple((string, fret, first + index) for index, (string, fret) in enumerate(way))


def _by_held(
    states: dict[tuple[int, Held], _Step], notes: Sequence[Wanted], now_s: float
) -> dict[Held, dict[int, _Step | None]]:
    """Group states by what still rings at a time, then by the hand's place."""
    found: dict[Held, dict[int, _Step | None]] = {} if states else {(): {0: None}}
    for (place, held), step in states.items():
        still = tuple(one for one in held if notes[one[2]].end_s > now_s + EARLY_S)
        places = found.setdefault(still, {})
        if place not in places or step.cost_m < _cost_m(places[place]):
            places[place] = step
    return found


def _cost_m(step: _Step | None) -> float:
    return step.cost_m if step else 0.0


def _come(steps: dict[int, _Step | None], there: int, board: Board) -> tuple[float, _Step | None]:
    """Return the cheapest way to a place, from any."""
    ways = ((_cost_m(step) + _moved_m(place, there, board), step) for place, step in steps.items())
    return min(ways, key=lambda one: one[0])


def _moved_m(place: int, there: int, board: Board) -> float:
    """Return how far a hand goes; at first it lies nowhere yet."""
    return abs(board.frets_m[place - 1] - board.frets_m[there - 1]) if place and there else 0.0


def _undominated(
    found: dict[tuple[int, Held], _Step], board: Board, notes: Sequence[Wanted], now_s: float
) -> dict[tuple[int, Held], _Step]:
    """Leave out states that no best way needs.

    From a cheap state the hand can go on as from another: it pays the way there, and at most the end of
    what rings in the one alone.
    """
    left: dict[tuple[int, Held], _Step] = {}
    cheap: list[tuple[float, int, list[tuple[tuple[int, int, int], float]]]] = []
    for state, step in sorted(found.items(), key=lambda one: (one[1].cost_m, one[0])):
        place, held = state
        for cost_m, there, rings in cheap:
            most_m = step.cost_m - cost_m - _moved_m(there, place, board)
            if most_m >= 0.0 and most_m >= sum(lost_m for one, lost_m in rings if one not in held):
                break
        else:
            left[state] = step
            if len(cheap) < MOST_COMPARED:
                rings = [(one, _cut_cost_m(notes[one[2]], now_s)) for one in held]
                cheap.append((step.cost_m, place, rings))
    return left


def _own_cost_m(way: Placement, board: Board) -> float:
    pressed = [fret for _, fret in way if fret]
    if not pressed:
        return 0.0
    stretch_m = board.span_m(min(pressed), max(pressed))
    return STRETCH * stretch_m + HEIGHT * sum(board.span_m(0, fret) for fret in pressed)


def _places(way: Placement, board: Board) -> Iterator[int]:
    """Yield the frets at which the first finger may lie; none where all strings are open."""
    pressed = [fret for _, fret in way if fret]
    if not pressed:
        return
    place = min(pressed)
    while place >= 1 and board.span_m(place, max(pressed)) <= board.reach_m:
        yield place
        place -= 1


@lru_cache(maxsize=1 << 14)
def _hold(held: Held, way: Placement, there: int, board: Board) -> tuple[tuple[Held, tuple[int, ...]], ...]:
    """Return what may ring on under a chord, and what is then cut: each choice that cuts just enough."""
    strings = {string for string, _ in way}
    kept = [
        one
        for one in held
        if one[0] not in strings
        and (one[1] == 0 or (one[1] >= there and board.span_m(there, one[1]) <= board.reach_m))
    ]
    return tuple(
        (
            tuple(one for one in kept if one not in gone),
            tuple(one[2] for one in held if one not in kept or one in gone),
        )
        for gone in _lifted(kept, dict(way))
    )


def _lifted(
    kept: Sequence[tuple[int, int, int]], frets: dict[int, int]
) -> list[tuple[tuple[int, int, int], ...]]:
    """Return the smallest sets of notes that must go for four fingers to do; any of them will."""
    found: list[tuple[tuple[int, int, int], ...]] = []
    for number in range(len(kept) + 1):
        for gone in combinations(kept, number):
            if any(set(less) <= set(gone) for less in found):
                continue
            left = {string: fret for string, fret, _ in kept if all(one[0] != string for one in gone)}
            if fingers({**frets, **left}) <= FINGERS:
                found.append(gone)
        if found and not number:
            break
    return found


def _cut_cost_m(note: Wanted, now_s: float) -> float:
    return CUT_M + CUT_M_PER_S * min(note.end_s - now_s, CUT_MOST_S)


def _played(step: _Step, chords: Sequence[Sequence[Wanted]], notes: Sequence[Wanted]) -> tuple[Played, ...]:
    steps: list[_Step] = []
    last: _Step | None = step
    while last is not None:
        steps.append(last)
        last = last.before
    ends_s = [note.end_s for note in notes]
    found: list[tuple[int, int]] = []
    for one, chord in zip(reversed(steps), chords, strict=True):
        found += one.placement
        for index in one.cut:
            ends_s[index] = min(note.start_s for note in chord)
    return tuple(Played(string, fret, end_s) for (string, fret), end_s in zip(found, ends_s, strict=True))
