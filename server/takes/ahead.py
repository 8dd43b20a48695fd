"""Takes played in advance, so that the first sound comes at once.

A score is played by the string model when it is first heard with a wiring, and that takes
seconds. A process of low priority does it ahead, for the wirings changed last and the demo's
takes first; each is then in the cache. Whatever fails here is met, and told, when it is heard.
"""

from __future__ import annotations

import contextlib
import threading

from dsp.errors import InputError
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.commissions import versions
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.takes.library import Library
from server.takes.playing import PlayingProcess

RATE_HZ = 48000
MOST_WIRINGS = 3
FIRST = "demo:open_chords"
"""The take that the page starts with."""
REST_S = 2.0
"""How long the start is left in peace."""


class Warming:
    """Plays takes ahead, in a thread that waits for a process.

    Parameters
    ----------
    store : Store
    library : Library
    """

    def __init__(self, store: Store, library: Library) -> None:
        self._store, self._library = store, library
        self._over = threading.Event()
        self._playing = PlayingProcess()
        self._thread = threading.Thread(target=self._run, name="warming", daemon=True)

    def start(self) -> None:
        """Begin, after a while."""
        self._thread.start()

    def close(self) -> None:
        """End, whatever is being played."""
        self._over.set()
        self._playing.close()

    def _run(self) -> None:
        if self._over.wait(REST_S):
            return
        takes = sorted((one.id for one in self._library.listed() if one.kind == "score"), key=_order)
        for wiring in self._wirings():
            for take in takes:
                if self._over.is_set():
                    return
                with contextlib.suppress(InputError):
                    self._playing.prepare(self._library.performance(take), wiring, RATE_HZ)

    def _wirings(self) -> list[Wiring]:
        """The wirings changed last."""
        found = []
        for text in versions.newest(self._store, MOST_WIRINGS):
            with contextlib.suppress(InputError):
                found.append(read_wiring(parse_tree(text, "wiring"), "wiring"))
        return found


def _order(take: str) -> tuple[bool, str]:
    return take != FIRST, take
