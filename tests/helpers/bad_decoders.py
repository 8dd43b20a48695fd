"""Stand-ins for a decoder misled by a hostile file; each runs in the child in place of `answer`."""

from __future__ import annotations

import json
import time
from pathlib import Path

from server.processes.parent import Parent

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
