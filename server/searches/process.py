"""The process that searches: it reads one task and reports results by name."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

from dsp.errors import InputError
from server.processes.parent import Parent
from server.processes.reports import Report, read_task, reporter

LARGE = ("map", "drawing", "sheet", "wiring")
"""Results that the page fetches by themselves; the server passes them on unread."""
KINDS: Mapping[str, str] = {
    "range": "server.searches.sounds",
    "chart": "server.searches.lugs",
    "travel": "server.searches.knobs",
    "goal": "server.searches.goals",
    "faults": "server.searches.faults",
    "spread": "server.searches.spread",
}
"""Per kind of task, the module whose ``run`` does it; imported when it is needed."""


def main(parent: Parent) -> None:
    """Do one task, then end."""
    run_task(read_task(parent), reporter(parent, LARGE))


def run_task(task: Mapping[str, Any], report: Report) -> None:
    """Do a task and report its problems like its results.

    Parameters
    ----------
    task : mapping
        ``kind``, ``text`` of a wiring, and ``options``.
    """
    try:
        import_module(KINDS[task["kind"]]).run(task["text"], task["options"], report)
    except InputError as error:
        report(problems=[[one.where, one.got, one.allowed, one.hint] for one in error.problems])
    except MemoryError:
        report(problems=[["the search", "more than memory holds", "fewer coils", ""]])
    report(end=True)
