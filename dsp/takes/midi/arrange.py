"""A MIDI file's notes as a score for an instrument, and what it cannot play."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import ceil
from typing import Any

from dsp.errors import InputError, Problem
from dsp.parts.instrument import Instrument
from dsp.takes.midi.board import Board, board_of
from dsp.takes.midi.fingering import STILL, Played, Wanted, find_fingering, frets_of, placements
from dsp.takes.midi.sounding import MidiNote, count
from dsp.takes.midi.timing import Timing
from dsp.takes.score import Event, Score

TOGETHER_S = 0.035
"""Notes that start within this time of the first are one chord."""
SOONEST_S = 0.02
"""Shortest time between two plucks of one string."""
SHORTEST_S = 0.03
"""Shortest note that is worth a pluck; shorter ones are made as long."""
MOST_BEND = 5.0
"""Semitones that a finger bends a string upward, as in a score."""
MOST_REPORTED = 20
MOST_DROPPED = 8
"""Notes of a chord among which the fewest that must go are sought; of more, soft inner ones go first."""
NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
LOUDEST = 127


@dataclass(frozen=True)
class Midi:
    """What a take file says of its MIDI file.

    Attributes
    ----------
    strings : str
        ``hand``: each note goes where a hand plays it most easily. ``channels`` and ``tracks``: each
        channel or track is a string.
    order : tuple of int
        Channel or track of string 1 (the highest), 2, …; empty for the usual one.
    tracks, channels : tuple of int
        Those that are played; empty for all.
    transpose : int
        Semitones.
    reach_m : float
        Widest distance between the frets that one hand holds down together.
    leave_out : bool
        Whether the rest is played where some notes cannot be.
    pedals : bool
        Whether the sustain pedal holds notes on.
    head : Score
        Everything of the score but its tempo and events.
    stroke : tuple of (str, value)
        Fields of every `Event`, such as ``hand``.
    """

    strings: str = "hand"
    order: tuple[int, ...] = ()
    tracks: tuple[int, ...] = ()
    channels: tuple[int, ...] = ()
    transpose: int = 0
    highest_fret: int = 22
    reach_m: float = 0.115
    leave_out: bool = False
    pedals: bool = True
    head: Score = field(default_factory=lambda: Score(60.0, ()))
    stroke: tuple[tuple[str, Any], ...] = ()


@dataclass(frozen=True)
class Arrangement:
    """A file on an instrument.

    Attributes
    ----------
    score : Score
        Beats are seconds.
    left_out : tuple of Problem
        What cannot be played.
    remarks : tuple of str
        What is played otherwise than written.
    """

    score: Score
    left_out: tuple[Problem, ...]
    remarks: tuple[str, ...]


@dataclass
class _Desk:
    """What one arrangement needs at every step."""

    midi: Midi
    board: Board
    timing: Timing
    file: str
    problems: list[Problem]

    def refuse(self, note: MidiNote, got: str, allowed: str) -> None:
        self.problems.append(Problem(f"{self.file}: {self.timing.place(note.tick)}", got, allowed))

    def key(self, note: MidiNote) -> int:
        return note.key + self.midi.transpose


def arrange(
    notes: Sequence[MidiNote], timing: Timing, midi: Midi, instrument: Instrument, file: str
) -> Arrangement:
    """Lay notes on the strings of an instrument.

    Parameters
    ----------
    notes : sequence of MidiNote
        By time.
    instrument : Instrument
        With strings.
    file : str
        Name of the MIDI file, for errors.

    Raises
    ------
    InputError
        With everything that cannot be played, unless the take leaves it out; if nothing is left.
    """
    board = board_of(instrument, midi.head.courses, midi.highest_fret, midi.reach_m)
    desk = _Desk(midi, board, timing, file, [])
    laid, remarks = _by_hand(notes, desk) if midi.strings == "hand" else _by_number(notes, desk)
    if desk.problems and not (midi.leave_out and laid):
        raise InputError.of(_reported(desk.problems, nothing=not laid))
    first_s = notes[0].start_s if notes else 0.0
    events = tuple(_event(note, played, midi, first_s, len(board.keys)) for note, played in laid)
    score = replace(midi.head, tempo_bpm=60.0, events=events, courses=len(board.keys))
    more_s = seconds_of(notes, midi) - score.seconds
    score = replace(score, tail_s=score.tail_s + more_s)
    return Arrangement(score, tuple(_reported(desk.problems)), tuple(remarks))


def seconds_of(notes: Sequence[MidiNote], midi: Midi) -> float:
    """Return the length of the take on any instrument, s."""
    if not notes:
        return midi.head.tail_s
    ends_s = max(max(note.end_s, note.start_s + SHORTEST_S) for note in notes)
    return ends_s - notes[0].start_s + midi.head.tail_s


def key_name(key: int) -> str:
    """Name a key by its pitch, as tunings are written: 60 is C4.

    Examples
    --------
    >>> key_name(35), key_name(69)
    ('B1', 'A4')
    """
    return f"{NAMES[key % 12]}{key // 12 - 1}"


def force_of(velocity: int) -> float:
    """Return the force of a stroke, 0 to 1.

    Its level is 40 log10(velocity / 127) dB re the hardest. That law is the one of Downloadable Sounds,
    level 1 (note-on velocity to gain), and of General MIDI 2 (volume and expression). MIDI 1.0 itself asks
    for a logarithmic scale and names none.

    Examples
    --------
    >>> [round(force_of(velocity), 2) for velocity in (127, 100, 64)]
    [1.0, 0.62, 0.25]
    """
    return (velocity / LOUDEST) ** 2


def _reported(problems: Sequence[Problem], *, nothing: bool = False) -> list[Problem]:
    """Return the first problems, and one that counts the others."""
    found = list(problems[:MOST_REPORTED])
    if len(problems) > MOST_REPORTED:
        more = len(problems) - MOST_REPORTED
        found.append(
            Problem(problems[-1].where, f"{more} more up to here that cannot be played", "see above")
        )
    if nothing and found:
        found.append(Problem(problems[0].where.partition(": ")[0], "nothing that can be played", "notes"))
    return found


def _by_hand(notes: Sequence[MidiNote], desk: _Desk) -> tuple[list[tuple[MidiNote, Played]], list[str]]:
    """Let the search choose strings."""
    chords = []
    for chord in _chords(notes):
        playable = _playable(chord, desk)
        if playable:
            chords.append(playable)
    wanted = [[_wanted(note, desk) for note in chord] for chord in chords]
    found = find_fingering(wanted, desk.board)
    flat = [note for chord in chords for note in chord]
    laid = list(zip(flat, found.notes, strict=True))
    cut = [note for note, played in laid if played.end_s < note.end_s]
    remarks = []
    if cut:
        first = desk.timing.place(cut[0].tick)
        what = count(len(cut), "note")
        remarks.append(f"{what} cut short where the string or the finger is needed, the first of {first}")
    if not found.exact:
        remarks.append("the passage has so many fingerings that the easiest may have been missed")
    return laid, remarks


def _chords(notes: Sequence[MidiNote]) -> Iterator[list[MidiNote]]:
    """Group notes that start together."""
    chord: list[MidiNote] = []
    for note in notes:
        if chord and note.start_s - chord[0].start_s > TOGETHER_S:
            yield chord
            chord = []
        chord.append(note)
    if chord:
        yield chord


def _wanted(note: MidiNote, desk: _Desk) -> Wanted:
    return Wanted(desk.key(note), note.start_s, note.end_s, note.lowest, note.highest)


def _playable(chord: list[MidiNote], desk: _Desk) -> list[MidiNote]:
    """Return the notes of a chord that one hand can play; refuse the others."""
    alone = []
    for note in chord:
        why = _why_never(note, desk)
        if why is None:
            alone.append(note)
        else:
            desk.refuse(note, *why)
    if len(alone) > len(desk.board.keys):
        alone = _fewer(alone, desk)
    if not alone or _can_lay(alone, desk):
        return alone
    return _less(alone, desk)


def _fewer(chord: list[MidiNote], desk: _Desk) -> list[MidiNote]:
    """Keep as many notes as there are strings: the lowest, the highest, then the loudest."""
    most = len(desk.board.keys)
    order = sorted(chord, key=lambda note: (note.key, -note.velocity))
    inner = sorted(order[1:-1], key=lambda note: (-note.velocity, note.key))
    kept = ([order[0]] if most == 1 else [order[0], order[-1]]) + inner[: max(most - 2, 0)]
    for note in chord:
        if note not in kept:
            got = f"{len(chord)} notes at once; {_name(note, desk)} is one too many"
            desk.refuse(note, got, f"at most {most}, one a string")
    return [note for note in chord if note in kept]


def _less(chord: list[MidiNote], desk: _Desk) -> list[MidiNote]:
    """Leave out as few notes of a chord as possible, inner and soft ones first."""
    order = sorted(chord, key=lambda note: note.key)
    ends = {order[0], order[-1]}
    going = sorted(chord, key=lambda note: (note in ends, note.velocity, note.key))
    kept: list[MidiNote] = []
    if len(chord) <= MOST_DROPPED:
        ways = (gone for n in range(1, len(chord)) for gone in combinations(going, n))
        lost = next((gone for gone in ways if _can_lay([n for n in chord if n not in gone], desk)), None)
        kept = [note for note in chord if lost is not None and note not in lost]
    for number in range(1, len(chord)):
        if kept:
            break
        left = [note for note in chord if note not in going[:number]]
        kept = left if _can_lay(left, desk) else []
    names = " ".join(_name(note, desk) for note in sorted(chord, key=lambda note: note.key))
    gone = " ".join(_name(note, desk) for note in chord if note not in kept)
    reach = f"frets within {1e3 * desk.board.reach_m:.0f} mm, four fingers, a string for each note"
    desk.refuse(chord[0], f"{names} at once, which no hand holds; {gone} would go", reach)
    return kept


def _can_lay(chord: Sequence[MidiNote], desk: _Desk) -> bool:
    return bool(placements([_wanted(note, desk) for note in chord], desk.board)[0])


def _why_never(note: MidiNote, desk: _Desk, strings: Sequence[int] | None = None) -> tuple[str, str] | None:
    """Say why a note can be played on no string, or on none of some: what was got, and what is allowed."""
    keys = [desk.board.keys[string] for string in strings] if strings is not None else desk.board.keys
    on = f"{desk.board.name(strings[0])}: " if strings else ""
    key, name = desk.key(note), _name(note, desk)
    bottom, top = min(keys), max(keys) + desk.board.highest_fret
    if key < bottom:
        return f"{on}{name}", f"{key_name(bottom)} and above, the lowest open string"
    if key > top:
        return f"{on}{name}", f"up to {key_name(top)}, fret {desk.board.highest_fret} of the highest string"
    wanted = _wanted(note, desk)
    if wanted.bent and note.highest - min(note.lowest, 0.0) > MOST_BEND:
        got = f"{on}{name} bent over {note.highest - min(note.lowest, 0.0):.1f} semitones"
        return got, f"up to {MOST_BEND:g}"
    lays = [one for one in frets_of(wanted, desk.board) if strings is None or one[0] in strings]
    if lays:
        return None
    if wanted.bent:
        way = "downward" if note.lowest < -STILL else "upward"
        allowed = "a bend from a fret: an open string cannot be bent"
        if note.lowest < -STILL:
            allowed += ", and downward only by letting go a bend"
        return f"{on}{name} bent {way} as an open string", allowed
    return f"{on}{name}, which no string has", f"up to fret {desk.board.highest_fret} of a string"


def _name(note: MidiNote, desk: _Desk) -> str:
    return key_name(desk.key(note))


def _by_number(notes: Sequence[MidiNote], desk: _Desk) -> tuple[list[tuple[MidiNote, Played]], list[str]]:
    """Take the string from the channel or the track."""
    midi, board = desk.midi, desk.board
    by_track = midi.strings == "tracks"
    usual = sorted({note.track for note in notes}) if by_track else range(1, len(board.keys) + 1)
    string_of = {number: len(board.keys) - 1 - place for place, number in enumerate(midi.order or usual)}
    laid: list[tuple[MidiNote, Played]] = []
    last: dict[int, int] = {}
    cut = 0
    for note in notes:
        number = note.track if by_track else note.channel
        string = string_of.get(number, -1)
        what = "track" if by_track else "channel"
        if string < 0:
            allowed = f"{what}s of the strings: {', '.join(map(str, list(string_of)[: len(board.keys)]))}"
            desk.refuse(note, f"{_name(note, desk)} on {what} {number}, which is no string", allowed)
            continue
        why = _why_never(note, desk, [string])
        if why is not None:
            desk.refuse(note, *why)
            continue
        fret = next(fret for one, fret in frets_of(_wanted(note, desk), board) if one == string)
        if string in last:
            before, played = laid[last[string]]
            if note.start_s - before.start_s < SOONEST_S:
                got = f"{_name(before, desk)} and {_name(note, desk)} at once on {board.name(string)}"
                desk.refuse(note, got, "one note a string at a time")
                continue
            if played.end_s > note.start_s + SOONEST_S:
                cut += 1
            laid[last[string]] = (before, replace(played, end_s=min(played.end_s, note.start_s)))
        last[string] = len(laid)
        laid.append((note, Played(string, fret, note.end_s)))
    return laid, [f"{count(cut, 'note')} cut short by the next on the same string"] if cut else []


def _event(note: MidiNote, played: Played, midi: Midi, first_s: float, strings: int) -> Event:
    length_s = max(played.end_s - note.start_s, SHORTEST_S)
    below = ceil(-note.lowest - STILL) if note.lowest < -STILL else 0
    bent = _wanted_bends(note, below)
    return Event(
        beat=note.start_s - first_s,
        string=strings - played.string,
        fret=played.fret,
        force=force_of(note.velocity),
        length=length_s,
        bent=bent,
        **dict(midi.stroke),
    )


def _wanted_bends(note: MidiNote, below: int) -> tuple[tuple[float, float], ...]:
    """Return a note's bends above its fret; none if they are too small for a hand."""
    if note.highest <= STILL and note.lowest >= -STILL:
        return ()
    return tuple((at_s, max(semitones + below, 0.0)) for at_s, semitones in note.bends)
