"""Reading one part of a wiring file by the table of its kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from dsp.documents import values as plain_values
from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Reading, Text
from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.parts.fields import COMMON, KINDS
from dsp.parts.library.index import LIBRARY
from dsp.parts.pot import Pot
from dsp.parts.switch import Switch, shorthand, validate
from dsp.parts.taper import linear
from dsp.parts.two_lead import Capacitor, Inductor, Jack, Resistor
from dsp.wiring.model import Part, Sketch
from dsp.wiring.reading import values

_COMMON_NAMES = ("kind", *(field.name for field in COMMON))


def tree_of(raw: object, line: int) -> Node:
    """A tree of the library's plain values, all on one line of the file."""
    if isinstance(raw, Mapping):
        return Entries(tuple((Text(str(k), line), tree_of(v, line)) for k, v in raw.items()), line)
    if isinstance(raw, list | tuple):
        return Items(tuple(tree_of(item, line) for item in raw), line)
    return Text(str(raw), line)


def with_library(reading: Reading, node: Entries, what: str) -> Entries:
    """The part with the fields of the library's part it refers to filled in."""
    like = node.get("like")
    if like is None:
        return node
    name = reading.text(like, f"{what}.like")
    entry = LIBRARY.get(name) if name else None
    if entry is None:
        if name:
            reading.refuse(
                like, f"{what}.like", "a part that `presolder parts` lists", hint=reading.guess(name, LIBRARY)
            )
        return node
    own = {key.text for key, _ in node.entries}
    kind = node.get("kind")
    if isinstance(kind, Text) and kind.text != entry.kind:
        reading.refuse(kind, f"{what}.kind", f"{entry.kind}, as the part it is like")
        return node
    base = {"kind": entry.kind, **entry.fields}
    table, short = {"lugs", "contacts"}, {"poles", "positions"}
    if own & table:  # a table of one's own replaces the library's shorthand
        base = {key: value for key, value in base.items() if key not in short}
    elif short <= own:  # and the other way round
        base = {key: value for key, value in base.items() if key not in table}
    elif own & short and table & set(base):
        got = f"{', '.join(own & short)} alone"
        allowed = f"poles and positions both: {name} is a table of contacts, not a count"
        reading.refuse(like, what, allowed, got=got)
        return node
    extra = tuple((Text(k, like.line), tree_of(v, like.line)) for k, v in base.items() if k not in own)
    return Entries(node.entries + extra, node.line)


def read_part(reading: Reading, node: Node, what: str) -> Part | None:
    """One part; None after a problem that leaves nothing to build.

    Parameters
    ----------
    reading : Reading
        Takes the problems.
    node : Node
        The part's map.
    what : str
        Its name in problems.
    """
    if not isinstance(node, Entries):
        reading.refuse(node, what, "a map with its kind and fields")
        return None
    before = len(reading.problems)
    node = with_library(reading, node, what)
    liked = len(reading.problems) == before
    kind_node = node.get("kind")
    kind = reading.text(kind_node, f"{what}.kind")
    if kind_node is None and liked:
        reading.refuse(
            node, what, f"kind: {', '.join(KINDS)} (or like: a part of the library)", got="no kind"
        )
    if kind is None or kind_node is None:
        return None
    if kind not in KINDS:
        reading.refuse(kind_node, f"{what}.kind", ", ".join(KINDS), hint=reading.guess(kind, KINDS))
        return None
    found = _fields(reading, kind, node, what)
    if liked:  # else what is missing may be what the library's part would have said
        plain_values.require_fields(reading, KINDS[kind], found, node, what)
    if len(reading.problems) > before:
        return None
    part = _BUILD[kind](reading, node, what, found)
    return part if len(reading.problems) == before else None


def _fields(reading: Reading, kind: str, node: Entries, what: str) -> dict[str, Any]:
    """Every field of the part's kind that the file gives, read."""
    table = {field.name: field for field in KINDS[kind]}
    found: dict[str, Any] = {}
    for key, value in node.entries:
        if key.text in _COMMON_NAMES:
            continue
        field = table.get(key.text)
        if field is None:
            known = (*table, *_COMMON_NAMES)
            reading.refuse(key, what, ", ".join(known), hint=reading.guess(key.text, known))
            continue
        found[field.name] = _read(reading, field, value, f"{what}.{field.name}")
    return found


