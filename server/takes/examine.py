"""Having a recording examined by a process of its own, and not waiting for it forever."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from dsp.errors import InputError, Problem
from server.files.audio_in import FORMATS
from server.paths import PACKAGES
from server.takes.intake import Coming, Examined
from server.takes.library import TAKE_FILE

START = "import sys; from server.takes.examine_process import main; main(sys.argv[1])"
LONGEST_S = 150.0
AT_ONCE = threading.BoundedSemaphore(2)
"""Examinations at a time; a third waits."""


def examine(came: Coming) -> Examined:
    """What a recording is, found by a process with limits.

    Parameters
    ----------
    came : Coming
        With its take file written.

    Raises
    ------
    InputError
        If it is no take, or its examination took more than a recording of 30 minutes needs.
    """
    with AT_ONCE:
        answer = _answer(came.folder)
    if "problems" in answer:
        names = (f"{came.sha256}: ", TAKE_FILE)
        raise InputError.of(_told(Problem(*one), *names) for one in answer["problems"])
    return Examined(answer["seconds"], answer["coil_places"], tuple(answer["warnings"]), answer["format"])


def _answer(folder: Path) -> dict[str, Any]:
    environment = {
        **os.environ,
        "PYTHONPATH": str(PACKAGES),
        "OPENBLAS_NUM_THREADS": "1",
        "PRESOLDER_CACHE": "",
    }
    command = [sys.executable, "-P", "-c", START, TAKE_FILE]
    try:
        done = subprocess.run(
            command, cwd=folder, env=environment, capture_output=True, timeout=LONGEST_S, check=False
        )
        found: dict[str, Any] = json.loads(done.stdout)
        if not found.keys() & {"problems", "seconds"}:
            raise ValueError("an answer that was cut off")
    except (subprocess.TimeoutExpired, ValueError) as error:
        got = "a file whose decoding took too much time or memory, or broke off"
        raise InputError("the recording", got, f"a plain recording: {FORMATS}") from error
    return found


def _told(problem: Problem, stored_as: str, take_file: str) -> Problem:
    """A problem without the names under which we store."""
    where = problem.where.partition(f"{take_file}:")[2].partition(": ")[2] or "the recording"
    return Problem(where, problem.got.replace(stored_as, ""), problem.allowed, problem.hint)
