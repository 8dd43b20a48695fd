"""Edits of a wiring in a few words each, by the tables that know the fields.

An edit is a place of the wiring file and its new value. The words name the part and, unless the kind
has one value alone, the field: ``tone capacitor 1 nF``, ``neck a winding reverse``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Text
from dsp.errors import InputError
from dsp.parts.expression import Expression, Leaf, parse_expression
from dsp.parts.fields import COMMON
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY
from dsp.wiring.editing.document import COMMENT, RENAMED

LONGEST = 72
"""Characters of a name; a longer value is left out."""
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
           "twelve")  # fmt: skip
ABBREVIATIONS: Mapping[str, str] = {"cap": "capacitor", "res": "resistor", "vol": "volume"}
"""What part names often shorten, and the whole words."""
NAMED_BY_KIND = ("capacitor", "resistor", "inductor")
"""Kinds whose word belongs to the name of a part: drain resistor. A knob or coil is known by its name."""

Path = tuple[str, ...]
Edits = Sequence[tuple[Path, Node | None]]


def edit_words(before: Node, edits: Edits) -> tuple[str, ...]:
    """Return a short name for each edit.

    Parameters
    ----------
    before : Node
        The wiring file's tree before the edits.
    edits : sequence of (tuple of str, Node or None)
        Place and new value; None takes the place out.

    Returns
    -------
    tuple of str
        Empty for an edit that goes with another: the labels and joints of new sounds, the runs of
        joints, comments.
    """
    namer = _Namer(before, edits)
    return tuple(namer.name(path, value) for path, value in edits)


def changed_places(before: Node, after: Node) -> Edits:
    """Return the edits that lead from one wiring file's tree to another.

    Lists of one length are compared item by item, others as a whole.
    """
    return tuple(_differences(before, after, ()))


class _Namer:
    """Names the edits of one wiring."""

    def __init__(self, before: Node, edits: Edits) -> None:
        self._before, self._edits = before, edits
        self._made = {
            path[1]: value for path, value in edits if len(path) == 2 and path[0] == "parts" and value
        }
        self._old = {
            value.text: path[-1] for path, value in edits if path[0] == RENAMED and isinstance(value, Text)
        }
        self._sections: Mapping[str, Callable[[Path, Node | None], str]] = {
            "parts": self._part, "labels": self._label, "joints": self._joint, "couplings": self._coupling,
            "instrument": self._instrument, "load": self._load, "drawing": self._drawing,
            RENAMED: self._renamed,
        }  # fmt: skip

    def name(self, path: Path, value: Node | None) -> str:
        """Return the name of one edit."""
        if path[-1] == COMMENT:
            return ""  # it goes with the values below it
        section = self._sections.get(path[0])
        words = section(path, value) if section else _changed(" ".join(path), value)
        return words if len(words) <= LONGEST else f"{words[: LONGEST - 1].rstrip()}…"

    # --- parts

    def _part(self, path: Path, value: Node | None) -> str:
        if len(path) < 2:
            return "the parts"
        name = path[1]
        kind, words = self._kind(name), self._part_words(name)
        if len(path) == 2:
            return self._whole_part(name, words, value)
        table = {field.name: field for field in (*(KINDS[kind].fields if kind in KINDS else ()), *COMMON)}
        field = table.get(path[2])
        if field is not None and field.form == "expressions":
            return self._sounds(path, value)
        if path[2] == "contacts":
            where = f"position {path[3]} of {words}" if len(path) > 3 else words
            return f"{where}: {'taken out' if value is None else 'other contacts'}"
        if path[2] == "like":
            return f"{words} from the library" + (
                f": {_plain(value.text)}" if isinstance(value, Text) else ""
            )
        only = kind in KINDS and _main_field(KINDS[kind].fields) == path[2]
        return _changed(words if only else f"{words} {_plain(path[2])}", value)

    def _whole_part(self, name: str, words: str, value: Node | None) -> str:
        if value is None:
            return f"{words} taken out"
        if isinstance(value, Entries):
            positions = value.get("positions")
            if _text(value.get("kind")) == "sketch" and isinstance(positions, Entries):
                return _count_sounds(positions)
            if _at(self._before, ("parts", self._old.get(name, name))) is not None:
                return f"{words} now a {_kind_of(value)}"
            main = _main_field(KINDS[_kind_of(value)].fields) if _kind_of(value) in KINDS else ""
            own = value.get(main)
            return f"{words}{f' {own.text}' if isinstance(own, Text) else ''} added"
        return f"{words} added"

    def _sounds(self, path: Path, value: Node | None) -> str:
        if len(path) == 4:
            if value is None:
                return f"position {path[3]} taken out"
            sound = _sound_words(_text(value))
            return f"position {path[3]}: {sound}" if len(sound) <= 56 else f"position {path[3]} sketched anew"
        if not isinstance(value, Entries):
            return "the sounds"
        old = _at(self._before, path)
        if isinstance(old, Entries) and _sounds_of(old) == _sounds_of(value):
            return "the sounds in another order"
        return _count_sounds(value)

    def _kind(self, name: str) -> str:
        saved = self._old.get(name, name)
        for node in (self._made.get(name), _at(self._before, ("parts", saved))):
            if kind := _kind_of(node):
                return kind
        return ""

    def _part_words(self, name: str) -> str:
        words = [ABBREVIATIONS.get(word, word) for word in _plain(name).split()]
        kind = self._kind(name)
        if kind in NAMED_BY_KIND and kind not in words:
            words.append(kind)
        return " ".join(words)

    # --- what surrounds the parts

    def _label(self, path: Path, value: Node | None) -> str:
        if any(path[:1] == ("parts",) and _is_sketching(path, new) for path, new in self._edits):
            return ""  # they go with their sounds
        if len(path) == 2:
            if value is None or not _text(value):
                return f"position {path[1]} without a label"
            return f"position {path[1]} called “{_text(value)}”"
        return "no labels" if isinstance(value, Entries) and not value.entries else "other labels"

    def _renamed(self, path: Path, value: Node | None) -> str:
        return f"{_plain(path[-1])} called {_plain(_text(value))}"

    def _joint(self, path: Path, value: Node | None) -> str:
        if len(path) == 1:
            parts = any(len(path) == 2 and path[0] == "parts" for path, _ in self._edits)
            return "" if parts else "joints soldered anew"
        number = f"joint {_number(path[1])}"
        if value is None:
            return f"{number} taken out"
        saved = _at(self._before, path[:2])
        old, new = self._terminals(saved), self._terminals(value)
        on, off = [one for one in new if one not in old], [one for one in old if one not in new]
        if saved is None and len(on) > 1:
            return f"{on[0]} soldered to {', '.join(on[1:])}"
        if on and not off:
            return f"{', '.join(on)} soldered to {number}"
        if off and not on:
            return f"{', '.join(off)} off {number}"
        return f"{number} {'changed' if saved is not None else 'added'}"

    def _terminals(self, joint: Node | None) -> list[str]:
        """The terminals of a joint under the draft's names."""
        found = [_text(one).partition(".") for one in joint.items] if isinstance(joint, Items) else []
        new = {old: name for name, old in self._old.items()}
        return [f"{new.get(name, name)}.{lead}" for name, _, lead in found]

    def _coupling(self, path: Path, value: Node | None) -> str:
        if len(path) == 1:
            return "other couplings"
        item = value if len(path) == 2 and value is not None else _at(self._before, path[:2])
        coils = item.get("coils") if isinstance(item, Entries) else None
        names = [_plain(_text(one)) for one in coils.items] if isinstance(coils, Items) else []
        words = f"coupling of {' and '.join(names)}" if names else f"coupling {_number(path[1])}"
        if len(path) == 2:
            return f"{words} {'taken out' if value is None else 'added'}"
        return _changed(words if path[2] == "coefficient" else f"{words}: {path[2]}", value)

    def _instrument(self, path: Path, value: Node | None) -> str:
        if path[1:2] != ("strings",):
            return _changed(" ".join(map(_plain, path[1:])) or "instrument", value)
        if len(path) == 2:
            return f"{_count(len(value.items), 'string')}" if isinstance(value, Items) else "the strings"
        string = f"string {_number(path[2])}"
        if len(path) == 3:
            return f"{string} {'taken out' if value is None else 'added'}"
        if path[3] == "wound":
            return f"{string} {'wound' if _text(value) == 'true' else 'plain'}"
        return _changed(f"{string} {_plain(path[3])}", value)

    def _drawing(self, path: Path, value: Node | None) -> str:
        if path[1:2] == ("wires",):
            soldered = any(one[0] == "joints" for one, _ in self._edits)
            return "" if soldered else "wires of the drawing"
        if value is None:
            return "the drawing laid out anew"
        if len(path) < 3:
            return "the drawing laid out by hand"
        return f"{_plain(path[2])} moved on the drawing"

    def _load(self, path: Path, value: Node | None) -> str:
        if path[1:2] == ("like",):
            return f"load from the library: {_plain(_text(value))}"
        if isinstance(value, Entries):
            inner = ", ".join(_text(one) for _, one in value.entries if isinstance(one, Text))
            return " ".join((path[-1], inner)).strip()
        return _changed(" ".join(map(_plain, path[1:])) or "load", value)


