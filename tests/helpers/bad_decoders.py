"""Stand-ins for a decoder misled by a hostile file; each runs in the child in place of `answer`.

The last two stand in for `examine_take`.
"""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import Any

from server.processes.parent import Parent
from server.takes.folder_takes import examine_take

CONTENT = {"seconds": 1.0, "coil_places": "", "warnings": [], "format": "WAV"}


def _good(parent: Parent) -> None:
    parent.send(json.dumps(CONTENT).encode())


def modest(parent: Parent, take_file: str) -> None:
    """Stay within the limits."""
    held = bytearray(1 << 20)
    with Path(take_file).open() as file:
        held += file.read().encode()
    _good(parent)


def take_memory(parent: Parent, take_file: str) -> None:
    """Hold 2 GiB."""
    held = bytearray(2 << 30)
    _good(parent)
    del held


def write_a_file(parent: Parent, take_file: str) -> None:
    """Write beside the take."""
    Path("made").write_text("x", encoding="utf-8")
    _good(parent)


def open_many_files(parent: Parent, take_file: str) -> None:
    """Hold a hundred files open."""
    held = [Path(take_file).open() for _ in range(100)]  # noqa: SIM115 - they must stay open
    _good(parent)
    del held


def sleep(parent: Parent, take_file: str) -> None:
    """Wait for ever without computing."""
    time.sleep(3600.0)
    _good(parent)


def compute(parent: Parent, take_file: str) -> None:
    """Compute for ever."""
    while True:
        pass


def sleep_at_hanging_takes(path: Path) -> Any:
    """Wait for ever at a take named so."""
    if path.stem == "hangs":
        time.sleep(3600.0)
    return examine_take(path)


def die_at_hanging_takes(path: Path) -> Any:
    """End the process at a take named so."""
    if path.stem == "hangs":
        os._exit(1)
    return examine_take(path)
