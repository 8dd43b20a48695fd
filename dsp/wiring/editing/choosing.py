"""Choose a part of the library, a shaft, a coupling for what is there already."""

from __future__ import annotations

from dsp.documents.tree import Entries, Reading
from dsp.errors import InputError, nearest, some
from dsp.parts.kinds import inductive_of, kind_of, positioned_of, terminals_of, variable_of
from dsp.parts.library.entry import Entry
from dsp.parts.library.index import LIBRARY, fields_left_out
from dsp.parts.switch import Switch
from dsp.wiring.editing.document import Document, Edited, as_flow, at, flow_list, flow_map
from dsp.wiring.editing.joints import Changes, changes_of, loose_notes, take_off
from dsp.wiring.load_maps import unwritten_maps
from dsp.wiring.reading.parts import read_part, tree_of

LOAD = "load"
"""The name by which the library's cables and amplifiers are chosen."""
STAYS = ("at", "winding", "magnet")
"""Fields that a coil keeps: its place, and its part in cancelling hum."""
_TABLE = ("lugs", "contacts", "poles", "positions", "function", "timing", "body")
"""Fields of a switch that another switch replaces."""


def choose(document: Document, name: str, like: str) -> Edited:
    """Make a part one of the library.

    A part that only names an entry names another; any other takes the entry's values.

    A switch takes its lugs and contacts from the entry. Leads stay on lugs of the same name; those of
    other lugs come off. Labels of positions that the new switch has not go.

    Parameters
    ----------
    name : str
        A part, or `LOAD`.
    like : str
        Of the library, of the part's kind.

    Raises
    ------
    InputError
        If there is no such part, or no such entry for it.
    """
    kind = LOAD if name == LOAD and name not in document.parts else kind_of(document.require_part(name)).name
    known = [entry.name for entry in LIBRARY.values() if entry.kind == kind]
    if like not in known:
        raise InputError(
            "like", f"'{like}'", some(known) or f"nothing: the library has no {kind}", nearest(like, known)
        )
    entry = LIBRARY[like]
    words = like.replace("_", " ")
    if kind == "switch":
        return _choose_switch(document, name, entry, words)
    if kind == LOAD:
        return _choose_load(document, entry, words)
    place = ("parts", name)
    node = at(document.tree, *place)
    own = {key.text for key, _ in node.entries} if isinstance(node, Entries) else set()
    fields = {field: value for field, value in entry.fields.items() if field not in STAYS}
    stale = [field for field in fields_left_out(entry) if field in own]
    changes: Changes = [((*place, field), None) for field in stale]
    if "like" in own:
        changes.append(((*place, "like"), like))
    if "like" not in own or own & set(fields):
        changes += [((*place, field), as_flow(tree_of(value, 0))) for field, value in fields.items()]
    notes = (f"couple it with {_pair(entry)}: {entry.coupling:g}",) if entry.pair else ()
    return Edited(document.with_edits(changes), f"{name} like {words} of the library", notes, part=name)


def gang(document: Document, name: str, to: str | None) -> Edited:
    """Put a switch or a pot on a pot's shaft, or on one of its own.

    Raises
    ------
    InputError
        If there is no such part, or no such pot.
    """
    part = document.require_part(name)
    pots = [
        one
        for one, other in document.parts.items()
        if other is not None and variable_of(other) and one != name
    ]
    if not (variable_of(part) or positioned_of(part)):
        raise InputError("shaft", f"'{name}'", "a switch or a pot")
    top = at(document.tree, "ganged", name)
    place = ("parts", name, "ganged") if top is None else ("ganged", name)
    if to is None:
        edits = document.with_edits([(place, None)])
        return Edited(edits, f"{name} has a shaft of its own", part=name)
    if to not in pots:
        raise InputError(
            "shaft", f"'{to}'", some(pots) or "a pot, which this wiring has not", nearest(to, pots)
        )
    edits = document.with_edits([(place, flow_map({"part": to}))])
    return Edited(edits, f"{name} sits on the shaft of {to}", part=name)