def _is_sketching(path: Path, value: Node | None) -> bool:
    """Whether an edit writes all sounds of a sketch."""
    if len(path) == 3:
        return path[2] == "positions" and isinstance(value, Entries)
    return len(path) == 2 and isinstance(value, Entries) and _text(value.get("kind")) == "sketch"


def _main_field(fields: Sequence[Field]) -> str:
    """The name of a kind's only required quantity; empty if it has several or none."""
    required = [field.name for field in fields if field.form == "quantity" and field.required]
    return required[0] if len(required) == 1 else ""


def _kind_of(node: Node | None) -> str:
    """The kind that a part's map names, by itself or by the library's entry."""
    if not isinstance(node, Entries):
        return ""
    like = _text(node.get("like"))
    return _text(node.get("kind")) or (LIBRARY[like].kind if like in LIBRARY else "")


def _changed(words: str, value: Node | None) -> str:
    """A thing with its new value; without it where the value is more than a text."""
    if value is None:
        return f"{words} taken out"
    text = _text(value)
    return f"{words} {text}" if text else f"{words} changed"


def _count(n: int, thing: str) -> str:
    number = NUMBERS[n] if n < len(NUMBERS) else str(n)
    return f"{number} {thing}{'' if n == 1 else 's'}"


def _count_sounds(positions: Entries) -> str:
    return f"{_count(len(positions.entries), 'sound')} sketched"


