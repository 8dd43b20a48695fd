"""Play takes in advance, so that the first sound starts at once.

The string model needs seconds for a score on a new wiring. A low-priority process plays scores into
the cache beforehand: on the wirings changed last, in the order of the list, whose first take the page
selects. Then the pitch tracker is compiled. It ignores errors; whoever plays the take reports them.
"""

from __future__ import annotations

import contextlib
import threading

from dsp.errors import InputError
from dsp.takes.model import PLAYED_KINDS
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.commissions import versions
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.takes.compiling import compile_tracker
from server.takes.library import Library
from server.takes.playing import PlayingProcess

RATE_HZ = 48000
MOST_WIRINGS = 3
REST_S = 2.0
"""Delay after the start of the server."""


class AheadPlayer:
    """Plays takes ahead, in a thread that waits for a process."""

    def __init__(self, store: Store, library: Library) -> None:
        self._store, self._library = store, library
        self._over = threading.Event()
        self._playing = PlayingProcess()
        self._thread = threading.Thread(target=self._run, name="playing ahead", daemon=True)

    def start(self) -> None:
        """Start playing after `REST_S`."""
        self._thread.start()

    def close(self) -> None:
        """Stop at once, in the middle of a take too."""
        self._over.set()
        self._playing.close()

    def _run(self) -> None:
        if self._over.wait(REST_S):
            return
        takes = [one.id for one in self._library.list_takes() if one.kind in PLAYED_KINDS]
        for wiring in self._wirings():
            for take in takes:
                if self._over.is_set():
                    return
                with contextlib.suppress(InputError):
                    self._playing.prepare(self._library.performance(take), wiring, RATE_HZ)
        with contextlib.suppress(InputError):
            compile_tracker()

    def _wirings(self) -> list[Wiring]:
        """The wirings changed last."""
        found = []
        for text in versions.newest(self._store, MOST_WIRINGS):
            with contextlib.suppress(InputError):
                found.append(read_wiring(parse_tree(text, "wiring"), "wiring"))
        return found
