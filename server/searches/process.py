"""A process of its own that searches: one task in, what is found told line by line.

It gives way to everything else on the machine, so that the live page is never kept waiting, and
ends with the server: its standard input is held open by the server and by nobody else.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import threading
from collections.abc import Callable, Mapping
from typing import Any

from dsp.errors import InputError

Tell = Callable[..., None]
"""Told what is new, by name: it replaces what was told under that name before."""
NICE = 10
LARGE = ("map", "drawing", "sheet", "wiring")
"""What is fetched by itself and not told with every piece of news: a line of its own, its name first, which
the server passes on unread."""
KINDS: Mapping[str, str] = {
    "range": "server.searches.sounds",
    "chart": "server.searches.lugs",
    "travel": "server.searches.knobs",
}
"""Per kind of task, the module whose ``run`` does it; imported when it is called for."""


def main() -> None:
    """Do the task that standard input names, then end."""
    with contextlib.suppress(OSError):
        os.nice(NICE)
    task = json.loads(sys.stdin.readline())
    threading.Thread(target=_end_with_the_server, daemon=True).start()
    run_task(task, _tell)


def run_task(task: Mapping[str, Any], tell: Tell) -> None:
    """One task, its problems told like everything else.

    Parameters
    ----------
    task : mapping
        ``kind``, ``text`` of a wiring, and ``options``.
    tell : callable
    """
    from importlib import import_module

    try:
        import_module(KINDS[task["kind"]]).run(task["text"], task["options"], tell)
    except InputError as error:
        tell(problems=[[one.where, one.got, one.allowed, one.hint] for one in error.problems])
    except MemoryError:
        tell(problems=[["the search", "more than memory holds", "fewer coils", ""]])
    tell(end=True)


def _tell(**news: Any) -> None:
    large = {key: news.pop(key) for key in LARGE if key in news}
    try:
        for key, value in large.items():
            sys.stdout.write(f"{key} {_line(value)}")
        sys.stdout.write(_line(news))
        sys.stdout.flush()
    except BrokenPipeError:
        os._exit(1)


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n"


def _end_with_the_server() -> None:
    """Nothing more is ever written to us: an end of the input is the server's end."""
    sys.stdin.read()
    os._exit(1)
