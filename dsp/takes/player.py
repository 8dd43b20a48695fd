"""Turn a score into notes on the strings of an instrument, as a player would."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import radians

import numpy as np

from dsp.errors import InputError, Problem
from dsp.parts.coil import Coil
from dsp.parts.instrument import GuitarString, Instrument, pitch_hz
from dsp.strings.magnetised import tune_set
from dsp.strings.note import Movement, Note
from dsp.strings.pluck import LEFT
from dsp.strings.tuned import TunedString
from dsp.takes.score import Event, Score

USUAL_SCALE_M = 0.648
USUAL_STRINGS = tuple(
    GuitarString(pitch_hz(note), gauge * 25.4e-6, wound, note)
    for note, gauge, wound in (
        ("E2", 46, True),
        ("A2", 36, True),
        ("D3", 26, True),
        ("G3", 17, False),
        ("B3", 13, False),
        ("E4", 10, False),
    )
)
"""The most frequent six strings and gauges (thousandths of an inch): common practice."""
PLUCK_SHARE = 0.188
"""Usual place of the pluck from the bridge, as a share of the scale: 122 mm, within reach of the published 60
to 100 mm (M. Zollner, Physik der Elektrogitarre, ch. 1.5). No low partial has a node there; at an exact fifth
every fifth partial would be missing."""
COURSE_S = 0.003
"""Time from one string of a course to the next."""
HUSH_S = 0.45
"""Hands are laid on all strings this long before the end of the take: the sound does not break off."""
HAMMER_M = 0.012
"""A finger that hammers on lands this far behind the fret."""
MOST_SEEDS = 1 << 31
SLUR_FORCE = 0.6
"""Of a slur, relative to a pluck written with the same force."""
LEAST_LENGTH = 0.02
"""Shortest share of the scale that a hand can pluck."""


def instrument_of(instrument: Instrument | None) -> tuple[Instrument, str]:
    """Return the instrument that plays a score, and any assumption about it.

    Parameters
    ----------
    instrument : Instrument or None
        That of the wiring.

    Returns
    -------
    Instrument
        With strings.
    str
        A note for the listener; empty if the wiring states all.
    """
    scale_m = instrument.scale_m if instrument else USUAL_SCALE_M
    if instrument and instrument.strings:
        return instrument, ""
    names = " ".join(string.note for string in USUAL_STRINGS)
    assumed = f"the wiring names no strings: {names} on {1e3 * scale_m:.0f} mm are assumed"
    return Instrument(scale_m, USUAL_STRINGS), assumed


def strings_of(score: Score, instrument: Instrument) -> list[TunedString]:
    """Tune an instrument as well as players do.

    Parameters
    ----------
    instrument : Instrument
        With strings.
    """
    found = []
    for index, string in enumerate(instrument.strings):
        cents = score.tuning_cents * np.random.default_rng([score.seed, index]).normal()
        off = replace(string, pitch_hz=string.pitch_hz * 2.0 ** (cents / 1200.0))
        found.append(off)
    return tune_set(found, instrument.scale_m)


def check_places(coils: Mapping[str, Coil], file: str, lines: Mapping[str, int]) -> None:
    """Refuse coils without a place.

    Raises
    ------
    InputError
        With every such coil and its line in the wiring file.
    """
    problems = [
        Problem(f"{file}:{lines.get(name, 1)}: {name}", "no at", "at: the coil's place from the bridge")
        for name, coil in coils.items()
        if coil.at_m is None and not coil.dummy
    ]
    if problems:
        raise InputError.of(problems)


def notes_of(score: Score, instrument: Instrument, file: str) -> tuple[Note, ...]:
    """Play a score on an instrument.

    Parameters
    ----------
    instrument : Instrument
        With strings.
    file : str
        Name of the score, for errors.

    Returns
    -------
    tuple of Note
        By string and time. The same score, instrument and seed give the same notes for any
        order of the events. A change to one event leaves the others alone.

    Raises
    ------
    InputError
        For every event that this instrument cannot play: no such string, a pluck beyond the fret.

    Examples
    --------
    >>> instrument, assumed = instrument_of(None)
    >>> score = Score(120.0, (Event(1.0, string=6, fret=3),), timing_s=0.0, dynamics_db=0.0)
    >>> for note in notes_of(score, instrument, "riff.yaml"):
    ...     print(f"string {note.string}, fret {note.fret}, at {note.start_s:.2f} s")
    string 0, fret 3, at 0.50 s
    """
    problems: list[Problem] = []
    found: dict[int, list[Note]] = defaultdict(list)
    for event in score.events:
        strings = strings_struck(score, event, len(instrument.strings))
        if not strings:
            allowed = f"1 to {_count(score, len(instrument.strings))} on this instrument, 1 is the highest"
            problems.append(Problem(f"{file}:{event.line}: string", f"{event.string}", allowed))
            continue
        problem = _unplayable(event, instrument, file)
        if problem:
            problems.append(problem)
            continue
        note = _note(score, event, instrument)
        for place, string in enumerate(strings):
            later_s = COURSE_S * place
            found[string].append(replace(note, string=string, start_s=note.start_s + later_s))
    if problems:
        raise InputError.of(problems)
    return tuple(
        note for string in sorted(found) for note in _knowing_the_next(found[string], instrument.scale_m)
    )


def _count(score: Score, n_strings: int) -> int:
    """Number of courses, or of strings, that a score counts on an instrument."""
    in_courses = score.courses is not None and n_strings % score.courses == 0
    return score.courses if in_courses and score.courses else n_strings


def strings_struck(score: Score, event: Event, n_strings: int) -> Sequence[int]:
    """Return the strings that an event strikes, 0 the lowest, in order."""
    count = _count(score, n_strings)
    if event.string > count:
        return ()
    each = n_strings // count
    course = range((count - event.string) * each, (count - event.string + 1) * each)
    return course[::-1] if event.up else course


def _unplayable(event: Event, instrument: Instrument, file: str) -> Problem | None:
    at_m, length_m = event.pluck_at_m, instrument.scale_m * 2.0 ** (-event.fret / 12.0)
    if at_m is None or at_m < length_m * (1.0 - LEAST_LENGTH):
        return None
    got = f"{1e3 * at_m:.0f} mm from the bridge at fret {event.fret}"
    allowed = f"less than the {1e3 * length_m:.0f} mm that sound"
    return Problem(f"{file}:{event.line}: pluck_at", got, allowed)


def _note(score: Score, event: Event, instrument: Instrument) -> Note:
    """Humanise an event and place it on the instrument."""
    chance = np.random.default_rng([score.seed, round(1e6 * event.beat), event.string])
    spreads = (score.timing_s, score.dynamics_db, score.place_m, radians(score.angle_deg))
    late_s, louder_db, away_m, turned = chance.normal(size=4) * spreads
    start_s = max(event.beat * score.beat_s + event.delay_s + late_s, 0.0)
    length_m = instrument.scale_m * 2.0 ** (-event.fret / 12.0)
    usual_m = min(PLUCK_SHARE * instrument.scale_m, 0.5 * length_m)
    hush_s = score.seconds - HUSH_S
    return Note(
        string=0,
        start_s=start_s,
        fret=event.fret,
        force=event.force * 10.0 ** (louder_db / 20.0),
        pluck_at_m=_place_m(usual_m if event.pluck_at_m is None else event.pluck_at_m, away_m, length_m),
        mute=event.mute,
        up=event.up,
        hand=LEFT if event.slur else event.hand,
        turned=turned,
        harmonic=event.harmonic,
        dead=event.dead,
        stop_s=None if event.length is None else start_s + event.length * score.beat_s,
        hush_s=hush_s if start_s < hush_s else None,
        movement=_movement(score, event),
        noises=int(chance.integers(MOST_SEEDS)) if score.noises else None,
    )


def _place_m(meant_m: float, away_m: float, length_m: float) -> float:
    """Return where a pluck lands, m from the bridge: on the sounding string."""
    return float(np.clip(meant_m + away_m, LEAST_LENGTH * length_m, (1.0 - LEAST_LENGTH) * length_m))


def _movement(score: Score, event: Event) -> Movement | None:
    if not (event.bend or event.slide or event.vibrato or event.bent):
        return None
    beat_s = score.beat_s
    given: dict[str, float] = {}
    if event.bend:
        given |= {"bend": event.bend.semitones, "bend_from_s": event.bend.after * beat_s}
        given |= {"bend_over_s": event.bend.over * beat_s}
    if event.slide:
        given |= {"slide_from_s": event.slide.after * beat_s, "slide_over_s": event.slide.over * beat_s}
    if event.vibrato:
        given |= {"vibrato": event.vibrato.semitones, "vibrato_hz": event.vibrato.rate_hz}
        given |= {"vibrato_from_s": event.vibrato.after * beat_s}
    bent = tuple((after * beat_s, semitones) for after, semitones in event.bent)
    return Movement(bent=bent, slide=int(event.slide.semitones) if event.slide else 0, **given)


def _knowing_the_next(notes: list[Note], scale_m: float) -> list[Note]:
    """Sort the notes of one string by time; the pluck of each damps the one before."""
    notes = sorted(notes, key=lambda note: (note.start_s, note.fret, note.force))
    found = []
    for before, note, after in zip([None, *notes[:-1]], notes, [*notes[1:], None], strict=True):
        if note.hand == LEFT and before is not None:
            note = _slurred(note, before, scale_m)
        found.append(
            replace(note, again_s=after.start_s, slurred=after.hand == LEFT) if after is not None else note
        )
    return found


def _slurred(note: Note, before: Note, scale_m: float) -> Note:
    """Place a slur: a finger hammers down behind its fret, or plucks as it leaves the higher one."""
    length_m, from_m = note.length_m(scale_m), before.length_m(scale_m)
    at_m = length_m - HAMMER_M if note.fret >= before.fret else from_m
    return replace(note, pluck_at_m=_place_m(at_m, 0.0, length_m), force=SLUR_FORCE * note.force)
