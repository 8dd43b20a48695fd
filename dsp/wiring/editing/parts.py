"""Add and remove parts, each with everything in the file that concerns it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from dsp.documents.tree import Entries, Node, Reading, Text
from dsp.errors import InputError, nearest, some
from dsp.parts.expression import Expression, Group, Leaf, format_expression, names_in, parse_expression
from dsp.parts.jack import TIP
from dsp.parts.kinds import coils_of, kind_of, plugged_of, positioned_of
from dsp.parts.library.entry import Entry
from dsp.parts.library.index import LIBRARY
from dsp.parts.metal import STRINGS
from dsp.units import parse
from dsp.wiring.editing.additions import ADDITIONS, PICKUP, Addition
from dsp.wiring.editing.document import (
    Document,
    Edited,
    Path,
    at,
    flow_list,
    flow_map,
    terminal_of,
    text_of,
    texts_of,
)
from dsp.wiring.editing.joints import Changes, changes_of, drop_drawn_wires, loose_notes, take_off
from dsp.wiring.model import OUTPUT
from dsp.wiring.reading.parts import read_part
from dsp.wiring.reading.wiring import NAME

PLACES: Mapping[str, float] = {"neck": 0.235, "bridge": 0.065, "middle": 0.15}
"""Where a new coil goes, as a share of the scale from the bridge (common practice)."""
USUAL_SCALE_M = 0.648
APART_M = 0.025
"""Coils nearer to each other than this are one housing."""
ARTICLES = {"a": "an", "e": "an", "i": "an", "o": "an", "u": "an"}


def add(document: Document, what: str, *, name: str = "", like: str = "") -> Edited:
    """Add a part, or the two coupled coils of a pickup, not soldered yet.

    Parameters
    ----------
    what : str
        Key of `ADDITIONS`.
    name : str
        Empty for the first free name. A pickup's coils are called name_a and name_b.
    like : str
        Entry of the library to start from in place of the usual values.

    Raises
    ------
    InputError
        If there is nothing of that key, the library has no such entry of the kind, or the name is
        taken or no name.
    """
    addition = ADDITIONS.get(what)
    if addition is None:
        raise InputError("add", f"'{what}'", ", ".join(ADDITIONS), nearest(what, ADDITIONS))
    entry = _entry(addition, like)
    if what == PICKUP:
        return _add_pickup(document, name, entry)
    place = _free_place(document) if addition.kind == "coil" else ("", 0.0)
    stems = (place[0], *addition.stems) if place[0] else addition.stems
    called = require_new_name(document, name) if name else document.free_name(*stems)
    fields = {"kind": addition.kind, **({"like": entry.name} if entry else addition.fields)}
    if addition.kind == "coil":
        fields["at"] = f"{place[1]:.0f} mm"
    if addition.kind == "sketch":
        fields["positions"] = flow_map({"1": _first_coil(document)})
    if addition.kind == "metal" and any(_is_strings(node) for node in document.entries("parts").values()):
        fields["of"] = "casing"
    changes: Changes = [(("parts", called), flow_map(fields)), *_chosen_output(document, addition, called)]
    text = f"Added {called}, {_article(_words(fields, addition))}"
    return Edited(document.with_edits(changes), text, part=called)


def remove(document: Document, name: str) -> Edited:
    """Remove a part from everything in the file that names it.

    Raises
    ------
    InputError
        If there is no such part, or it is the only sound of a sketch.
    """
    if name not in document.parts:
        raise InputError("part", f"'{name}'", some(document.parts), nearest(name, document.parts))
    own = {t for _, row in document.rows for t in row if t[0] == name}
    count = sum(any(t in own for t in row) for _, row in document.rows)
    rows, loose = take_off(document.rows, own)
    changes = [*changes_of(document, rows), (("parts", name), None)]
    told = [f"off {count} joint{'' if count == 1 else 's'}"] if count else []
    for number, coils in document.couplings:
        if name in coils:
            changes.append((("couplings", str(number)), None))
            other = next((coil for coil in coils if coil != name), name)
            told.append(f"its coupling with {other} too")
    for section in (_shafts, _sketched, _metal, _selector, _chosen_jack):
        for change, words in section(document, name):
            changes.append(change)
            told += [words] if words else []
    if at(document.tree, "drawing", "places", name) is not None:
        changes.append((("drawing", "places", name), None))
    changes += drop_drawn_wires(document, {t for t in _drawn(document) if t[0] == name})
    title = f"Removed {name}{': ' if told else ''}{', '.join(dict.fromkeys(told))}"
    return Edited(document.with_edits(changes), title, loose_notes(loose))


def require_new_name(document: Document, name: str) -> str:
    """Return a name for a part.

    Raises
    ------
    InputError
        If it is no name, or a part has it.
    """
    if not NAME.fullmatch(name):
        raise InputError("name", f"'{name}'", "letters, digits, _ and -, starting with a letter or _")
    if name in document.parts:
        raise InputError("name", f"'{name}', which another part has", "a new name")
    return name


def part_words(node: Node) -> str:
    """Return a part of the file in words: its kind and value."""
    part = read_part(Reading("wiring"), node, "part")
    if part is None:
        return "part"
    kind = kind_of(part)
    value = kind.value_text(part)
    return f"{_kind_word(kind.name)}{f' of {value}' if value else ''}"


def _add_pickup(document: Document, name: str, entry: Entry | None) -> Edited:
    assert entry is not None  # a pickup always starts from the library
    place, centre_mm = _free_place(document)
    stems = (place, PICKUP) if place else (PICKUP,)
    stem = name or next(
        (one for one in stems if f"{one}_a" not in document.parts and f"{one}_b" not in document.parts),
        "",
    )
    stem = stem or document.free_name(PICKUP)
    first, second = (require_new_name(document, f"{stem}_{letter}") for letter in "ab")
    stacked = entry.coupling < 0.0
    half_mm = 0.0 if stacked else 1000.0 * parse(str(entry.fields["aperture"]), "length")
    fields = {"kind": "coil", "like": entry.name, "at": f"{centre_mm + half_mm:.0f} mm"}
    turned = {"kind": "coil", "like": entry.pair, "at": f"{centre_mm - half_mm:.0f} mm", "winding": "reverse"}
    if not stacked:
        turned["magnet"] = "south"
    pair = flow_map({"coils": flow_list([first, second]), "coefficient": f"{entry.coupling:g}"})
    changes: Changes = [
        (("parts", first), flow_map(fields)),
        (("parts", second), flow_map(turned)),
        (("couplings", str(document.free_item("couplings"))), pair),
    ]
    title = f"Added {first} and {second}, a two-coil pickup, coupled by {entry.coupling:g}"
    return Edited(document.with_edits(changes), title, part=first)


def _entry(addition: Addition, like: str) -> Entry | None:
    """The library's entry to start from; None for values of its own."""
    name = like or addition.like
    if not name:
        return None
    known = [
        one.name
        for one in LIBRARY.values()
        if one.kind == addition.kind and (one.pair or addition.name != PICKUP)
    ]
    if name not in known:
        raise InputError("like", f"'{name}'", some(known) or "nothing of this kind", nearest(name, known))
    return LIBRARY[name]


