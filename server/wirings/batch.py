"""A cache of parsed wirings. Large batches are parsed in a helper process.

Parsing a wiring takes 10 to 20 ms of computation. A few do not matter; a whole catalogue would
take seconds, and slow down the live page's requests in the same process.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable

from dsp.errors import InputError, Problem
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.recent import Recent
from server.files.yaml_text import parse_tree
from server.processes.helper import Helper
from server.refusals import Unavailable

Text = tuple[str, str]
"""A wiring's text, and the file name for its problems."""
Read = Wiring | tuple[Problem, ...]
FEW = 8
"""Up to this many texts are parsed here; to start a helper takes as long."""
MOST_KEPT = 1024


class Wirings:
    """Wirings by text; the cache keeps those used last."""

    def __init__(self) -> None:
        self._recent: Recent[Read] = Recent(MOST_KEPT)

    def read(self, texts: Iterable[Text]) -> dict[Text, Read]:
        """Return each wiring, or the problems of its text."""
        every = list(dict.fromkeys(texts))
        found = {text: known for text in every if (known := self._recent.get(text)) is not None}
        missing = [text for text in every if text not in found]
        found |= zip(
            missing, _read_in_helper(missing) if len(missing) > FEW else map(read_one, missing), strict=True
        )
        for text in missing:
            self._recent.put(text, found[text])
        return found


def read_one(text: Text) -> Read:
    """Parse a text; return its wiring or its problems."""
    try:
        return read_wiring(parse_tree(*text), text[1])
    except InputError as error:
        return error.problems


def read_many(texts: list[Text]) -> list[Read]:
    """Parse several texts; return their wirings or problems."""
    return [read_one(one) for one in texts]


def _read_in_helper(texts: list[Text]) -> list[Read]:
    """Parse texts in a helper process that ends afterwards; parse here if it cannot start."""
    with contextlib.closing(Helper("reading wirings")) as helper:
        try:
            found: list[Read] = helper.call(read_many, texts)
            return found
        except Unavailable:
            return read_many(texts)
