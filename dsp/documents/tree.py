"""A document as the reader sees it: texts, lists and maps that know their line.

Scalars stay the text that was written: whether `0.062 in`, `1` or `yes` is a quantity, a
position or a word is for the reader of that field to say, not for YAML.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from dsp.errors import InputError, Problem, nearest


@dataclass(frozen=True)
class Text:
    """A scalar as written."""

    text: str
    line: int

    def describe(self) -> str:
        """The text as an error quotes it, cut when it is long."""
        return f"'{self.text}'" if len(self.text) <= 60 else f"'{self.text[:57]}...'"


@dataclass(frozen=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    line: int

    def describe(self) -> str:
        """What an error calls it."""
        return f"a list of {len(self.items)}"


@dataclass(frozen=True)
class Entries:
    """A map, in the order written."""

    entries: tuple[tuple[Text, Node], ...]
    line: int

    def describe(self) -> str:
        """What an error calls it."""
        return f"a map with {', '.join(key.text for key, _ in self.entries[:4]) or 'nothing'}"

    def get(self, name: str) -> Node | None:
        """The value of a key, or None."""
        return next((value for key, value in self.entries if key.text == name), None)


Node = Text | Items | Entries

MOST_ITEMS = 512
"""Longest list or map a document may hold; far beyond any guitar."""
MOST_GUESSES = 50
"""Problems of a document that come with a guess at what was meant: comparing names is slow."""


@dataclass
class Reading:
    """Where problems are gathered while one document is read.

    Attributes
    ----------
    file : str
        Name that stands before every line number.
    """

    file: str
    problems: list[Problem] = field(default_factory=list)

    def where(self, node: Node, what: str = "") -> str:
        """``file:line: what``."""
        return f"{self.file}:{node.line}" + (f": {what}" if what else "")

    def refuse(self, node: Node, what: str, allowed: str, *, got: str = "", hint: str = "") -> None:
        """Note a problem and go on reading."""
        self.problems.append(Problem(self.where(node, what), got or node.describe(), allowed, hint))

    def guess(self, name: str, known: Iterable[str]) -> str:
        """A guess at the name that was meant; none once there are many problems."""
        return nearest(name, known) if len(self.problems) < MOST_GUESSES else ""

    def _within(self, node: Node, what: str, count: int, kind: str) -> None:
        if count > MOST_ITEMS:
            self.refuse(node, what, f"at most {MOST_ITEMS}", got=f"{count} {kind}")

    def take(self, error: InputError) -> None:
        """Note the problems of an error raised by a reader of values."""
        self.problems.extend(error.problems)

    def entries(self, node: Node | None, what: str) -> Iterator[tuple[Text, Node]]:
        """Entries of a map, at most `MOST_ITEMS`; anything else is a problem."""
        if isinstance(node, Entries):
            self._within(node, what, len(node.entries), "entries")
            yield from node.entries[:MOST_ITEMS]
        elif node is not None:
            self.refuse(node, what, "a map (name: value)")

    def items(self, node: Node | None, what: str) -> tuple[Node, ...]:
        """Items of a list, at most `MOST_ITEMS`; anything else is a problem."""
        if isinstance(node, Items):
            self._within(node, what, len(node.items), "items")
            return node.items[:MOST_ITEMS]
        if node is not None:
            self.refuse(node, what, "a list")
        return ()

    def text(self, node: Node | None, what: str) -> str | None:
        """The text of a scalar; anything else is a problem and gives None."""
        if isinstance(node, Text):
            return node.text
        if node is not None:
            self.refuse(node, what, "one value")
        return None

    def finish(self) -> None:
        """Raise one error with everything found, if anything was.

        Raises
        ------
        InputError
        """
        if self.problems:
            raise InputError.of(dict.fromkeys(self.problems))  # each once, in order
