"""Drafts: a saved version of a wiring with edits not saved yet, made into what is heard.

A draft is sent whole with every request, so a restart of the server loses nothing. What was
computed from it is kept by content: the wiring by its text, the filters by text and setting.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from dsp.documents.tree import Node
from dsp.facts.findings.check import check
from dsp.facts.findings.table import Finding
from dsp.filters.bank import Bank
from dsp.filters.design import design
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText

RATE_HZ = 48_000
"""The rate at which the page plays."""
FILE = "wiring"
"""What problems of a draft call the file."""
MOST_WIRINGS, MOST_BANKS, MOST_MADE = 64, 2048, 128

Found = TypeVar("Found")


class Kept(Generic[Found]):
    """The results last used, up to a number of them; safe in threads.

    Parameters
    ----------
    most : int
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._found: OrderedDict[Hashable, Found] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable) -> Found | None:
        """What was kept, or None."""
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
            return self._found.get(key)

    def of(self, key: Hashable, make: Callable[[], Found]) -> Found:
        """What was kept, or made now and kept; two threads may both make it."""
        found = self.get(key)
        if found is None:
            found = make()
            with self._lock:
                self._found[key] = found
                while len(self._found) > self._most:
                    self._found.popitem(last=False)
        return found


@dataclass(frozen=True)
class Edit:
    """A value and its place in a file, as `WiringText.change` takes them."""

    path: tuple[str, ...]
    value: str | None


@dataclass(frozen=True)
class Draft:
    """A version and the edits on top of it, in order."""

    version: str
    edits: tuple[Edit, ...] = ()


@dataclass(frozen=True)
class Read:
    """A draft that has been read.

    Attributes
    ----------
    text : str
        With the edits in it, comments kept.
    tree : Node
    wiring : Wiring
    """

    text: str
    tree: Node
    wiring: Wiring


class Drafts:
    """Reads drafts, and keeps what was made of them.

    Parameters
    ----------
    text_of : callable
        Gives the text of a version by its id; versions never change.
    """

    def __init__(self, text_of: Callable[[str], str]) -> None:
        self._text_of = text_of
        self._reads: Kept[Read] = Kept(MOST_WIRINGS)
        self._findings: Kept[tuple[Finding, ...]] = Kept(MOST_WIRINGS)
        self._banks: Kept[Bank] = Kept(MOST_BANKS)
        self._made: Kept[Any] = Kept(MOST_MADE)

    def base(self, draft: Draft) -> str:
        """Text of the version a draft starts from."""
        return self._text_of(draft.version)

    def read(self, draft: Draft) -> Read:
        """The draft's text and wiring.

        Raises
        ------
        InputError
            With every problem of the edited text, or if there is no such version.
        """
        return self._reads.of(draft, lambda: self._read(draft))

    def _read(self, draft: Draft) -> Read:
        text = self._text_of(draft.version)
        if draft.edits:
            edited = WiringText(text, FILE)
            edited.change([(edit.path, edit.value) for edit in draft.edits])
            text = edited.dump()
        tree = parse_tree(text, FILE)
        return Read(text, tree, read_wiring(tree, FILE))

    def wiring(self, draft: Draft) -> Wiring:
        """The draft's wiring; see `read`."""
        return self.read(draft).wiring

    def findings(self, draft: Draft) -> tuple[Finding, ...]:
        """Everything worth telling about the draft, the gravest first."""
        read = self.read(draft)
        return self._findings.of(read.text, lambda: check(read.wiring))

    def kept(self, draft: Draft, settings: Sequence[Setting], make: Callable[[], Found]) -> Found:
        """What is made of settings of a draft, made once: one thing for each."""
        key = (self.read(draft).text, tuple(map(_stands, settings)))
        found: Found = self._made.of(key, make)
        return found

    def bank(self, draft: Draft, setting: Setting) -> Bank:
        """The filters of a whole setting, as `Wiring.setting` makes it."""
        read = self.read(draft)
        return self._banks.of((read.text, _stands(setting)), lambda: design(read.wiring, setting, RATE_HZ))


def _stands(setting: Setting) -> Hashable:
    return (setting.position, tuple(setting.knobs.items()), tuple(setting.switches.items()))
