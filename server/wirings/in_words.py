"""A new instrument in words: what may be said, and what is made of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dsp.drawing.networks import network_of_text
from dsp.errors import InputError, Problem
from dsp.parts.library.string_sets import STRING_SETS
from dsp.wiring.in_words.file_text import wiring_text
from dsp.wiring.in_words.questions import PLACES, QUESTIONS, VALUES
from dsp.wiring.in_words.sounds import WordedSound, find_sounds, sounds_of, usual_sounds
from dsp.wiring.in_words.words import COMMON_LAYOUTS, InstrumentWords
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.switches import load_switch, switch_rows

NAME = "the new instrument"


def choices_json() -> dict[str, Any]:
    """Return questions with their answers, common layouts, switches."""
    return {
        "questions": [
            {
                "name": one.name,
                "title": one.title,
                "usual": one.usual,
                "answers": [{"name": name, "title": title} for name, title in one.answers.items()],
            }
            for one in QUESTIONS.values()
        ],
        "places": list(PLACES),
        "layouts": [
            {
                "name": one.name,
                "title": one.title,
                "about": one.about,
                "answers": dict(one.words.answers),
                "switch": one.words.switch,
                "second": one.words.second,
                "sounds": None if one.words.sounds is None else list(one.words.sounds),
            }
            for one in COMMON_LAYOUTS.values()
        ],
        "scales": {one.name: one.scale for one in STRING_SETS.values()},
        "switches": switch_rows(),
    }


def stands_of(words: InstrumentWords) -> tuple[str, ...]:
    """Return the positions, ``1`` or ``1, down``; one for no switch."""
    if not words.switch:
        return ("1",)
    first = load_switch(words.switch).positions
    if not words.second:
        return first
    return tuple(f"{one}, {other}" for one in first for other in load_switch(words.second).positions)


def counts_of(words: InstrumentWords) -> tuple[int, int]:
    """Return the positions of the first switch and of the second; 1 for none."""
    first = len(load_switch(words.switch).positions) if words.switch else 1
    return first, len(load_switch(words.second).positions) if words.second else 1


def make_text(words: InstrumentWords) -> tuple[str, tuple[WordedSound, ...]]:
    """Return the wiring file of an instrument in words, and its sounds.

    Raises
    ------
    InputError
        If there are more sounds than positions, or a sound is unknown; it names what has enough
        positions.
    """
    sounds = sounds_of(words, *counts_of(words))
    have = len(stands_of(words))
    if len(sounds) > have:
        enough = [row for row in switch_rows() if row["positions"] >= len(sounds)]
        enough.sort(key=lambda row: (row["positions"], row["poles"]))
        several = "; or one of these switches: " if enough else ""
        names = ", ".join(row["name"] for row in enough[:4])
        got = f"{len(sounds)} sounds for {have} position{'s' if have > 1 else ''}"
        raise InputError("sounds", got, f"{have} at most{several}{names}")
    text = wiring_text(words, sounds)
    read_text(text)
    return text, sounds


def read_text(text: str) -> Wiring:
    """Return the wiring of a text that was written from words."""
    return read_wiring(parse_tree(text, NAME), NAME)


def made_json(words: InstrumentWords) -> dict[str, Any]:
    """Return what is made of an instrument in words, as the page shows it.

    ``text`` is None where the sounds wished for do not fit; ``problems`` then says why.
    """
    first, ups = counts_of(words)
    usual = usual_sounds(words, first, ups)
    problems: tuple[Problem, ...] = ()
    chosen = usual if words.sounds is None else words.sounds
    text: str | None = None
    try:
        text, found = make_text(words)
        chosen = tuple(sound.words for sound in found)
    except InputError as error:
        problems = error.problems
    known = find_sounds(words)
    wiring = read_text(wiring_text(words, known[:1]))  # pictures need the kinds of the parts alone
    pot, capacitor = VALUES[words.answer("values"), words.paired]
    return {
        "text": text,
        "sounds": [
            {
                "words": sound.words,
                "expression": sound.expression,
                "network": network_of_text(wiring, sound.expression),
                "usual": sound.words in usual,
            }
            for sound in known
        ],
        "chosen": list(chosen),
        "stands": list(stands_of(words)),
        "apart": words.apart,
        "values": f"{pot}, {capacitor}",
        "problems": [_problem(one) for one in problems],
    }


def words_from(record: Mapping[str, Any]) -> InstrumentWords:
    """Return an instrument in words from plain values.

    Raises
    ------
    InputError
        With every answer that there is not.
    """
    sounds = record.get("sounds")
    return InstrumentWords(
        dict(record.get("answers") or {}),
        scale=record.get("scale") or "",
        switch=record.get("switch") or "",
        second=record.get("second") or "",
        sounds=None if sounds is None else tuple(sounds),
        name=record.get("name") or "",
    )


def _problem(problem: Problem) -> dict[str, str]:
    return {"where": problem.where, "got": problem.got, "allowed": problem.allowed, "hint": problem.hint}
