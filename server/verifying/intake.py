"""Read an uploaded recording in a limited child process, with a timeout.

Whatever a hostile file does to a decoder happens in the child; the server reads two frames.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import numpy as np

from dsp.sound.loudness import integrated_lufs
from dsp.verifying.strums import RATE_HZ
from server.files.audio_out import flac_bytes
from server.processes.outside_file import NAME, answer_parent, ask_child, reading_work
from server.processes.parent import Parent
from server.verifying.recordings import read_recording
from server.verifying.store import Taken

WORK = reading_work(f"{__name__}:answer")
AT_ONCE = threading.BoundedSemaphore(2)
"""Recordings read at a time; a third waits."""
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
    with AT_ONCE:
        found, sound = ask_child(WORK, content, folder)
    return Taken(**found, sound=sound)


def answer(parent: Parent) -> None:
    """Send what a recording holds and its sound: what the child does."""
    answer_parent(parent, _read)


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
