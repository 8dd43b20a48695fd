"""Scores played in a process of their own, so that what is heard meanwhile goes on undisturbed.

The process writes into the cache; whoever asked reads it there. If it cannot be started, or dies,
the score is played where it was asked for.
"""

from __future__ import annotations

import contextlib

from dsp.errors import InputError
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.files.cache import cache_folder
from server.processes.helper import Helper
from server.processes.threads import use_one_thread
from server.refusals import Unavailable


class PlayingProcess:
    """One process that plays scores, one after the other."""

    def __init__(self) -> None:
        self._helper = Helper("playing")

    def prepare(self, performance: Performance, wiring: Wiring, rate_hz: int) -> None:
        """Have a score played into the cache, or nothing if that is no use.

        Raises
        ------
        Unavailable
            If the server stops meanwhile.
        """
        if not performance.take.played or cache_folder() is None:
            return
        try:
            self._helper.call(_prepare, performance, wiring, rate_hz)
        except Unavailable:
            if self._helper.closed:
                raise

    def close(self) -> None:
        """End the process, whatever it does."""
        self._helper.close()


def _prepare(performance: Performance, wiring: Wiring, rate_hz: int) -> None:
    use_one_thread()
    with contextlib.suppress(InputError):  # whoever asked meets it again, and tells
        performance.prepare(wiring, rate_hz)
