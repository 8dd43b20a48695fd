"""Measure an uploaded recording in a limited child process, with a timeout.

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

import numpy as np

from dsp.errors import InputError, Problem
from dsp.measuring.transfer import Transfer
from server.files.audio_in import FORMATS
from server.files.scratch import scratch_folder
from server.files.whole import write_bytes
from server.measurements.coil import read_transfer
from server.processes.child import ONE_THREAD, Child, Work
from server.processes.limits import Limits
from server.processes.parent import Parent

WORK = Work(
    f"{__name__}:answer",
    niceness=0,  # somebody waits for the answer
    variables=ONE_THREAD,
    limits=Limits(memory_bytes=2 << 30, processor_s=60, file_bytes=0, open_files=64),
    silent=True,
)
LONGEST_S = 90.0
AT_ONCE = threading.BoundedSemaphore(2)
"""Recordings measured at a time; a third waits."""
NAME = "the recording"
"""What problems call the file."""


def measure_recording(content: bytes, folder: Path, *, shorted: bool) -> Transfer:
    """Have a child measure the two channels of a sound file.

    Parameters
    ----------
    folder : Path
        Where the file lies meanwhile.
    shorted : bool
        Whether channel 2 may be silent.

    Raises
    ------
    InputError
        If it is no recording of the rig; see `measure_transfer`.
    """
    with AT_ONCE, scratch_folder(folder) as scratch, contextlib.ExitStack() as stack:
        write_bytes(scratch / NAME, content)
        child = Child.start(replace(WORK, folder=scratch), "shorted" if shorted else "")
        stack.callback(child.end)
        child.allow(LONGEST_S)
        answer = next(child.frames(), None)
    if answer is None:
        got = "a file whose decoding took too much time or memory, or broke off"
        raise InputError(NAME, got, f"a plain recording: {FORMATS}")
    found: dict[str, Any] = json.loads(answer)
    if "problems" in found:
        raise InputError.of(Problem(*one) for one in found["problems"])
    return transfer_of(found)


def answer(parent: Parent, shorted: str) -> None:
    """Send the transfer of a recording, or its problems: what the child does."""
    found: dict[str, Any]
    try:
        found = transfer_json(read_transfer(Path(NAME), shorted=bool(shorted)))
    except InputError as error:
        found = {"problems": [[one.where, one.got, one.allowed, one.hint] for one in error.problems]}
    except MemoryError:
        found = {"problems": [[NAME, "more than memory holds", "a plain sound file of a minute", ""]]}
    parent.send(json.dumps(found).encode())


def transfer_json(transfer: Transfer) -> dict[str, Any]:
    """Return a transfer as JSON keeps it."""
    hum = transfer.hum_dbfs
    return {
        "signal": transfer.signal,
        "frequencies_hz": transfer.frequencies_hz.tolist(),
        "real": transfer.ratio.real.tolist(),
        "imag": transfer.ratio.imag.tolist(),
        "sd": transfer.sd.tolist(),
        "level_dbfs": transfer.level_dbfs,
        "hum_dbfs": hum if np.isfinite(hum) else None,
    }


def transfer_of(kept: dict[str, Any], where: str = NAME) -> Transfer:
    """Return the transfer that JSON has kept.

    Parameters
    ----------
    where : str
        What errors call the recording.
    """
    hum = kept["hum_dbfs"]
    return Transfer(
        where,
        kept["signal"],
        np.array(kept["frequencies_hz"]),
        np.array(kept["real"]) + 1j * np.array(kept["imag"]),
        np.array(kept["sd"]),
        kept["level_dbfs"],
        float("nan") if hum is None else hum,
    )
