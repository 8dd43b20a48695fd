"""Read an uploaded recording in a limited child process, with a timeout.

Whatever a hostile file does to a decoder happens in the child; the server reads two frames.
"""

from __future__ import annotations

import contextlib
import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from dsp.errors import InputError, Problem
from dsp.sound.loudness import integrated_lufs
from dsp.verifying.strums import RATE_HZ
from server.files.audio_in import FORMATS
from server.files.audio_out import flac_bytes
from server.files.scratch import scratch_folder
from server.files.whole import write_bytes
from server.processes.child import ONE_THREAD, Child, Work
from server.processes.limits import Limits
from server.processes.parent import Parent
from server.verifying.recordings import read_recording
from server.verifying.store import Taken

WORK = Work(
    f"{__name__}:answer",
    niceness=0,  # somebody waits for the answer
    variables=ONE_THREAD,
    limits=Limits(memory_bytes=2 << 30, processor_s=60, file_bytes=0, open_files=64),
    silent=True,
)
LONGEST_S = 90.0
AT_ONCE = threading.BoundedSemaphore(2)
NAME = "the recording"
"""What problems call the file."""
KEPT_PEAK = 0.9


def take_recording(content: bytes, folder: Path) -> Taken:
    """Have a child read a sound file.

    Parameters
    ----------
    folder : Path
        Where the file lies meanwhile.

    Raises
    ------
    InputError
        As `read_recording`.
    """
    with AT_ONCE, scratch_folder(folder) as scratch, contextlib.ExitStack() as stack:
        write_bytes(scratch / NAME, content)
        child = Child.start(replace(WORK, folder=scratch))
        stack.callback(child.end)
        child.allow(LONGEST_S)
        frames = child.frames()
        said, sound = next(frames, None), next(frames, b"")
    if said is None:
        got = "a file whose decoding took too much time or memory, or broke off"
        raise InputError(NAME, got, f"a plain recording: {FORMATS}")
    found: dict[str, Any] = json.loads(said)
    if "problems" in found:
        raise InputError.of(Problem(*one) for one in found["problems"])
    return Taken(**found, sound=sound)


def answer(parent: Parent) -> None:
    """Send what a recording holds and its sound: what the child does."""
    try:
        found, sound = _read(Path(NAME))
    except InputError as error:
        found = {"problems": [[one.where, one.got, one.allowed, one.hint] for one in error.problems]}
        sound = b""
    except MemoryError:
        found, sound = {"problems": [[NAME, "more than memory holds", "a plain sound file", ""]]}, b""
    parent.send(json.dumps(found).encode())
    parent.send(sound)


def _read(path: Path) -> tuple[dict[str, Any], bytes]:
    heard = read_recording(path, NAME)
    peak = float(np.abs(heard.samples).max())
    kept = heard.samples * (KEPT_PEAK / peak)
    lufs = integrated_lufs(kept, RATE_HZ)
    found = {
        "seconds": len(kept) / RATE_HZ,
        "strums": len(heard.starts),
        "peak": peak,
        "loudness_lufs": lufs if np.isfinite(lufs) else None,
    }
    return found, flac_bytes(np.round(kept[:, None] * 32767.0).astype(np.int16), RATE_HZ)
