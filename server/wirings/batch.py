"""Wirings by their texts, kept; many new ones are read by a process of its own, beside the server.

Reading takes a hundredth of a second or two of pure computation each. For a few that is nothing; for a
whole catalogue it would be seconds in which the live page's requests had to share this process.
"""

from __future__ import annotations

import contextlib
import threading
from collections import OrderedDict
from collections.abc import Iterable

from dsp.errors import InputError, Problem
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.processes.helper import SideProcess
from server.refusals import Unavailable

Text = tuple[str, str]
"""A wiring's text, and the file name that its problems tell."""
Read = Wiring | tuple[Problem, ...]
FEW = 8
"""New ones that are read here: starting a process takes as long."""
MOST_KEPT = 1024


class Wirings:
    """Wirings by text, those asked for last kept."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Text, Read] = OrderedDict()
        self._lock = threading.Lock()

    def read(self, texts: Iterable[Text]) -> dict[Text, Read]:
        """Each wiring, or the problems of its text."""
        wanted = list(dict.fromkeys(texts))
        with self._lock:
            found = {one: self._kept[one] for one in wanted if one in self._kept}
        missing = [one for one in wanted if one not in found]
        found |= zip(missing, _beside(missing) if len(missing) > FEW else map(read_one, missing), strict=True)
        with self._lock:
            for one in wanted:
                self._kept[one] = found[one]
                self._kept.move_to_end(one)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return found


def read_one(text: Text) -> Read:
    """The wiring of a text, or its problems."""
    try:
        return read_wiring(parse_tree(*text), text[1])
    except InputError as error:
        return error.problems


def read_many(texts: list[Text]) -> list[Read]:
    """The wirings of several texts, or their problems."""
    return [read_one(one) for one in texts]


def _beside(texts: list[Text]) -> list[Read]:
    """The same in a process of its own, ended afterwards; here if there can be none."""
    with contextlib.closing(SideProcess("reading wirings")) as side:
        try:
            found: list[Read] = side.call(read_many, texts)
            return found
        except Unavailable:
            return read_many(texts)
