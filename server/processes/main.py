"""What every child process runs first: ``python -m server.processes.main WORK OPTIONS [ARGUMENT ...]``.

It takes its place behind the server, ties its life to it and accepts its limits, all before
it imports what it is for.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
from importlib import import_module

from server.processes.limits import Limits
from server.processes.parent import Parent


def main() -> None:
    """Do the work that the command line names, then end."""
    run, options, *arguments = sys.argv[1:]
    given = json.loads(options)
    lower_priority(given["niceness"])
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which ends this process
    if given["limits"] is not None:
        Limits(**given["limits"]).apply()
    parent = Parent()
    module, _, function = run.partition(":")
    getattr(import_module(module), function)(parent, *arguments)


def lower_priority(niceness: int) -> None:
    """Raise this process's niceness to a level, unless it is there already.

    Where the system knows no niceness, `Child.start` has set a priority class instead.
    """
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(max(niceness - os.nice(0), 0))


if __name__ == "__main__":
    main()