def couple(document: Document, first: str, second: str, coefficient: str | None) -> Edited:
    """Set the coupling of two coils, or take it out.

    Parameters
    ----------
    coefficient : str or None
        As a file writes it; None for no coupling.

    Raises
    ------
    InputError
        If there are no such coils, or they have no coupling to take out.
    """
    parts = {name: part for name, part in document.parts.items() if part is not None}
    known = list(inductive_of(parts))
    for name in (first, second):
        if name not in known:
            raise InputError("couple", f"'{name}'", some(known) or "coils", nearest(name, known))
    if first == second:
        raise InputError("couple", f"{first} twice", "two coils")
    if coefficient is not None:
        change = coupling_changes(document, first, second, coefficient)
        return Edited(document.with_edits(change), f"Coupled {first} and {second}: {coefficient}", part=first)
    number = _coupling(document, first, second)
    if number is None:
        raise InputError("couple", f"{first} and {second}", "coils that are coupled")
    edits = document.with_edits([(("couplings", str(number)), None)])
    return Edited(edits, f"{first} and {second} are not coupled", part=first)


def coupling_changes(document: Document, first: str, second: str, coefficient: str) -> Changes:
    """Return the changes that couple two coils, anew or for the first time."""
    number = _coupling(document, first, second)
    if number is not None:
        return [(("couplings", str(number), "coefficient"), coefficient)]
    text = flow_map({"coils": flow_list([first, second]), "coefficient": coefficient})
    return [(("couplings", str(document.free_item("couplings"))), text)]


def _coupling(document: Document, first: str, second: str) -> int | None:
    return next((n for n, coils in document.couplings if set(coils) == {first, second}), None)


def _choose_load(document: Document, entry: Entry, words: str) -> Edited:
    """Take a cable and keep the input, or the other way round; some entries are both."""
    node = at(document.tree, LOAD)
    own = {key.text for key, _ in node.entries} if isinstance(node, Entries) else set()
    present = unwritten_maps(node)
    changes: Changes = []
    if "like" in own:
        changes.append(((LOAD, "like"), entry.name))
    for half, values in entry.fields.items():
        stays = half == entry.keeps
        if stays and half in own:
            continue
        wanted = present[half] if stays else values
        if "like" not in own or half in own or wanted != values:
            changes.append(((LOAD, half), as_flow(tree_of(wanted, 0))))
    kept = (f"the {entry.keeps} stays as it was",) if entry.keeps else ()
    return Edited(document.with_edits(changes), f"load like {words} of the library", kept, part=LOAD)


def _choose_switch(document: Document, name: str, entry: Entry, words: str) -> Edited:
    new = _switch_of(document, name, entry)
    lugs, node = set(terminals_of(new)), at(document.tree, "parts", name)
    own = {key.text for key, _ in node.entries} if isinstance(node, Entries) else set()
    changes: Changes = [(("parts", name, field), None) for field in _TABLE if field in own]
    changes.append((("parts", name, "like"), entry.name))
    gone = {t for _, row in document.rows for t in row if t[0] == name and t[1] not in lugs}
    rows, loose = take_off(document.rows, gone)
    notes = []
    if gone:
        changes += changes_of(document, rows)
        notes.append(f"it has no {', '.join(sorted(lug for _, lug in gone))}: what was there came off")
        notes += loose_notes([t for t in loose if t not in gone])
    if name == document.selector:
        lost = [key for key in document.entries("labels") if key not in new.positions]
        changes += [(("labels", key), None) for key in lost]
        notes += [f"no label for position {', '.join(lost)} any more"] if lost else []
    return Edited(document.with_edits(changes), f"{name} is a {words} now", tuple(notes), part=name)


def _switch_of(document: Document, name: str, entry: Entry) -> Switch:
    """The switch that a part becomes by an entry of the library."""
    part = read_part(Reading("library"), tree_of({"kind": entry.kind, "like": entry.name}, 0), name)
    assert isinstance(part, Switch)  # every entry of the library can be read
    return part


def _pair(entry: Entry) -> str:
    return "its twin" if entry.pair == entry.name else entry.pair.replace("_", " ")