def _read(reading: Reading, field: Field, node: Node, what: str) -> object:
    """One field by its form; a taper stays a node until its midpoint is known."""
    plain: dict[str, Callable[[Reading, Field, Node, str], object]] = {
        "quantity": plain_values.read_quantity,
        "choice": plain_values.read_choice,
        "count": plain_values.read_count,
        "levels": plain_values.read_levels,
    }
    special: dict[str, Callable[[Reading, Node, str], object]] = {
        "eddy": values.read_eddy,
        "lugs": plain_values.read_names,
        "contacts": values.read_contacts,
        "expressions": values.read_expressions,
    }
    if field.form in plain:
        return plain[field.form](reading, field, node, what)
    return special[field.form](reading, node, what) if field.form in special else node


def _coil(reading: Reading, node: Entries, what: str, found: dict[str, Any]) -> Coil:
    signs = {"forward": 1, "reverse": -1, "north": 1, "south": -1}
    optional = {
        "at_m": found.get("at"),
        "aperture_m": found.get("aperture", Coil.aperture_m),
        "sensitivity": found.get("sensitivity", Coil.sensitivity),
        "turns_area": found.get("turns_area", Coil.turns_area),
    }
    return Coil(
        found["resistance"],
        found["inductance"],
        found["capacitance"],
        eddy=found.get("eddy", ()),
        winding=signs[found.get("winding", "forward")],
        magnet=signs[found.get("magnet", "north")],
        string_balance_db=found.get("string_balance", ()),
        **optional,
    )


def _pot(reading: Reading, node: Entries, what: str, found: dict[str, Any]) -> Pot:
    taper_node, midpoint = found.get("taper"), found.get("midpoint")
    if taper_node is None:
        if midpoint is not None:
            reading.refuse(node, what, "a midpoint with taper: audio or reverse audio only", got="midpoint")
        taper = None
    else:
        taper = values.read_taper(reading, taper_node, midpoint, f"{what}.taper")
    return Pot(found["resistance"], taper or linear(), found.get("end_resistance", 0.0))


def _switch(reading: Reading, node: Entries, what: str, found: dict[str, Any]) -> Switch | None:
    table, short = {"lugs", "contacts"} & set(found), {"poles", "positions"} & set(found)
    if (len(table), len(short)) not in ((2, 0), (0, 2)):
        got = ", ".join(sorted(table | short)) or "neither"
        reading.refuse(node, what, "either lugs and contacts, or poles and positions", got=got)
        return None
    if short:
        try:
            return shorthand(found["poles"], found["positions"])
        except InputError as error:
            for problem in error.problems:
                reading.refuse(node, f"{what}: {problem.where}", problem.allowed, got=problem.got)
            return None
    problems = validate(found["lugs"], found["contacts"], what)
    contacts = node.get("contacts") or node
    for problem in problems:
        place = _contact_line(contacts, problem.where) or contacts
        reading.refuse(place, problem.where, problem.allowed, got=problem.got, hint=problem.hint)
    return None if problems else Switch(found["lugs"], found["contacts"])


def _contact_line(contacts: Node, where: str) -> Node | None:
    """The position's own node, if the problem's place names one."""
    if not isinstance(contacts, Entries):
        return None
    return next((key for key, _ in contacts.entries if where.endswith(f"position {key.text}")), None)


_BUILD: dict[str, Callable[[Reading, Entries, str, dict[str, Any]], Part | None]] = {
    "coil": _coil,
    "pot": _pot,
    "capacitor": lambda reading, node, what, found: Capacitor(found["capacitance"]),
    "resistor": lambda reading, node, what, found: Resistor(found["resistance"]),
    "inductor": lambda reading, node, what, found: Inductor(
        found["inductance"], found.get("resistance", 0.0)
    ),
    "switch": _switch,
    "sketch": lambda reading, node, what, found: Sketch(found["positions"]),
    "jack": lambda reading, node, what, found: Jack(),
}
