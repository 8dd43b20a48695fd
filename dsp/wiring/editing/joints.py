"""Solder, unsolder, swap leads: edits of the joints."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from dsp.documents.tree import Items, Node, Text
from dsp.errors import InputError
from dsp.parts.kind import Terminal
from dsp.parts.kinds import kind_of, variable_of
from dsp.wiring.editing.document import (
    Document,
    Edited,
    Path,
    Row,
    as_flow,
    as_text,
    flow_list,
    terminal_of,
    texts_of,
)

Changes = list[tuple[Path, str | None]]


def solder(document: Document, first: str, second: str, *, run: bool = False) -> Edited:
    """Solder two terminals: their joints become one, where the first stands.

    Parameters
    ----------
    run : bool
        Note in the drawing that a wire runs from one to the other.

    Raises
    ------
    InputError
        If there is no such terminal, or both are soldered together already.
    """
    a, b = document.require_terminal(first), document.require_terminal(second)
    if a == b:
        raise InputError("solder", f"{first} twice", "two terminals")
    holders = [row for row in document.rows if a in row[1] or b in row[1]]
    if any(a in row and b in row for _, row in holders):
        raise InputError("solder", f"{first} and {second}", "terminals that are not in one joint already")
    whole = list(dict.fromkeys([*(t for _, row in holders for t in row), a, b]))
    if not holders:
        rows: list[Row] = [*document.rows, (document.free_item("joints"), (a, b))]
    else:
        rows = [(n, tuple(whole)) if n == holders[0][0] else (n, row) for n, row in document.rows]
        rows = [row for row in rows if row[0] not in {n for n, _ in holders[1:]}]
    joined = ("their joints are one now",) if len(holders) > 1 else ()
    changes = changes_of(document, rows)
    if run:
        wire = Items((Text(first, 0), Text(second, 0)), 0)
        wires = Items((*document.items("drawing", "wires"), wire), 0)
        changes.append((("drawing", "wires"), as_flow(wires)))
    return Edited(document.with_edits(changes), f"Soldered {first} to {second}", joined)


def unsolder(document: Document, terminal: str) -> Edited:
    """Take a terminal off its joint; a joint of one terminal is none.

    Raises
    ------
    InputError
        If there is no such terminal, or it is not soldered.
    """
    gone = document.require_terminal(terminal)
    if not any(gone in row for _, row in document.rows):
        raise InputError("unsolder", f"{terminal}, which is loose", "a terminal of a joint")
    rows, loose = take_off(document.rows, {gone})
    changes = [*changes_of(document, rows), *drop_drawn_wires(document, {gone})]
    return Edited(document.with_edits(changes), f"Unsoldered {terminal}", loose_notes(loose))


def unsolder_wire(document: Document, first: str, second: str, with_first: Iterable[str]) -> Edited:
    """Take a wire out: its joint falls into what hangs on either end.

    A joint is a set; which terminals a wire holds together is known to whoever drew it. The half with
    more terminals keeps the joint's place in the file. A half of one terminal is loose.

    Parameters
    ----------
    first, second : str
        Terminals at the wire's ends.
    with_first : iterable of str
        Terminals that stay soldered to the first one.

    Raises
    ------
    InputError
        If there is no such terminal, or not all of them are in one joint.
    """
    a, b = document.require_terminal(first), document.require_terminal(second)
    side = {a, *map(document.require_terminal, with_first)}
    rows = _as_one(document.rows, a)
    number, whole = next((row for row in rows if a in row[1]), (-1, ()))
    if b not in whole or b in side:
        raise InputError("unsolder", f"{first} and {second}", "the ends of a wire of one joint")
    if not side <= set(whole):
        others = sorted(as_text(one) for one in side - set(whole))
        raise InputError("unsolder", ", ".join(others), f"terminals of the joint of {first}")
    near = tuple(one for one in whole if one in side)
    far = tuple(one for one in whole if one not in side)
    kept, fallen = (near, far) if len(near) >= len(far) else (far, near)
    left = [(n, kept if n == number else row) for n, row in rows if n != number or len(kept) > 1]
    if len(fallen) > 1:
        left.append((document.free_item("joints"), fallen))
    loose = [half[0] for half in (near, far) if len(half) == 1]
    gone = [wire for wire in document.items("drawing", "wires") if _ends(wire) == {a, b}]
    changes = [*changes_of(document, left), *_drop_wires(document, gone)]
    return Edited(document.with_edits(changes), f"Unsoldered {first} from {second}", loose_notes(loose))


def swap_leads(document: Document, name: str) -> Edited:
    """Exchange both leads of a part, or lugs 1 and 3 of a pot, in every joint.

    Raises
    ------
    InputError
        If the part has no pair of leads, or nothing is soldered to either.
    """
    part = document.require_part(name)
    ends = ("1", "3") if variable_of(part) else kind_of(part).ends()
    if ends is None:
        raise InputError("swap leads", f"'{name}'", "a part with two leads, or a pot")
    first, second = (name, ends[0]), (name, ends[1])
    other = {first: second, second: first}
    rows = [(n, tuple(other.get(t, t) for t in row)) for n, row in document.rows]
    if all(set(new) == set(old) for (_, new), (_, old) in zip(rows, document.rows, strict=True)):
        held = any(first in row for _, row in document.rows)
        got = f"both leads of {name} in one joint" if held else f"{name}, whose leads are loose"
        raise InputError("swap leads", got, "leads in two joints; in a sketch write -" + name)
    word = "lugs 1 and 3" if variable_of(part) else "leads"
    return Edited(document.with_edits(changes_of(document, rows)), f"Swapped the {word} of {name}", part=name)


def take_off(rows: Iterable[Row], gone: Collection[Terminal]) -> tuple[list[Row], list[Terminal]]:
    """Return joints without some terminals, and those that this leaves alone.

    Joints that shared a terminal become one: what was connected through it stays connected.
    """
    left = list(rows)
    for terminal in gone:
        left = _as_one(left, terminal)
    kept = [(n, tuple(t for t in row if t not in gone)) for n, row in left]
    held = {t for _, row in kept if len(row) > 1 for t in row}
    loose = [row[0] for _, row in kept if len(row) == 1 and row[0] not in held]
    return [row for row in kept if len(row[1]) > 1], loose


def changes_of(document: Document, rows: Iterable[Row]) -> Changes:
    """Return the values that make a document's joints these rows."""
    new, old = dict(rows), dict(document.rows)
    found: Changes = [(("joints", str(n)), None) for n in old if n not in new]
    for number, row in new.items():
        if row != old.get(number):
            found.append((("joints", str(number)), flow_list(map(as_text, row))))
    return found


