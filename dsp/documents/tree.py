"""A document as a tree of texts, lists and maps with line numbers.

Scalars stay the text that was written. The reader of a field decides whether `0.062 in`, `1` or
`yes` is a quantity, a position or a word; YAML does not.
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
        """Quote the text for an error message, shortened when it is long."""
        return f"'{self.text}'" if len(self.text) <= 60 else f"'{self.text[:57]}...'"


@dataclass(frozen=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    line: int

    def describe(self) -> str:
        """Describe the list for an error message."""
        return f"a list of {len(self.items)}"


@dataclass(frozen=True)
class Entries:
    """A map, in the order written."""

    entries: tuple[tuple[Text, Node], ...]
    line: int

    def describe(self) -> str:
        """Describe the map for an error message."""
        return f"a map with {', '.join(key.text for key, _ in self.entries[:4]) or 'nothing'}"

    def get(self, name: str) -> Node | None:
        """Return the value of a key, or None."""
        return next((value for key, value in self.entries if key.text == name), None)


Node = Text | Items | Entries

MOST_ITEMS = 512
"""Longest list or map a document may hold; far beyond any guitar."""
MOST_GUESSES = 50
"""Problems per document that include a guess at the intended name; guessing is slow."""


@dataclass
class Reading:
    """Collects the problems of one document while it is read.

    Attributes
    ----------
    file : str
        Name printed before every line number.
    problems : list of Problem
        What is wrong.
    lacking : list of Problem
        What is right as far as it goes, but not there yet.
    """

    file: str
    problems: list[Problem] = field(default_factory=list)
    lacking: list[Problem] = field(default_factory=list)

    def where(self, node: Node, what: str = "") -> str:
        """Return the place of a node as ``file:line: what``."""
        return f"{self.file}:{node.line}" + (f": {what}" if what else "")

    def refuse(self, node: Node, what: str, allowed: str, *, got: str = "", hint: str = "") -> None:
        """Record a problem and continue."""
        self.problems.append(Problem(self.where(node, what), got or node.describe(), allowed, hint))

    def lack(self, node: Node, what: str, allowed: str, *, got: str) -> None:
        """Record something that a whole document has and this one has not yet."""
        self.lacking.append(Problem(self.where(node, what), got, allowed))

    def guess(self, name: str, known: Iterable[str]) -> str:
        """Guess the intended name; empty once there are many problems."""
        return nearest(name, known) if len(self.problems) < MOST_GUESSES else ""

    def _within(self, node: Node, what: str, count: int, kind: str) -> None:
        if count > MOST_ITEMS:
            self.refuse(node, what, f"at most {MOST_ITEMS}", got=f"{count} {kind}")

    def take(self, error: InputError) -> None:
        """Record the problems of an error raised by a reader of values."""
        self.problems.extend(error.problems)

    def entries(self, node: Node | None, what: str) -> Iterator[tuple[Text, Node]]:
        """Yield the entries of a map, at most `MOST_ITEMS`; record anything else."""
        if isinstance(node, Entries):
            self._within(node, what, len(node.entries), "entries")
            yield from node.entries[:MOST_ITEMS]
        elif node is not None:
            self.refuse(node, what, "a map (name: value)")

    def items(self, node: Node | None, what: str) -> tuple[Node, ...]:
        """Return the items of a list, at most `MOST_ITEMS`; record anything else."""
        if isinstance(node, Items):
            self._within(node, what, len(node.items), "items")
            return node.items[:MOST_ITEMS]
        if node is not None:
            self.refuse(node, what, "a list")
        return ()

    def text(self, node: Node | None, what: str) -> str | None:
        """Return the text of a scalar; record anything else and return None."""
        if isinstance(node, Text):
            return node.text
        if node is not None:
            self.refuse(node, what, "one value")
        return None

    def finish(self) -> None:
        """Raise one error with all recorded problems, if there are any.

        Raises
        ------
        InputError
        """
        if self.problems:
            raise InputError.of(dict.fromkeys(self.problems))  # each once, in order
