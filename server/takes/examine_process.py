"""A process of its own that decodes a recording somebody sent, within limits.

Whatever a hostile file does to a decoder happens here: memory, processor time and files are
bounded by the system, and the server only reads one line of JSON.
"""

from __future__ import annotations

import contextlib
import json
import sys
from pathlib import Path

MEMORY_BYTES = 1 << 30
PROCESSOR_S = 120


def main(take_file: str) -> None:
    """Print what a take is, or its problems, as JSON.

    Parameters
    ----------
    take_file : str
    """
    _limit()
    from dsp.errors import InputError

    try:
        found = _examined(Path(take_file))
    except InputError as error:
        found = {"problems": [[one.where, one.got, one.allowed, one.hint] for one in error.problems]}
    except MemoryError:
        found = {"problems": [["the recording", "more than memory holds", "a plain sound file", ""]]}
    sys.stdout.write(json.dumps(found))


def _limit() -> None:
    """Bound this process, where the system can."""
    with contextlib.suppress(ImportError):
        import resource

        for limit, value in (
            (resource.RLIMIT_AS, MEMORY_BYTES),
            (resource.RLIMIT_CPU, PROCESSOR_S),
            (resource.RLIMIT_FSIZE, 0),
            (resource.RLIMIT_CORE, 0),
            (resource.RLIMIT_NOFILE, 64),
        ):
            resource.setrlimit(limit, (value, value))


def _examined(take_file: Path) -> dict[str, object]:
    from server.takes.library import listening
    from server.takes.load import load_take

    performance = load_take(take_file)
    recording = getattr(performance, "recording", None)
    return {
        "seconds": round(performance.seconds, 3),
        "coil_places": performance.coil_places(listening()),
        "warnings": list(performance.warnings),
        "format": getattr(recording, "format", ""),
    }
