"""Read what a wiring file says of its drawing: where parts stand, and wires wished for."""

from __future__ import annotations

from dsp.documents import values
from dsp.documents.field import Field
from dsp.documents.tree import Items, Node, Reading, Text
from dsp.parts import fields
from dsp.parts.kind import Terminal
from dsp.wiring.model import Drawn

TURNS = ("0", "1", "2", "3")
_PLACES, _RUNS = fields.DRAWING_FIELDS
_X_Y = "[x, y] or [x, y, turn]"


def read_drawn(reading: Reading, node: Node | None) -> Drawn:
    """Read the drawing's part of a file; nothing if the file has none.

    Names of parts are not checked here: the drawing ignores those that the wiring has not.
    """
    if node is None or _is_empty(node):
        return Drawn()
    given = values.read_map(reading, fields.DRAWING_FIELDS, node, "drawing")
    places: dict[str, tuple[float, float, int]] = {}
    lines: dict[str, int] = {}
    held = given.get("places")
    for key, value in reading.entries(None if _is_empty(held) else held, "drawing.places"):
        place = _place(reading, value, f"drawing.places.{key.text}")
        if place is not None:
            places[key.text], lines[key.text] = place, key.line
    runs: list[tuple[Terminal, Terminal]] = []
    held = given.get("wires")
    for item in reading.items(None if _is_empty(held) else held, "drawing.wires"):
        run = _run(reading, item)
        if run is not None:
            lines[str(len(runs))] = item.line
            runs.append(run)
    return Drawn(places, tuple(runs), lines)


def _is_empty(node: Node | None) -> bool:
    """Whether nothing is written after a key."""
    return isinstance(node, Text) and not node.text


def _place(reading: Reading, node: Node, what: str) -> tuple[float, float, int] | None:
    if not isinstance(node, Items) or len(node.items) not in (2, 3):
        reading.refuse(node, what, _X_Y)
        return None
    x, y = (_coordinate(reading, _PLACES, one, what) for one in node.items[:2])
    turn: str | None = "0"
    if len(node.items) == 3:
        turn = reading.text(node.items[2], what)
        if turn is not None and turn not in TURNS:
            reading.refuse(node.items[2], what, f"a turn of {', '.join(TURNS)}")
            turn = None
    return None if x is None or y is None or turn is None else (x, y, int(turn))


def _coordinate(reading: Reading, field: Field, node: Node, what: str) -> float | None:
    text = reading.text(node, what)
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        reading.refuse(node, what, _X_Y)
        return None
    if not field.lowest <= value <= field.highest:
        reading.refuse(node, what, f"from {field.lowest:g} to {field.highest:g}")
        return None
    return value


def _run(reading: Reading, node: Node) -> tuple[Terminal, Terminal] | None:
    ends = []
    for item in reading.items(node, "drawing.wires"):
        text = reading.text(item, "drawing.wires")
        name, dot, lug = (text or "").partition(".")
        if text is not None and not (name and dot and lug):
            reading.refuse(item, "drawing.wires", "a terminal such as volume.3")
        elif text is not None:
            ends.append((name, lug))
    if isinstance(node, Items) and len(node.items) != 2:
        reading.refuse(
            node, "drawing.wires", "two terminals for each wire", got=f"{len(node.items)} terminals"
        )
    return (ends[0], ends[1]) if len(ends) == 2 else None
