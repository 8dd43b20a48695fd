"""Examine an uploaded recording in a limited child process, with a timeout.

Whatever a hostile file does to a decoder happens in the child. The system bounds its memory,
processor time and files; the server reads one frame of JSON.
"""

from __future__ import annotations

import contextlib
import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

from dsp.errors import InputError, Problem
from dsp.takes.model import PLAYED_KINDS
from server.files.audio_in import FORMATS
from server.files.cache import ENVIRONMENT
from server.processes.child import ONE_THREAD, Child, Work
from server.processes.limits import Limits
from server.processes.parent import Parent
from server.takes.compiling import compile_tracker
from server.takes.intake import MIDI_FORMAT, Examined, Upload
from server.takes.library import TAKE_FILE
from server.takes.load import demo_listener, load_take

WORK = Work(
    f"{__name__}:answer",
    niceness=0,  # somebody waits for the answer
    variables={**ONE_THREAD, ENVIRONMENT: ""},
    limits=Limits(memory_bytes=1 << 30, processor_s=300, file_bytes=0, open_files=64),
    silent=True,
)
LONGEST_S = 400.0
"""A single line of ten minutes, the longest that is tracked, takes 150 s of processor time."""
AT_ONCE = threading.BoundedSemaphore(2)
"""Examinations at a time; a third waits."""


def examine(upload: Upload, kind: str) -> Examined:
    """Have a child examine a recording or a MIDI file.

    Parameters
    ----------
    upload : Upload
        With its take file written.
    kind : str
        Of the take.

    Raises
    ------
    InputError
        If it is not a take, or its examination took more than a recording of 30 minutes needs.
    """
    if kind not in PLAYED_KINDS:
        compile_tracker()  # the child may not write what it compiles
    with AT_ONCE:
        found = _ask_child(upload.folder)
    if "problems" in found:
        problems = [Problem(*one) for one in found["problems"]]
        raise InputError.of(without_storage_names(one, f"{upload.sha256}: ") for one in problems)
    return Examined(found["seconds"], found["coil_places"], tuple(found["warnings"]), found["format"])


def _ask_child(folder: Path) -> dict[str, Any]:
    with contextlib.ExitStack() as stack:
        child = Child.start(replace(WORK, folder=folder), TAKE_FILE)
        stack.callback(child.end)
        child.allow(LONGEST_S)
        answer = next(child.frames(), None)
    if answer is None:
        got = "a file whose decoding took too much time or memory, or broke off"
        raise InputError("the recording", got, f"a plain recording: {FORMATS}")
    found: dict[str, Any] = json.loads(answer)
    return found


def answer(parent: Parent, take_file: str) -> None:
    """Send what a take is, or its problems: what the child does."""
    try:
        found = _examine_here(Path(take_file))
    except InputError as error:
        found = {"problems": [[one.where, one.got, one.allowed, one.hint] for one in error.problems]}
    except MemoryError:
        found = {"problems": [["the recording", "more than memory holds", "a plain sound file", ""]]}
    parent.send(json.dumps(found).encode())


def _examine_here(take_file: Path) -> dict[str, Any]:
    performance = load_take(take_file)
    recording = getattr(performance, "recording", None)
    sound_format = MIDI_FORMAT if performance.take.kind == "midi" else getattr(recording, "format", "")
    return {
        "seconds": round(performance.seconds, 3),
        "coil_places": performance.coil_places(demo_listener()),
        "warnings": [*performance.warnings, *performance.verdict(demo_listener())],
        "format": sound_format,
    }


def without_storage_names(problem: Problem, stored_as: str) -> Problem:
    """The problem without the names under which the recording is stored."""
    where = problem.where.partition(f"{TAKE_FILE}:")[2].partition(": ")[2] or "the recording"
    if f"{problem.where}: ".startswith(stored_as):  # a MIDI file names the place in it
        where = f"the file{problem.where[len(stored_as) - 2 :]}"
    return Problem(where, problem.got.replace(stored_as, ""), problem.allowed, problem.hint)
