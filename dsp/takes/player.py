"""A player: a score and an instrument make notes on strings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from dsp.errors import InputError, Problem
from dsp.parts.coil import Coil
from dsp.parts.instrument import GuitarString, Instrument, pitch_hz
from dsp.strings.note import Movement, Note
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
"""Six strings and gauges (thousandths of an inch) met most often: common practice."""
PLUCK_SHARE = 0.2
"""Usual place of the pluck, as a share of the scale from the bridge."""
COURSE_S = 0.003
"""Time from one string of a course to the next."""
HUSH_S = 0.15
"""Before the take ends a hand is laid on whatever still rings, so that the sound does not break off."""
LEAST_LENGTH = 0.02
"""Shortest share of the scale that can be plucked between hand and bridge."""


def instrument_of(instrument: Instrument | None) -> tuple[Instrument, str]:
    """The instrument a score is played on, and what had to be assumed.

    Parameters
    ----------
    instrument : Instrument or None
        Of the wiring.

    Returns
    -------
    Instrument
        With strings.
    str
        A note for the listener; empty where the wiring says all.
    """
    scale_m = instrument.scale_m if instrument else USUAL_SCALE_M
    if instrument and instrument.strings:
        return instrument, ""
    names = " ".join(string.note for string in USUAL_STRINGS)
    assumed = f"the wiring names no strings: {names} on {1e3 * scale_m:.0f} mm are assumed"
    return Instrument(scale_m, USUAL_STRINGS), assumed


def check_places(coils: Mapping[str, Coil], file: str, lines: Mapping[str, int]) -> None:
    """Refuse coils that stand nowhere.

    Raises
    ------
    InputError
        Naming every coil without a place, by its line in the wiring file.
    """
    problems = [
        Problem(f"{file}:{lines.get(name, 1)}: {name}", "no at", "at: the coil's place from the bridge")
        for name, coil in coils.items()
        if coil.at_m is None
    ]
    if problems:
        raise InputError.of(problems)


def notes_of(score: Score, instrument: Instrument, file: str) -> tuple[Note, ...]:
    """The notes that a player makes of a score on an instrument.

    Parameters
    ----------
    score : Score
    instrument : Instrument
        With strings.
    file : str
        Of the score, for errors.

    Returns
    -------
    tuple of Note
        By string and time. The same score, instrument and seed give the same notes, in
        whatever order the events are written, and a change to one leaves the others alone.

    Raises
    ------
    InputError
        For every event that this instrument does not have: a string, a pluck beyond the fret.
    """
    problems: list[Problem] = []
    found: dict[int, list[Note]] = defaultdict(list)
    for event in score.events:
        strings = _strings(score, event, len(instrument.strings))
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
    return tuple(note for string in sorted(found) for note in _knowing_the_next(found[string]))


def _count(score: Score, n_strings: int) -> int:
    """How many numbers a score has on an instrument: its courses, or its strings."""
    in_courses = score.courses is not None and n_strings % score.courses == 0
    return score.courses if in_courses and score.courses else n_strings


def _strings(score: Score, event: Event, n_strings: int) -> Sequence[int]:
    """Indices, lowest first, of the strings an event strikes, in the order it strikes them."""
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
    """An event as this player plays it this time."""
    chance = np.random.default_rng([score.seed, round(1e6 * event.beat), event.string])
    late_s, louder_db = chance.normal(size=2) * (score.timing_s, score.dynamics_db)
    start_s = max(event.beat * score.beat_s + event.delay_s + late_s, 0.0)
    length_m = instrument.scale_m * 2.0 ** (-event.fret / 12.0)
    usual_m = min(PLUCK_SHARE * instrument.scale_m, 0.5 * length_m)
    return Note(
        string=0,
        start_s=start_s,
        fret=event.fret,
        force=event.force * 10.0 ** (louder_db / 20.0),
        pluck_at_m=usual_m if event.pluck_at_m is None else event.pluck_at_m,
        mute=event.mute,
        up=event.up,
        hand=event.hand,
        harmonic=event.harmonic,
        stop_s=_stop_s(score, event, start_s),
        movement=_movement(score, event),
    )


def _stop_s(score: Score, event: Event, start_s: float) -> float | None:
    """When a hand stops a note: where the score says, and before the take ends."""
    own_s = None if event.length is None else start_s + event.length * score.beat_s
    hush_s = score.seconds - HUSH_S
    if start_s >= hush_s:
        return own_s
    return hush_s if own_s is None else min(own_s, hush_s)


def _movement(score: Score, event: Event) -> Movement | None:
    if not (event.bend or event.slide or event.vibrato):
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
    return Movement(slide=int(event.slide.semitones) if event.slide else 0, **given)


def _knowing_the_next(notes: list[Note]) -> list[Note]:
    """Notes of one string in time, each damped by the pluck of the next."""
    notes = sorted(notes, key=lambda note: (note.start_s, note.fret, note.force))
    following = [note.start_s for note in notes[1:]] + [None]
    return [replace(note, again_s=next_s) for note, next_s in zip(notes, following, strict=True)]