def loose_notes(loose: Collection[Terminal]) -> tuple[str, ...]:
    """Return a note on terminals that are loose now; none without any."""
    if not loose:
        return ()
    return (f"{', '.join(map(as_text, loose))} {'is' if len(loose) == 1 else 'are'} loose now",)


def drop_drawn_wires(document: Document, gone: Collection[Terminal]) -> Changes:
    """Return the value that takes wires of some terminals out of the drawing."""
    return _drop_wires(document, [w for w in document.items("drawing", "wires") if _ends(w) & set(gone)])


def _drop_wires(document: Document, gone: Collection[Node]) -> Changes:
    wires = document.items("drawing", "wires")
    kept = tuple(wire for wire in wires if wire not in gone)
    return [] if len(kept) == len(wires) else [(("drawing", "wires"), as_flow(Items(kept, 0)))]


def _ends(wire: Node) -> set[Terminal]:
    return {terminal_of(text) for text in texts_of(wire)}


def _as_one(rows: Iterable[Row], terminal: Terminal) -> list[Row]:
    """Return joints with those that share a terminal made one, where the first stands."""
    left = list(rows)
    holders = [row for row in left if terminal in row[1]]
    whole = tuple(dict.fromkeys(t for _, row in holders for t in row))
    others = {n for n, _ in holders[1:]}
    return (
        [(n, whole if n == holders[0][0] else row) for n, row in left if n not in others] if holders else left
    )
