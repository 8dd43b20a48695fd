"""Look at an uploaded MIDI file on an instrument before it is kept, in a limited child process.

The child reads the file and searches the fingering; the server reads one frame of JSON.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from dsp.errors import InputError, Problem
from dsp.takes.midi.arrange import Midi, seconds_of
from dsp.takes.midi.looking import Look, look_at
from dsp.takes.player import instrument_of
from server.processes.child import Child
from server.processes.parent import Parent
from server.takes import examine
from server.takes.intake import Upload
from server.takes.midi import read_picked, require_playable
from server.wirings.text import load_wiring

WORK = replace(examine.WORK, run=f"{__name__}:answer")
LONGEST_S = 60.0
"""Of one look. The largest file that a take may be is laid on the strings in a few seconds."""
MIDI_FILE, INSTRUMENT_FILE = "song.mid", "instrument.yaml"


def look(upload: Upload, wiring_text: str, tracks: Sequence[int]) -> dict[str, Any]:
    """Return what a MIDI file holds and how an instrument plays it.

    Parameters
    ----------
    upload : Upload
        The whole file.
    wiring_text : str
        The wiring on whose instrument it is to be played.
    tracks : sequence of int
        Those that are played; empty for all.

    Raises
    ------
    InputError
        If it is no MIDI file or a damaged one, or looking took too long.
    """
    upload.hand_over(MIDI_FILE, {INSTRUMENT_FILE: wiring_text})
    with contextlib.ExitStack() as stack:
        stack.enter_context(examine.AT_ONCE)
        child = Child.start(replace(WORK, folder=upload.folder), json.dumps(list(tracks)))
        stack.callback(child.end)
        child.allow(LONGEST_S)
        found = next(child.frames(), None)
    if found is None:
        raise InputError(
            "the MIDI file", f"one that is not laid on the strings in {LONGEST_S:.0f} s", "a shorter one"
        )
    answered: dict[str, Any] = json.loads(found)
    if "refused" in answered:
        raise InputError.of(Problem(**one) for one in answered["refused"])
    return answered


def answer(parent: Parent, tracks: str) -> None:
    """Send what a file holds, or its problems: what the child does."""
    midi = Midi(tracks=tuple(json.loads(tracks)), leave_out=True)
    try:
        found = _look_here(midi)
    except InputError as error:
        found = {"refused": [asdict(_plain(one)) for one in error.problems]}
    except MemoryError:
        found = {"refused": [asdict(Problem("the MIDI file", "more than memory holds", "a shorter one"))]}
    parent.send(json.dumps(found).encode())


def _look_here(midi: Midi) -> dict[str, Any]:
    instrument, assumed = instrument_of(load_wiring(Path(INSTRUMENT_FILE)).instrument)
    picked = read_picked(Path(MIDI_FILE), midi)
    problems: tuple[Problem, ...] = ()
    seen = Look("hand", (), (), ())
    try:
        require_playable(picked, midi, MIDI_FILE)
        seen = look_at(picked.notes, picked.timing, midi, instrument, MIDI_FILE)
    except InputError as error:
        problems = error.problems
    if not problems and not any(seen.on):
        problems = (Problem("the file", "nothing that this instrument can play", "notes within its strings"),)
    return {
        "parts": [asdict(part) for part in picked.parts],
        "notes": len(picked.notes),
        "seconds": round(seconds_of(picked.notes, midi), 3),
        "strings": seen.strings,
        "on": seen.on,
        "left_out": [asdict(_plain(one)) for one in seen.left_out],
        "remarks": [*([assumed] if assumed else []), *picked.remarks, *seen.remarks],
        "problems": [asdict(_plain(one)) for one in problems],
    }


def _plain(problem: Problem) -> Problem:
    """Return a problem without the name under which the file is stored."""
    where = problem.where.removeprefix(MIDI_FILE)
    return replace(problem, where=where.removeprefix(": ") or "the file")