def _words(fields: Mapping[str, str], addition: Addition) -> str:
    if addition.kind == "sketch":
        return "sketch of sounds"
    return part_words(Entries(tuple((Text(key, 0), Text(value, 0)) for key, value in fields.items()), 0))


def _kind_word(kind: str) -> str:
    return {"inductor": "choke", "metal": "piece of metal"}.get(kind, kind)


def _article(words: str) -> str:
    return f"{ARTICLES.get(words[0], 'a')} {words}"


def _free_place(document: Document) -> tuple[str, float]:
    """The first usual place that no coil is near, by name and in mm; the last if all are taken."""
    written = text_of(at(document.tree, "instrument", "scale"))
    scale = parse(written, "length") if written else USUAL_SCALE_M
    parts = {name: part for name, part in document.parts.items() if part is not None}
    taken = [coil.at_m for coil in coils_of(parts).values() if coil.at_m is not None]
    for name, share in PLACES.items():
        if all(abs(share * scale - one) > APART_M for one in taken):
            return name, 1000.0 * share * scale
    return "", 1000.0 * PLACES["middle"] * scale


def _first_coil(document: Document) -> str:
    parts = {name: part for name, part in document.parts.items() if part is not None}
    placed = {name for _, expression in _sounds(document) for name in _names(expression)}
    found = next((name for name in coils_of(parts) if name not in placed), "")
    if not found:
        raise InputError("add", "a sketch without a coil to place", "a coil first")
    return found


