"""A sound file from outside is decoded by a limited child, which answers in JSON or tells what is wrong."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from dsp.errors import InputError, Problem
from server.files.audio_in import FORMATS
from server.files.scratch import scratch_folder
from server.files.whole import write_bytes
from server.processes.child import ONE_THREAD, Child, Work
from server.processes.limits import Limits
from server.processes.parent import Parent

NAME = "the recording"
"""What problems call the file."""
LONGEST_S = 90.0


def reading_work(entry: str) -> Work:
    """Return the work of a child that reads a sound file while somebody waits.

    Parameters
    ----------
    entry : str
        Module and function, which calls `answer_parent`.
    """
    limits = Limits(memory_bytes=2 << 30, processor_s=60, file_bytes=0, open_files=64)
    return Work(entry, niceness=0, variables=ONE_THREAD, limits=limits, silent=True)


def ask_child(work: Work, content: bytes, folder: Path, word: str | None = None) -> tuple[Any, bytes]:
    """Have a child read a sound file.

    Parameters
    ----------
    folder : Path
        Where the file lies meanwhile.
    word : str or None
        What the child's function takes beside its parent.

    Returns
    -------
    found : object
        As JSON gives it.
    sound : bytes
        What came along.

    Raises
    ------
    InputError
        If the child told problems, or broke off.
    """
    with scratch_folder(folder) as scratch, contextlib.ExitStack() as stack:
        write_bytes(scratch / NAME, content)
        child = Child.start(replace(work, folder=scratch), *(() if word is None else (word,)))
        stack.callback(child.end)
        child.allow(LONGEST_S)
        frames = child.frames()
        said, sound = next(frames, None), next(frames, b"")
    if said is None:
        got = "a file whose decoding took too much time or memory, or broke off"
        raise InputError(NAME, got, f"a plain recording: {FORMATS}")
    found = json.loads(said)
    if "problems" in found:
        raise InputError.of(Problem(*one) for one in found["problems"])
    return found, sound


def answer_parent(parent: Parent, read: Callable[[Path], tuple[dict[str, Any], bytes]]) -> None:
    """Send what a file holds, or its problems: what the child does."""
    found: dict[str, Any]
    try:
        found, sound = read(Path(NAME))
    except InputError as error:
        found = {"problems": [[one.where, one.got, one.allowed, one.hint] for one in error.problems]}
        sound = b""
    except MemoryError:
        problem = [NAME, "more than memory holds", "a plain sound file of a minute", ""]
        found, sound = {"problems": [problem]}, b""
    parent.send(json.dumps(found).encode())
    parent.send(sound)