def _sounds_of(positions: Entries) -> list[str]:
    return sorted("".join(_text(value).split()) for _, value in positions.entries)


def _sound_words(text: str) -> str:
    """A sketch expression in words; the text itself if it is none."""
    try:
        return _in_words(parse_expression(text))
    except InputError:
        return text


def _in_words(expression: Expression, *, inner: bool = False) -> str:
    turned = " reversed" if expression.reversed else ""
    if isinstance(expression, Leaf):
        return f"{_plain(expression.name)}{turned}"
    members = [_in_words(member, inner=True) for member in expression.members]
    listed = f"{', '.join(members[:-1])} and {members[-1]}"
    text = f"{listed} in {'series' if expression.series else 'parallel'}"
    return f"({text}){turned}" if inner or turned else text


def _number(item: str) -> str:
    """The number of a list's item for people, who count from 1."""
    return str(int(item) + 1) if item.isdecimal() else item


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _text(node: Node | None) -> str:
    return node.text.strip() if isinstance(node, Text) else ""


def _at(node: Node | None, path: Sequence[str]) -> Node | None:
    """The node at a path, or None."""
    for name in path:
        if isinstance(node, Entries):
            node = node.get(name)
        elif isinstance(node, Items) and name.isdecimal() and int(name) < len(node.items):
            node = node.items[int(name)]
        else:
            return None
    return node


def _differences(before: Node, after: Node, path: Path) -> list[tuple[Path, Node | None]]:
    if isinstance(before, Entries) and isinstance(after, Entries) and not _is_whole(before, after, path):
        found: list[tuple[Path, Node | None]] = []
        names = dict.fromkeys(key.text for tree in (before, after) for key, _ in tree.entries)
        for name in names:
            old, new = before.get(name), after.get(name)
            if old is None or new is None:
                inside = len(path) < 1 and isinstance(old or new, Entries)
                empty = Entries((), 0)
                found += (
                    _differences(old or empty, new or empty, (*path, name))
                    if inside
                    else [((*path, name), new)]
                )
            else:
                found += _differences(old, new, (*path, name))
        return found
    if isinstance(before, Items) and isinstance(after, Items) and len(before.items) == len(after.items):
        if path[-1:] not in (("joints",), ("strings",), ("couplings",)):
            return [] if _same(before, after) else [(path, after)]
        return [
            one
            for i, (old, new) in enumerate(zip(before.items, after.items, strict=True))
            for one in _differences(old, new, (*path, str(i)))
        ]
    return [] if _same(before, after) else [(path, after)]


def _is_whole(before: Entries, after: Entries, path: Path) -> bool:
    """Whether a map is compared as one: sounds of which several differ, the maps of parts' fields."""
    if len(path) == 2 and path[0] == "parts":
        return _kind_of(before) != _kind_of(after)
    if len(path) != 3 or path[0] != "parts":
        return False
    names = {key.text for tree in (before, after) for key, _ in tree.entries}
    off = [name for name in names if not _same(before.get(name), after.get(name))]
    order = [key.text for key, _ in before.entries] != [key.text for key, _ in after.entries]
    return len(off) > 1 or order


def _same(one: Node | None, other: Node | None) -> bool:
    """Whether two nodes say the same, wherever they are written."""
    if isinstance(one, Entries) and isinstance(other, Entries):
        return len(one.entries) == len(other.entries) and all(
            a.text == b.text and _same(x, y)
            for (a, x), (b, y) in zip(one.entries, other.entries, strict=True)
        )
    if isinstance(one, Items) and isinstance(other, Items):
        return len(one.items) == len(other.items) and all(map(_same, one.items, other.items))
    return isinstance(one, Text) and isinstance(other, Text) and one.text == other.text