def _is_strings(node: Node) -> bool:
    return text_of(at(node, "of")) == STRINGS


def _chosen_output(document: Document, addition: Addition, called: str) -> Changes:
    """The key that keeps the sound at the jack where it is, if a second one makes that unclear."""
    if addition.kind != "jack" or called == OUTPUT or at(document.tree, "output") is not None:
        return []
    jacks = [name for name, part in document.parts.items() if part is not None and plugged_of(part)]
    return [] if not jacks or OUTPUT in jacks else [(("output",), f"{jacks[0]}.{TIP}")]


Section = Iterator[tuple[tuple[Path, str | None], str]]


def _shafts(document: Document, name: str) -> Section:
    """Shared shafts: the part's own at the top of the file, and those of parts on its shaft."""
    for one, node in document.entries("ganged").items():
        partner = text_of(node) or text_of(at(node, "part"))
        if name in (one, partner):
            yield (("ganged", one), None), f"{one} has a shaft of its own" if one != name else ""
    for one, node in document.entries("parts").items():
        if one != name and text_of(at(node, "ganged", "part")) == name:
            yield (("parts", one, "ganged"), None), f"{one} has a shaft of its own"


def _sketched(document: Document, name: str) -> Section:
    """The sounds of sketches, without the part."""
    for path, expression in _sounds(document):
        if path[1] == name or name not in _names(expression):
            continue
        left = _without(expression, name)
        if left is not None:
            yield (path, format_expression(left)), f"out of position {path[-1]} of {path[1]}"
            continue
        others = [
            p for p, sound in _sounds(document) if p[1] == path[1] and _without(sound, name) is not None
        ]
        if not others:
            raise InputError("remove", f"{name}, the only sound of {path[1]}", "another sound there first")
        yield (path, None), f"position {path[-1]} of {path[1]} too"
        if path[1] == document.selector and at(document.tree, "labels", path[-1]) is not None:
            yield (("labels", path[-1]), None), ""


def _metal(document: Document, name: str) -> Section:
    """The parts that pieces of metal belong to."""
    for one, node in document.entries("parts").items():
        names = texts_of(at(node, "on"))
        if one != name and name in names:
            left = [other for other in names if other != name]
            yield (("parts", one, "on"), flow_list(left) if left else None), ""


def _selector(document: Document, name: str) -> Section:
    """The labels of the selector's positions, and the key that names it."""
    if name != document.selector or positioned_of(document.parts[name]) is None:
        return
    if at(document.tree, "selector") is not None:
        yield (("selector",), None), ""
    if document.entries("labels"):
        yield (("labels",), None), "its labels too"


def _chosen_jack(document: Document, name: str) -> Section:
    """The key that names the jack to compute at."""
    if terminal_of(text_of(at(document.tree, "output")))[0] == name:
        yield (("output",), None), ""


def _sounds(document: Document) -> list[tuple[Path, Expression]]:
    """Every sound of the sketches, with its place."""
    found: list[tuple[Path, Expression]] = []
    for name, node in document.entries("parts").items():
        positions = at(node, "positions")
        if text_of(at(node, "kind")) != "sketch" or not isinstance(positions, Entries):
            continue
        found += [
            (("parts", name, "positions", key.text), parse_expression(text_of(value)))
            for key, value in positions.entries
        ]
    return found


def _names(expression: Expression) -> set[str]:
    return set(names_in(expression))


def _without(expression: Expression, name: str) -> Expression | None:
    """An expression without a part; None if nothing is left."""
    if isinstance(expression, Leaf):
        return None if expression.name == name else expression
    left = [one for member in expression.members if (one := _without(member, name)) is not None]
    if len(left) > 1:
        return Group(tuple(left), expression.series, expression.reversed)
    if not left or not expression.reversed:
        return left[0] if left else None
    only = left[0]
    if isinstance(only, Leaf):
        return Leaf(only.name, not only.reversed)
    return Group(only.members, only.series, not only.reversed)


def _drawn(document: Document) -> list[tuple[str, str]]:
    return [terminal_of(text) for wire in document.items("drawing", "wires") for text in texts_of(wire)]
