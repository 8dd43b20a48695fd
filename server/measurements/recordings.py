"""Measure an uploaded recording in a limited child process, with a timeout.

Whatever a hostile file does to a decoder happens in the child. The system bounds its memory,
processor time and files; the server reads one frame of JSON.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import numpy as np

from dsp.measuring.transfer import Transfer
from server.measurements.coil import read_transfer
from server.processes.outside_file import NAME, answer_parent, ask_child, reading_work
from server.processes.parent import Parent

WORK = reading_work(f"{__name__}:answer")
AT_ONCE = threading.BoundedSemaphore(2)
"""Recordings measured at a time; a third waits."""


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
    with AT_ONCE:
        found, _ = ask_child(WORK, content, folder, "shorted" if shorted else "")
    return transfer_of(found)


def answer(parent: Parent, shorted: str) -> None:
    """Send the transfer of a recording, or its problems: what the child does."""
    answer_parent(parent, lambda path: (transfer_json(read_transfer(path, shorted=bool(shorted))), b""))


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
