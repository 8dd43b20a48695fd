"""A draft as the operations of this room see it, and the edits that they return.

A draft is a saved text and the edits made since. An edit is a place of the text and its new value. The
edits of a draft need no order: renamings come first (`RENAMED`), so all other places bear the new names;
items of lists go by their number in the saved text, new ones by the numbers after; deletions come last.
Every operation is a pure function of a `Document` and returns the whole new list of edits.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from dsp.documents.tree import Entries, Items, Node, Reading, Text
from dsp.errors import InputError, nearest, some
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import terminals_of
from dsp.wiring.reading.parts import read_part

RENAMED = "renamed"
"""First key of the edit that gives a part another name: (RENAMED, name in the saved text), new name."""
COMMENT = "#"
"""Last key of the edit that writes a comment above a place: ("parts", "neck", COMMENT), lines of text."""
_PLAIN = re.compile(r"[\w.(][\w .+/()|Ωµ-]*[\w.)Ω%]|\w")

Path = tuple[str, ...]
Row = tuple[int, tuple[Terminal, ...]]
"""A joint: the number by which edits name it, and its terminals."""


class Edit(NamedTuple):
    """A place such as ``("labels", "1")`` and its value; None deletes it."""

    path: Path
    value: str | None


@dataclass(frozen=True)
class Edited:
    """What an operation did.

    Attributes
    ----------
    edits : tuple of Edit
        All edits of the draft, those from before included.
    name : str
        What was done, in words: ``Added tone_2, a pot of 500 kΩ``.
    notes : tuple of str
        What followed from it: terminals that are loose now, labels that went.
    part : str
        The part to look at next; empty for none.
    """

    edits: tuple[Edit, ...]
    name: str
    notes: tuple[str, ...] = ()
    part: str = ""


@dataclass(frozen=True)
class Document:
    """A draft: its saved text, its text now, and the edits between the two.

    Attributes
    ----------
    base : Entries
        The saved text after the draft's renamings, before its other edits.
    tree : Entries
        The text with every edit.
    values : tuple of (Node or None)
        The value of each edit as a file is read.
    """

    base: Entries
    tree: Entries
    edits: tuple[Edit, ...] = ()
    values: tuple[Node | None, ...] = ()

    @cached_property
    def parts(self) -> dict[str, Part | None]:
        """The parts by name; None for one that cannot be read."""
        reading = Reading("wiring")
        return {name: read_part(reading, node, name) for name, node in self.entries("parts").items()}

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """The joints, each with the number by which edits name it."""
        found = self.items("joints")
        numbers, _ = item_indexes(("joints",), len(found), self.edits)
        return tuple(
            (n, tuple(map(terminal_of, texts_of(item)))) for n, item in zip(numbers, found, strict=True)
        )

    @cached_property
    def couplings(self) -> tuple[tuple[int, tuple[str, ...]], ...]:
        """The coils of each coupling, with the number by which edits name it."""
        found = self.items("couplings")
        numbers, _ = item_indexes(("couplings",), len(found), self.edits)
        return tuple((n, tuple(texts_of(at(item, "coils")))) for n, item in zip(numbers, found, strict=True))

    def entries(self, *path: str) -> dict[str, Node]:
        """The entries of the map at this path; empty if there is no map."""
        node = at(self.tree, *path)
        return {key.text: value for key, value in node.entries} if isinstance(node, Entries) else {}

    def items(self, *path: str) -> tuple[Node, ...]:
        """The items of the list at this path; empty if there is no list."""
        node = at(self.tree, *path)
        return node.items if isinstance(node, Items) else ()

    def free_item(self, *path: str) -> int:
        """The number of the next new item of a list."""
        return item_indexes(path, len(self.items(*path)), self.edits)[1]

    @property
    def selector(self) -> str:
        """The name of the part that is the selector, whether or not it exists."""
        return text_of(at(self.tree, "selector")) or "selector"

    def free_name(self, *stems: str) -> str:
        """Return the first free one of some names, or the last with a number."""
        number, found = 2, next((stem for stem in stems if stem not in self.parts), stems[-1])
        while found in self.parts:
            found, number = f"{stems[-1]}_{number}", number + 1
        return found

    def require_part(self, name: str) -> Part:
        """Return a part.

        Raises
        ------
        InputError
            If there is none of that name.
        """
        part = self.parts.get(name)
        if part is None:
            raise InputError("part", f"'{name}'", some(self.parts), nearest(name, self.parts))
        return part

    def require_terminal(self, text: str) -> Terminal:
        """Return the terminal that a text such as ``volume.2`` names.

        Raises
        ------
        InputError
            If there is none.
        """
        name, lead = terminal_of(text)
        leads = terminals_of(self.require_part(name))
        if lead not in leads:
            raise InputError(
                "terminal", f"'{text}'", some(f"{name}.{one}" for one in leads), nearest(lead, leads)
            )
        return name, lead

    def with_edits(self, new: Iterable[tuple[Sequence[str], str | None]]) -> tuple[Edit, ...]:
        """Return the edits with some more, which replace those they cover."""
        edits = list(self.edits)
        for path, value in new:
            place = tuple(path)
            edits = [one for one in edits if one.path[: len(place)] != place]
            above = any(one.path == place[: len(one.path)] for one in edits)
            there = at(self.base, *place)
            same = value is None if there is None else value == as_flow(there)
            if above or _is_item(place) or not same:
                edits.append(Edit(place, value))
        return self._trimmed(edits)

    def _trimmed(self, edits: list[Edit]) -> tuple[Edit, ...]:
        """Leave out edits of joints and couplings that change nothing of the saved text."""
        for section in ("joints", "couplings"):
            if any(one.path == (section,) for one in edits):
                continue
            saved = at(self.base, section)
            items = saved.items if isinstance(saved, Items) else ()
            whole = [one for one in edits if one.path[0] == section and len(one.path) == 2]
            mine = {int(one.path[1]): one for one in whole if one.path[1].isdecimal()}
            last = max((n for n, one in mine.items() if one.value is not None), default=-1)
            idle = {
                n
                for n, one in mine.items()
                if (one.value is None and n >= len(items) and n > last)
                or (n < len(items) and one.value == as_flow(items[n]))
            }
            edits = [one for one in edits if one.path[:1] != (section,) or one not in [mine[n] for n in idle]]
        return tuple(edits)


def item_indexes(path: Path, count: int, edits: Sequence[tuple[Path, str | None]]) -> tuple[list[int], int]:
    """Return the numbers by which edits name items, and the next free one.

    Parameters
    ----------
    path : tuple of str
        Of the list.
    count : int
        Items of the edited text.
    """
    depth = len(path)
    named = {p[depth] for p, _ in edits if p[:depth] == path and len(p) > depth}
    gone = {p[depth] for p, value in edits if value is None and p[:depth] == path and len(p) == depth + 1}
    numbers: list[int] = []
    number = 0
    while len(numbers) < count:
        if str(number) not in gone:
            numbers.append(number)
        number += 1
    used = [*numbers, *(int(name) for name in named if name.isdecimal() and len(name) < 5)]
    return numbers, max(used, default=-1) + 1


def at(node: Node | None, *names: str) -> Node | None:
    """Return the node at a place, or None; items of lists go by number."""
    for name in names:
        if isinstance(node, Items):
            node = node.items[int(name)] if name.isdecimal() and int(name) < len(node.items) else None
        else:
            node = node.get(name) if isinstance(node, Entries) else None
    return node


def text_of(node: Node | None) -> str:
    """Return the text of a scalar; empty for anything else."""
    return node.text if isinstance(node, Text) else ""


def texts_of(node: Node | None) -> list[str]:
    """Return the texts of a list of scalars."""
    return [text_of(one) for one in node.items] if isinstance(node, Items) else []


def terminal_of(text: str) -> Terminal:
    """Return the terminal that a text such as ``volume.2`` names."""
    name, _, lead = text.partition(".")
    return name, lead


def as_text(terminal: Terminal) -> str:
    """Return a terminal as a file writes it."""
    return ".".join(terminal)


def as_flow(node: Node) -> str:
    """Return a value on one line, quoted where it needs to be.

    Examples
    --------
    >>> as_flow(Items((Text("neck, both", 1), Text("volume.2", 1)), 1))
    '["neck, both", volume.2]'
    """
    if isinstance(node, Text):
        text = node.text
        return text if _PLAIN.fullmatch(text) else '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(node, Items):
        return f"[{', '.join(map(as_flow, node.items))}]"
    return f"{{{', '.join(f'{as_flow(key)}: {as_flow(value)}' for key, value in node.entries)}}}"


def flow_list(texts: Iterable[str]) -> str:
    """Return texts as a list on one line."""
    return as_flow(Items(tuple(Text(text, 0) for text in texts), 0))


def flow_map(values: Mapping[str, str]) -> str:
    """Return a map on one line; its values are written as given."""
    return f"{{{', '.join(f'{name}: {value}' for name, value in values.items())}}}"


def _is_item(path: Path) -> bool:
    """Whether a place is an item of a list that edits name by number."""
    return len(path) == 2 and path[0] in ("joints", "couplings")
